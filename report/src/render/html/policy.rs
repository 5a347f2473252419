//! The content security policy: this page, and nothing else, may run.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use sha2::{Digest, Sha256};

/// A policy that allows one inline style sheet and one inline script by their
/// hashes and forbids every load from anywhere.
///
/// **Source**: W3C Content Security Policy Level 3, sections 2.3.1 (hash
/// sources) and 6.1.
pub(super) fn policy(style: &str, script: &str) -> String {
    format!(
        "default-src 'none'; style-src '{}'; script-src '{}'; base-uri 'none'; form-action 'none'",
        hash(style),
        hash(script)
    )
}

fn hash(text: &str) -> String {
    format!("sha256-{}", STANDARD.encode(Sha256::digest(text)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// W3C Content Security Policy Level 2, section 7.17.1, example of a
    /// script hash: `alert('Hello, world.');`.
    #[test]
    fn hash_agrees_with_the_example_of_the_standard() {
        assert_eq!(
            hash("alert('Hello, world.');"),
            "sha256-qznLcsROx4GACP2dm0UCKCzCG+HiZ1guq6ZZDob/Tng="
        );
    }
}
