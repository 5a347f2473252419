//! How far a long reading has come: on stderr, and only on a terminal.

use indicatif::{ProgressBar, ProgressStyle};

/// A bar over sessions; it stays invisible for one session and off a terminal.
pub(crate) fn sessions(count: usize) -> ProgressBar {
    if count < 2 {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::new(count as u64);
    if let Ok(style) = ProgressStyle::with_template("reading session {pos} of {len} [{bar:30}]") {
        bar.set_style(style.progress_chars("=> "));
    }
    bar
}
