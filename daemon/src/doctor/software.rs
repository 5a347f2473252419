//! The SQLite inside.

use super::{Finding, Grade};
use seep_common::store::sqlite_version;

/// The first SQLite without the race between a write and a checkpoint that
/// could lose committed pages (SQLite release notes, 3.51.3).
const RACE_FREE: (u32, u32, u32) = (3, 51, 3);

pub(super) fn look() -> Vec<Finding> {
    let text = sqlite_version();
    let mut parts = text.split('.').map(|p| p.parse::<u32>().unwrap_or(0));
    let mut next = || parts.next().unwrap_or(0);
    let version = (next(), next(), next());
    vec![if version >= RACE_FREE {
        Finding::good("SQLite", format!("{text}, built in"))
    } else {
        Finding::new(
            Grade::Bad,
            "SQLite",
            format!("{text}: a write and a checkpoint at the same moment can lose data"),
            "build seepd with its bundled SQLite",
        )
    }]
}
