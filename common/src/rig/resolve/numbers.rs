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
        DeValue::Integer(whole) => whole_number(whole.as_str(), whole.radix()),
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

/// The value of an integer in any base that TOML knows: one check for all of
/// them. `None` when it is too large to be read at all.
fn whole_number(digits: &str, radix: u32) -> Option<f64> {
    match radix {
        10 => digits.parse().ok(),
        _ => u64::from_str_radix(digits, radix).ok().map(|x| x as f64),
    }
}

#[cfg(test)]
mod tests {
    fn problems(number: &str) -> Vec<String> {
        let text = format!("[vehicle]\nname = \"invented\"\n[tank]\nvolume_l = {number}\n");
        match super::super::super::Rig::parse(&text) {
            Ok(_) => Vec::new(),
            Err(e) => e.problems.iter().map(ToString::to_string).collect(),
        }
    }

    #[test]
    fn every_way_to_write_an_integer_is_checked() {
        for large in [
            "9223372036854775807",
            "0x7fff_ffff_ffff_ffff",
            "0o777_777_777_777_777_777",
            "0b111111111111111111111111111111111111111111111111111111111111",
            "0xFFFFFFFFFFFFFFFFFFFF",
            "1e300",
            "inf",
            "nan",
        ] {
            assert!(!problems(large).is_empty(), "{large}");
        }
        for meant in ["12", "0x0C", "0o14", "0b1100", "12.0"] {
            assert!(problems(meant).is_empty(), "{meant}: {:?}", problems(meant));
        }
    }
}
