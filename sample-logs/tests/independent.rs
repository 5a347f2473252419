//! The simulator's physics is its own: what judges its logs shares none of it.

use std::path::{Path, PathBuf};

/// Words of `seep_common` that carry physics or constants of nature.
const SHARED: [&str; 3] = ["seep_common::physics", "seep_common::units", "seep_report"];

/// Tests that hold the two against each other name both.
const COMPARES: &str = "src/world/tests/agreement.rs";

fn sources(folder: &Path, out: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).expect("a folder of sources") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            sources(&path, out);
        } else if path.extension().is_some_and(|e| e == "rs") {
            out.push(path);
        }
    }
}

#[test]
fn nothing_physical_is_imported_from_what_the_report_uses() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files = Vec::new();
    sources(&root.join("src"), &mut files);
    assert!(files.len() > 40, "{}", files.len());
    for file in files.iter().filter(|f| !f.ends_with(COMPARES)) {
        let text = std::fs::read_to_string(file).expect("text");
        for word in SHARED {
            assert!(!text.contains(word), "{}: {word}", file.display());
        }
        // `use seep_common::{physics…}` in any spelling.
        for line in text.lines().filter(|l| l.contains("seep_common")) {
            let allowed = line.contains("seep_common::codec")
                || line.contains("seep_common::rig")
                // The type of the time that the encoder writes.
                || line.contains("seep_common::time")
                || line.trim_start().starts_with("//");
            assert!(allowed, "{}: {line}", file.display());
        }
    }
    let own = root.join(COMPARES);
    let text = std::fs::read_to_string(own).expect("text");
    assert!(
        text.contains("seep_common::physics"),
        "the comparison is gone"
    );
}
