//! The bars the project holds itself to.

use crate::case::Case;
use crate::score::Summary;

/// One bar.
#[derive(Debug, Clone)]
pub(crate) struct Bar {
    /// What.
    pub name: &'static str,
    /// Measured, in words.
    pub measured: String,
    /// Wanted, in words.
    pub wanted: &'static str,
    /// Met; `None` when there was nothing to judge.
    pub met: Option<bool>,
}

/// Every bar with what was measured.
pub(crate) fn bars(s: &Summary) -> Vec<Bar> {
    let percent = s.coverage.rests.percent();
    let (shown, first) = s.named();
    let share = 100.0 * first as f64 / shown.max(1) as f64;
    let (hidden, by_height) = s.by_height();
    let (cold_rests, cold_claims) = s.cold_falls();
    let (cold, cold_named) = s.conditions(Case::ColdLeak);
    let (dump, dump_named) = s.conditions(Case::AfterDump);
    let of = |found: usize, all: usize| format!("{found} of {all}");
    let all_of = |found: usize, all: usize| (all > 0).then_some(found == all);
    vec![
        Bar {
            name: "coverage of 95 % intervals, single rests",
            measured: format!("{percent:.1} % of {}", s.coverage.rests.all),
            wanted: "93 to 97 %",
            met: (s.coverage.rests.all > 0).then_some((93.0..=97.0).contains(&percent)),
        },
        Bar {
            name: "variance against the Cramér–Rao bound",
            measured: s.efficiency.words(),
            wanted: "at most 1.2",
            met: s.efficiency.met(1.2),
        },
        Bar {
            name: "false alarms per 100 healthy car-weeks",
            measured: format!(
                "{:.1} ({} in {})",
                s.false_alarm_rate(),
                s.false_alarms,
                s.healthy_weeks
            ),
            wanted: "at most 1",
            met: (s.healthy_weeks > 0).then_some(s.false_alarm_rate() <= 1.0),
        },
        Bar {
            name: "right fault first, above the limit",
            measured: format!("{share:.1} % ({})", of(first, shown)),
            wanted: "at least 95 %",
            met: (shown > 0).then_some(share >= 95.0),
        },
        Bar {
            name: "corner leak found by height, pressure fell under 1 %",
            measured: of(by_height, hidden),
            wanted: "all",
            met: all_of(by_height, hidden),
        },
        Bar {
            name: "rests cooling by 15 K on healthy cars called a leak",
            measured: format!("{cold_claims} claims over {cold_rests} rests"),
            wanted: "none",
            met: (cold_rests > 0).then_some(cold_claims == 0),
        },
        Bar {
            name: "cold-only leak named so, above the limit of naming",
            measured: of(cold_named, cold),
            wanted: "all",
            met: all_of(cold_named, cold),
        },
        Bar {
            name: "after-dump leak named so, above the limit of naming",
            measured: of(dump_named, dump),
            wanted: "all",
            met: all_of(dump_named, dump),
        },
    ]
}

/// Every bar that could be judged is met.
pub(crate) fn all_met(s: &Summary) -> bool {
    bars(s).iter().all(|b| b.met != Some(false))
}
