//! Serial lines of the rig: there, and readable by this user.

use super::{Finding, Grade, Host};
use seep_common::rig::SourceKind;

pub(super) fn look(host: &Host) -> Vec<Finding> {
    let Some(rig) = host.rig else {
        return Vec::new();
    };
    let mut findings = Vec::new();
    for source in &rig.sources {
        if let SourceKind::Nmea {
            device: Some(device),
            ..
        }
        | SourceKind::Modbus {
            device: Some(device),
            ..
        } = &source.kind
        {
            findings.push(line(host, &source.name, device));
        }
    }
    findings
}

fn line(host: &Host, source: &str, device: &str) -> Finding {
    let what = format!("line of {source}");
    let path = host.file(device);
    if !path.exists() {
        return Finding::new(
            Grade::Bad,
            what,
            format!("{device}: not there"),
            "plug it in; `ls -l /dev/serial/by-id` shows the names that stay",
        );
    }
    let readable = rustix::fs::access(
        &path,
        rustix::fs::Access::READ_OK | rustix::fs::Access::WRITE_OK,
    );
    if readable.is_err() {
        return Finding::new(
            Grade::Bad,
            what,
            format!("{device}: this user may not open it"),
            "add the recorder's user to the group of the device: `usermod -aG dialout seepd`, then start it anew",
        );
    }
    if is_counted_name(device) {
        return Finding::new(
            Grade::Weak,
            what,
            format!("{device}: the number changes with the order of plugging"),
            "use the name below /dev/serial/by-id that points to it",
        );
    }
    Finding::good(what, device)
}

/// Names whose number is given out anew at each plugging.
fn is_counted_name(device: &str) -> bool {
    ["/dev/ttyUSB", "/dev/ttyACM"].iter().any(|stem| {
        device
            .strip_prefix(stem)
            .is_some_and(|n| n.parse::<u32>().is_ok())
    })
}
