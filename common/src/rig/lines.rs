//! Where in the file an entry of the rig stands.

use super::Rig;
use super::error::line_of;
use toml::de::{DeTable, DeValue};

impl Rig {
    /// Line (from 1) of the entry of an array such as `channel` or `source` that
    /// has this `name`; for messages about an entry that was read without fault.
    ///
    /// ```
    /// use seep_common::rig::Rig;
    /// let rig = Rig::parse("[vehicle]\nname = \"invented\"\n\n[[source]]\nname = \"box\"\nkind = \"nmea\"\n").unwrap();
    /// assert_eq!(rig.line_of("source", "box"), Some(4));
    /// assert_eq!(rig.line_of("channel", "tank_kpa_gauge"), None);
    /// ```
    #[must_use]
    pub fn line_of(&self, array: &str, name: &str) -> Option<usize> {
        let whole = DeTable::parse(&self.text).ok()?;
        let entries = whole.get_ref().get(array)?.get_ref().as_array()?;
        let entry = entries.iter().find(|entry| {
            let table = entry.get_ref().as_table();
            let value = table.and_then(|t| t.get("name"));
            value.and_then(|v| DeValue::as_str(v.get_ref())) == Some(name)
        })?;
        Some(line_of(&self.text, entry.span().start))
    }
}
