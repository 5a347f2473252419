//! Every key a plan file may hold, for its reference page.

use seep_common::file_key::FileKey;

const H: &str = "[[hold]]";
const C: &str = "[[cycle]]";
const D: &str = "[[duty]]";
const R: &str = "[recording]";

/// Keys of the plan, table by table, in the order of the file.
pub const PLAN_KEYS: &[FileKey] = &[
    FileKey::new(
        "",
        "name",
        "text",
        "needed",
        "What the proof is for.",
        "name = \"Autumn show\"",
    ),
    FileKey::new(
        "",
        "signatures",
        "list of texts",
        "[\"Builder\", \"Witness\"]",
        "Who signs.",
        "signatures = [\"Builder\"]",
    ),
    FileKey::new(
        "",
        "forecast_hours",
        "h",
        "the longest hold",
        "How far ahead the forecast looks.",
        "forecast_hours = 12",
    ),
    FileKey::new(
        H,
        "place",
        "circuit, tank, all",
        "needed",
        "What must hold.",
        "place = \"all\"",
    ),
    FileKey::new(H, "hours", "h", "needed", "For how long.", "hours = 8"),
    FileKey::new(
        H,
        "within_mm",
        "mm",
        "one of the two",
        "Within this change of height, cooling and sun included.",
        "within_mm = 10",
    ),
    FileKey::new(
        H,
        "within_kpa",
        "kPa",
        "one of the two",
        "Within this change of pressure, cooling included; of a corner only by lost air.",
        "within_kpa = 20",
    ),
    FileKey::new(
        C,
        "place",
        "circuit, all",
        "needed",
        "What must be raised and lowered.",
        "place = \"front_left\"",
    ),
    FileKey::new(
        C,
        "times",
        "count",
        "needed",
        "Cycles of one fill and one dump, at least.",
        "times = 20",
    ),
    FileKey::new(
        C,
        "fill_under_s",
        "s",
        "no limit",
        "Every fill faster than this.",
        "fill_under_s = 3",
    ),
    FileKey::new(
        C,
        "dump_under_s",
        "s",
        "no limit",
        "Every dump faster than this.",
        "dump_under_s = 3",
    ),
    FileKey::new(
        D,
        "compressor",
        "compressor, all",
        "needed",
        "What must not run more.",
        "compressor = \"compressor_1\"",
    ),
    FileKey::new(
        D,
        "below_percent",
        "%",
        "needed",
        "Duty in the worst window.",
        "below_percent = 33",
    ),
    FileKey::new(
        D,
        "window_min",
        "min",
        "needed",
        "Length of that window.",
        "window_min = 10",
    ),
    FileKey::new(
        R,
        "unexplained_gaps",
        "count",
        "needed",
        "Stretches without data and without a noted cause, at most.",
        "unexplained_gaps = 0",
    ),
    FileKey::new(
        R,
        "coverage_percent",
        "%",
        "no limit",
        "Share of the span that was recorded, at least.",
        "coverage_percent = 95",
    ),
    FileKey::new(
        R,
        "causes",
        "list of texts",
        "[\"power off\", \"source silent\", \"asleep with the ignition\"]",
        "Causes that explain a gap.",
        "causes = [\"power off\"]",
    ),
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::proof::LimitPlan;

    fn parser_knows(table: &str) -> Vec<String> {
        let text = match table {
            "" => "zzz = 1\n".to_string(),
            _ => format!("name = \"x\"\n{table}\nzzz = 1\n"),
        };
        let error = toml::from_str::<LimitPlan>(&text).expect_err("a key nobody knows");
        let quoted = error.message().split('`').skip(1).step_by(2).skip(1);
        let mut known: Vec<String> = quoted.map(String::from).collect();
        assert!(!known.is_empty(), "{table}: {}", error.message());
        known.sort();
        known
    }

    #[test]
    fn the_reference_has_every_key_of_the_parser_and_no_other() {
        for table in ["", H, C, D, R] {
            let own = PLAN_KEYS.iter().filter(|k| k.table == table);
            let mut keys: Vec<String> = own.map(|k| k.key.into()).collect();
            if table.is_empty() {
                keys.extend([H, C, D, R].map(|t| t.trim_matches(['[', ']']).to_string()));
            }
            keys.sort();
            assert_eq!(keys, parser_knows(table), "{table}");
        }
    }

    #[test]
    fn examples_are_toml() {
        for key in PLAN_KEYS {
            let parsed: toml::Table = toml::from_str(key.example).expect(key.example);
            assert_eq!(parsed.keys().collect::<Vec<_>>(), [key.key]);
        }
    }

    #[test]
    fn defaults_are_those_of_the_parser() {
        let plan: LimitPlan =
            toml::from_str("name = \"x\"\n[recording]\nunexplained_gaps = 0\n").expect("a plan");
        let said = |key: &str| PLAN_KEYS.iter().find(|k| k.key == key).expect(key).default;
        assert_eq!(said("signatures"), format!("{:?}", plan.signatures));
        assert_eq!(
            said("causes"),
            format!("{:?}", plan.recording.expect("given").causes)
        );
    }
}
