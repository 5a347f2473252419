//! Hashes that tie a report to its log and a log to its rig.

use super::raw_file::RawFile;
use sha2::{Digest, Sha256};
use std::fmt::Write;
use std::io::Read;
use std::path::Path;

/// SHA-256 of a text, lower-case hex.
#[must_use]
pub fn sha256_hex(text: &str) -> String {
    hex(&Sha256::digest(text.as_bytes()))
}

/// SHA-256 of a file, lower-case hex, read in pieces.
///
/// # Errors
/// The file system's.
pub fn sha256_file(path: &Path) -> std::io::Result<String> {
    let mut file = RawFile::open(path)?;
    let mut state = Sha256::new();
    let mut piece = vec![0_u8; 1 << 16];
    loop {
        let n = file.read(&mut piece)?;
        if n == 0 {
            return Ok(hex(&state.finalize()));
        }
        state.update(&piece[..n]);
    }
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::new(), |mut out, byte| {
        let _ = write!(out, "{byte:02x}");
        out
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// FIPS 180-4 example: SHA-256 of "abc" (from memory).
    #[test]
    fn hashes_the_standard_example() {
        let known = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(sha256_hex("abc"), known);
        let file = tempfile::NamedTempFile::new().expect("temp");
        std::fs::write(file.path(), "abc").expect("write");
        assert_eq!(sha256_file(file.path()).expect("read"), known);
    }
}
