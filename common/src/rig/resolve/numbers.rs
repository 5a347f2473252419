//! Numbers that no vehicle has: not finite, or of a size that only a slip of the
//! pen gives. Refused in one place, so that no key is forgotten.

use super::Problems;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Smallest and largest size of a number in a rig; 0 is fine.
const SIZES: std::ops::RangeInclusive<f64> = 1e-12..=1e12;

/// Note every number of the text that cannot be meant.
pub(super) fn sane(text: &str, problems: &mut Problems) {
    // The text has been parsed before; errors have been told.
    if let Ok(table) = DeTable::parse(text) {
        walk_table(table.get_ref(), "", problems);
    }
}

fn walk_table(table: &DeTable<'_>, within: &str, problems: &mut Problems) {
    for (key, value) in table {
        let key = match within {
            "" => key.get_ref().to_string(),
            table => format!("{table}.{}", key.get_ref()),
        };
        walk(value, &key, problems);
    }
}

/// The depth of nesting is bounded by the parser.
fn walk(value: &Spanned<DeValue<'_>>, key: &str, problems: &mut Problems) {
    let number = match value.get_ref() {
        DeValue::Table(table) => return walk_table(table, key, problems),
        DeValue::Array(items) => return items.iter().for_each(|item| walk(item, key, problems)),
        DeValue::Float(float) => float.as_str().parse::<f64>().ok(),
        DeValue::Integer(whole) if whole.radix() == 10 => whole.as_str().parse().ok(),
        _ => return,
    };
    let sane = number.is_some_and(|x| x == 0.0 || SIZES.contains(&x.abs()));
    if !sane {
        let written = number.map_or_else(|| "this number".into(), |x| format!("{x:e}"));
        problems.add(
            value.span().start,
            key,
            format!("{written} cannot be meant"),
            "give a number of a size that is measured, in the unit of the key's name",
        );
    }
}
