//! Which serial lines and CAN interfaces this computer has.

use std::collections::BTreeSet;
use std::path::Path;

/// `ARPHRD_CAN` of the Linux headers (`linux/if_arp.h`).
const CAN_LINK: &str = "280";

/// Stems of devices that are lines to something; plain `ttyS` ports are mostly
/// not wired, or the console.
const STEMS: [&str; 4] = ["ttyUSB", "ttyACM", "ttyAMA", "rfcomm"];

/// Serial lines, by the name that stays when there is one. `root` is `/`, or a
/// test's folder.
pub(crate) fn ports(root: &Path) -> Vec<String> {
    let mut found = Vec::new();
    let mut reached = BTreeSet::new();
    for folder in ["dev/serial/by-id", "dev"] {
        for name in names(&root.join(folder)) {
            let path = root.join(folder).join(&name);
            let is_line = folder != "dev" || STEMS.iter().any(|stem| name.starts_with(stem));
            let device = std::fs::canonicalize(&path).unwrap_or_else(|_| path.clone());
            if is_line && reached.insert(device) {
                found.push(path.display().to_string());
            }
        }
    }
    found
}

/// CAN interfaces by name.
pub(crate) fn interfaces(root: &Path) -> Vec<String> {
    let folder = root.join("sys/class/net");
    let is_can = |name: &String| {
        let kind = std::fs::read_to_string(folder.join(name).join("type"));
        kind.is_ok_and(|kind| kind.trim() == CAN_LINK)
    };
    names(&folder).into_iter().filter(is_can).collect()
}

fn names(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let mut names: Vec<String> = entries
        .filter_map(|e| e.file_name().into_string().ok())
        .collect();
    names.sort();
    names
}
