//! `seep bundle`: what somebody else needs to look at a case, in one file to send.

use super::moment;
use crate::cache::Cache;
use crate::model::{Label, Report};
use crate::output::{Destination, OutputError, write_with};
use crate::recording::{Recording, RecordingError, SpanRequest};
use crate::render::units::DisplayUnits;
use crate::render::{Format, RenderOptions, render, text_in};
use std::fmt::Write as _;
use std::io;
use std::path::{Path, PathBuf};

/// Minutes before and after the moment that shows a finding.
const MINUTES: f64 = 15.0;

/// Why there is no bundle.
#[derive(Debug, thiserror::Error)]
pub enum BundleError {
    /// The log cannot be read.
    #[error(transparent)]
    Recording(#[from] RecordingError),
    /// The bundle cannot be written.
    #[error(transparent)]
    Output(#[from] OutputError),
    /// A bundle is there already.
    #[error("{}: exists already; choose another --out", .0.display())]
    Exists(PathBuf),
}

/// A file of the bundle.
struct BundleFile {
    name: String,
    text: String,
}

/// Write a tar archive: the report as text, page and data, the rig, the plan if there is
/// one, and the raw window behind each finding. The same log gives the same bytes.
///
/// # Errors
/// [`BundleError`].
pub fn run(
    log: &Path,
    request: &SpanRequest,
    cache: &Cache,
    plan: Option<&str>,
    units: DisplayUnits,
    out: &Path,
) -> Result<String, BundleError> {
    if out.exists() {
        return Err(BundleError::Exists(out.into()));
    }
    let recording = Recording::open(log, request)?.with_cache(cache.clone());
    let (digest, judgement) = super::judged(&recording)?;
    let report = super::trip::of(&recording, &digest, &judgement);
    let mut parts = report_parts(&report, units);
    parts.push(part("rig.toml", recording.rig_text()?));
    parts.extend(plan.map(|text| part("plan.toml", text.to_string())));
    for (i, finding) in judgement.findings.iter().enumerate() {
        // Not every finding has a moment that shows it.
        if let Some(t_ms) = moment::of_finding(&digest, &judgement, finding) {
            parts.extend(window(log, request, cache, i + 1, t_ms, units)?);
        }
    }
    parts.insert(0, part("READ-ME.txt", contents(&report, &parts, units)));
    let to = Destination::File(out.into());
    write_with(&to, log, &mut |w| packed(&parts, w))?;
    Ok(format!("{} files in {}", parts.len(), out.display()))
}

fn part(name: &str, text: String) -> BundleFile {
    BundleFile {
        name: name.into(),
        text,
    }
}

fn report_parts(report: &Report, units: DisplayUnits) -> Vec<BundleFile> {
    let options = RenderOptions {
        units,
        ..RenderOptions::default()
    };
    let text = render(report, Format::Text, &options);
    vec![
        part(
            "report.txt",
            anstream::adapter::strip_str(&text).to_string(),
        ),
        part("report.html", render(report, Format::Html, &options)),
        part("report.json", render(report, Format::Json, &options)),
    ]
}

/// Readings and changes around the moment that shows a finding.
fn window(
    log: &Path,
    request: &SpanRequest,
    cache: &Cache,
    number: usize,
    t_ms: i64,
    units: DisplayUnits,
) -> Result<Vec<BundleFile>, RecordingError> {
    let around = SpanRequest {
        around_t_ms: Some((t_ms, MINUTES)),
        ..request.clone()
    };
    let recording = Recording::open(log, &around)?.with_cache(cache.clone());
    let report = moment::report(&recording)?;
    let options = RenderOptions {
        units,
        ..RenderOptions::default()
    };
    Ok(vec![
        part(
            &format!("finding-{number}.html"),
            render(&report, Format::Html, &options),
        ),
        part(
            &format!("finding-{number}.csv"),
            render(&report, Format::Csv, &options),
        ),
    ])
}

fn contents(report: &Report, parts: &[BundleFile], units: DisplayUnits) -> String {
    let made_from = &report.made_from;
    let shown = |label: &Label| text_in(&label.into(), units);
    let mut out = format!(
        "{}, from {}\n{}\n\nLog SHA-256 {}\nMade by seep {}\n\n",
        shown(&made_from.vehicle),
        shown(&made_from.log_file),
        text_in(&report.verdict.sentence, units),
        shown(&made_from.log_sha256),
        report.program_version
    );
    for part in parts {
        let _ = writeln!(out, "{:>9} bytes  {}", part.text.len(), part.name);
    }
    let _ = write!(out, "\nCaution: {}\n", crate::findings::AIR_CAUTION);
    out
}

fn packed(parts: &[BundleFile], out: &mut (dyn io::Write + Send)) -> io::Result<()> {
    let mut archive = tar::Builder::new(out);
    for part in parts {
        let mut header = tar::Header::new_gnu();
        header.set_size(part.text.len() as u64);
        header.set_mode(0o644);
        // No clock reading: the same log gives the same bytes.
        header.set_mtime(0);
        archive.append_data(&mut header, &part.name, part.text.as_bytes())?;
    }
    archive.finish()
}
