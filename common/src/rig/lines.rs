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

/// Line (from 1) of a key of a TOML text: in entry `index` of the array of tables
/// `table`, or in the table of that name. Of the entry where it lacks the key, and 1
/// where there is no such entry.
///
/// ```
/// use seep_common::rig::line_of_key;
/// let text = "name = \"x\"\n[[hold]]\nhours = 3\n[[hold]]\nplace = \"all\"\nhours = 4\n";
/// assert_eq!(line_of_key(text, "hold", 1, "hours"), 6);
/// assert_eq!(line_of_key(text, "hold", 1, "within_mm"), 4);
/// assert_eq!(line_of_key(text, "duty", 0, "window_min"), 1);
/// ```
#[must_use]
pub fn line_of_key(text: &str, table: &str, index: usize, key: &str) -> usize {
    let Ok(whole) = DeTable::parse(text) else {
        return 1;
    };
    let Some(value) = whole.get_ref().get(table) else {
        return 1;
    };
    let entry = match value.get_ref() {
        DeValue::Array(items) => items.get(index),
        _ => Some(value),
    };
    let Some(entry) = entry else {
        return line_of(text, value.span().start);
    };
    let keys = entry
        .get_ref()
        .as_table()
        .into_iter()
        .flat_map(|t| t.iter());
    let mut own = keys.filter(|(name, _)| name.get_ref().as_ref() == key);
    let at = own
        .next()
        .map_or_else(|| entry.span(), |(name, _)| name.span());
    line_of(text, at.start)
}
