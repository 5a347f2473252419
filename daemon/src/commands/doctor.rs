//! `seepd doctor`: what the machine lacks, and what to do.

use crate::cli::DoctorArgs;
use crate::doctor::{Finding, Grade, Host, examine};
use crate::exit::{Exit, Failure};
use crate::rig_file;
use std::fmt::Write as _;
use std::io::Write;
use std::path::Path;

pub(super) fn run(args: &DoctorArgs, out: &mut dyn Write) -> Result<Exit, Failure> {
    let rig = match &args.rig {
        Some(path) => Some(rig_file::load(path)?.0),
        None => None,
    };
    let findings = examine(&Host {
        root: Path::new("/"),
        rig: rig.as_ref(),
        log: args.log.as_deref(),
    });
    let mut text = page(&findings);
    if args.rig.is_none() || args.log.is_none() {
        text.push_str("\nGive --rig and --log to look at buses, lines and the medium too.\n");
    }
    let _ = out.write_all(text.as_bytes());
    let bad = findings.iter().any(|f| f.grade == Grade::Bad);
    Ok(if bad { Exit::Finding } else { Exit::Fine })
}

/// The worst first; what is good in one line each.
fn page(findings: &[Finding]) -> String {
    let mut sorted: Vec<&Finding> = findings.iter().collect();
    sorted.sort_by_key(|f| std::cmp::Reverse(f.grade));
    let mut text = String::new();
    for f in sorted {
        let _ = writeln!(text, "{:<8} {}: {}", f.grade.word(), f.what, f.seen);
        if !f.remedy.is_empty() {
            let _ = writeln!(text, "         -> {}", f.remedy);
        }
    }
    text
}
