//! The log: whether it can be added to, and by this version.

use super::{Finding, Grade, Host};
use seep_common::store::{Reader, SCHEMA_VERSION, StoreError};

pub(super) fn look(host: &Host) -> Vec<Finding> {
    let Some(log) = host.log else {
        return Vec::new();
    };
    let what = log.display().to_string();
    vec![match Reader::open(log) {
        Err(StoreError::NotFound { .. }) => Finding::good(what, "not there yet; will be made"),
        Err(e @ StoreError::NewerSchema { .. }) => Finding::new(
            Grade::Bad,
            what,
            e.to_string(),
            "install the newer seepd, or record to another file",
        ),
        Err(e @ StoreError::Damaged { .. }) => Finding::new(
            Grade::Bad,
            what,
            e.to_string(),
            "the recorder will set it aside and begin a new one; `seep verify --salvage` saves what can be read",
        ),
        Err(e) => Finding::new(Grade::Bad, what, e.to_string(), "record to another file"),
        Ok(reader) if reader.schema_version() < SCHEMA_VERSION => Finding::new(
            Grade::Weak,
            what,
            format!(
                "schema {}, this program writes {SCHEMA_VERSION}",
                reader.schema_version()
            ),
            "nothing to do: the next recording copies it aside and migrates it",
        ),
        Ok(reader) => Finding::good(what, format!("schema {}", reader.schema_version())),
    }]
}
