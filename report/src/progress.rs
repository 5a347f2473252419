//! How far a long reading has come: on stderr, and only on a terminal.

use indicatif::{ProgressBar, ProgressStyle};

/// A bar over sessions; it stays invisible for one session and off a terminal.
pub(crate) fn sessions(count: usize) -> ProgressBar {
    bar(count, "reading session {pos} of {len} [{bar:30}]")
}

/// A bar over the logs of a folder.
pub(crate) fn logs(count: usize) -> ProgressBar {
    bar(count, "judged {pos} of {len} logs [{bar:30}]")
}

fn bar(count: usize, template: &str) -> ProgressBar {
    if count < 2 {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::new(count as u64);
    if let Ok(style) = ProgressStyle::with_template(template) {
        bar.set_style(style.progress_chars("=> "));
    }
    bar
}
