//! The medium under the log: file system, mount options, space.

use super::{Finding, Grade, Host};
use crate::storage::free_mb;
use std::path::{Path, PathBuf};

/// Below this much space beyond what the rig keeps free, MB, it gets tight.
const TIGHT_MB: u64 = 500;

/// Floor when no rig says what to keep free, MB.
const USUAL_KEEP_FREE_MB: u64 = 256;

struct Mount {
    point: PathBuf,
    kind: String,
    options: String,
}

pub(super) fn look(host: &Host) -> Vec<Finding> {
    let Some(log) = host.log else {
        return Vec::new();
    };
    let folder = log
        .parent()
        .filter(|p| !p.as_os_str().is_empty())
        .unwrap_or(Path::new("."));
    let folder = folder.canonicalize().unwrap_or(folder.into());
    let mut findings = Vec::new();
    match mount_of(host, &folder) {
        Some(mount) => findings.extend(judge(&mount)),
        None => findings.push(Finding::new(
            Grade::Unknown,
            "file system",
            "the mount of the log's folder was not found",
            "look at `findmnt -T FOLDER` for FAT, data=writeback and errors=remount-ro",
        )),
    }
    findings.push(space(host, &folder));
    findings
}

fn mount_of(host: &Host, folder: &Path) -> Option<Mount> {
    let table = host.read("/proc/self/mountinfo")?;
    let line = |line: &str| {
        let (head, tail) = line.split_once(" - ")?;
        let head: Vec<&str> = head.split(' ').collect();
        let mut tail = tail.split(' ');
        let (kind, _device) = (tail.next()?, tail.next()?);
        Some(Mount {
            point: PathBuf::from(unescaped(head.get(4)?)),
            kind: kind.into(),
            options: format!("{},{}", head.get(5)?, tail.next().unwrap_or_default()),
        })
    };
    // The last of the deepest mounts is the one on top.
    table
        .lines()
        .filter_map(line)
        .filter(|m| folder.starts_with(&m.point))
        .enumerate()
        .max_by_key(|(i, m)| (m.point.components().count(), *i))
        .map(|(_, m)| m)
}

/// Spaces and the like are octal in the kernel's table.
fn unescaped(text: &str) -> String {
    text.replace("\\040", " ")
        .replace("\\011", "\t")
        .replace("\\134", "\\")
}

fn judge(mount: &Mount) -> Vec<Finding> {
    let what = format!("file system of {}", mount.point.display());
    let has = |option: &str| mount.options.split(',').any(|o| o == option);
    let mut findings = Vec::new();
    if has("ro") {
        findings.push(Finding::new(
            Grade::Bad,
            what.clone(),
            "mounted read-only",
            "a card that turns read-only is failing: save what is on it, replace it; else mount it writable",
        ));
    }
    match mount.kind.as_str() {
        "vfat" | "msdos" | "exfat" => findings.push(Finding::new(
            Grade::Bad,
            what,
            format!(
                "{}: a power cut can damage it whatever the recorder does",
                mount.kind
            ),
            "keep the log on ext4 or another journalling file system",
        )),
        "ext4" | "ext3" => findings.extend(judge_ext(&what, &has)),
        "tmpfs" | "ramfs" | "overlay" => findings.push(Finding::new(
            Grade::Bad,
            what,
            format!("{}: may be in memory and gone with the power", mount.kind),
            "keep the log on a card or disk",
        )),
        kind => findings.push(Finding::good(what, kind)),
    }
    findings
}

fn judge_ext(what: &str, has: &dyn Fn(&str) -> bool) -> Vec<Finding> {
    let mut findings = Vec::new();
    if has("data=writeback") {
        findings.push(Finding::new(
            Grade::Bad,
            what,
            "data=writeback: after a power cut files can hold old or foreign data",
            "mount with data=ordered (the default)",
        ));
    }
    if has("nobarrier") || has("barrier=0") {
        findings.push(Finding::new(
            Grade::Bad,
            what,
            "without barriers: what was synced may not be on the card",
            "remove nobarrier from the mount options",
        ));
    }
    if !has("errors=remount-ro") && !has("errors=panic") {
        findings.push(Finding::new(
            Grade::Weak,
            what,
            "errors=remount-ro is not set: a failing card is written on",
            "add errors=remount-ro in /etc/fstab, or `tune2fs -e remount-ro`",
        ));
    }
    if findings.is_empty() {
        findings.push(Finding::good(what, "ext4, journalled, stops at errors"));
    }
    findings
}

fn space(host: &Host, folder: &Path) -> Finding {
    let keep = host
        .rig
        .map_or(USUAL_KEEP_FREE_MB, |r| r.recorder.keep_free_mb);
    match free_mb(folder) {
        None => Finding::new(
            Grade::Bad,
            "space",
            format!("{}: is not there or cannot be looked at", folder.display()),
            "make the folder, or give the log another place",
        ),
        Some(free) if free < keep => Finding::new(
            Grade::Bad,
            "space",
            format!("{free} MB free, less than the {keep} MB to be kept"),
            "oldest sessions will be deleted; free space or use a larger card",
        ),
        Some(free) if free < keep + TIGHT_MB => Finding::new(
            Grade::Weak,
            "space",
            format!("{free} MB free, {keep} MB of it to be kept"),
            "a year of two hours a day takes some 300 MB; make room before a long trip",
        ),
        Some(free) => Finding::good("space", format!("{free} MB free")),
    }
}
