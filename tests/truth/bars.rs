//! The bars the project holds itself to.

use crate::summary::Summary;

/// One bar.
#[derive(Debug, Clone)]
pub(crate) struct Bar {
    /// What.
    pub name: String,
    /// Measured, in words.
    pub measured: String,
    /// Wanted, in words.
    pub wanted: &'static str,
    /// Met; `None` when there was nothing to judge.
    pub met: Option<bool>,
}

/// A class is judged from this many intervals on.
const ENOUGH: u64 = 100;

/// Every bar with what was measured.
pub(crate) fn bars(s: &Summary<'_>) -> Vec<Bar> {
    let mut out = vec![
        false_findings(
            s,
            "false findings per 100 sound car-weeks",
            &s.false_findings(),
        ),
        false_findings(
            s,
            "  of them cars with gauges only",
            &s.false_findings_of(crate::class::Class::pressure_only),
        ),
    ];
    let c = &s.coverage;
    out.push(coverage(
        "coverage of 95 % intervals, single rests",
        &c.rests,
    ));
    out.push(coverage("coverage of 95 % intervals, all rests", &c.pooled));
    let (class, worst) = s.worst_class();
    out.push(Bar {
        name: "  least of any class, single rests".into(),
        measured: format!("{worst:.1} % ({class})"),
        wanted: "at least 90 %",
        met: (c.rests.all >= ENOUGH).then_some(worst >= 90.0),
    });
    out.push(share(
        "right place and kind first, above the limit",
        s.above_limit(),
        0.95,
    ));
    out.push(power(s));
    out.push(Bar {
        name: "called fine beyond twice the tolerable loss".into(),
        measured: of(s.fine_beyond_twice()),
        wanted: "none",
        met: (s.fine_beyond_twice().1 > 0).then_some(s.fine_beyond_twice().0 == 0),
    });
    out.push(share(
        "gauges only: reached its stop or over 3 × limit",
        s.gauges_only(),
        0.90,
    ));
    out.push(Bar {
        name: "variance against the Cramér–Rao bound".into(),
        measured: s.efficiency.words(),
        wanted: "at most 1.2",
        met: s.efficiency.met(1.2),
    });
    out
}

fn of((hits, all): (u64, u64)) -> String {
    format!("{hits} of {all}")
}

fn false_findings(s: &Summary<'_>, name: &str, found: &crate::summary::FalseFindings) -> Bar {
    Bar {
        name: name.into(),
        measured: found.words(),
        wanted: "≤ 1, bound ≤ 2.5",
        // A bound says something once there are weeks enough for it.
        met: (found.weeks > 0 && s.options.cars > 0)
            .then(|| found.rate() <= 1.0 && (found.weeks < 120 || found.bound() <= 2.5)),
    }
}

fn coverage(name: &str, tally: &crate::coverage::Tally) -> Bar {
    let percent = tally.percent();
    Bar {
        name: name.into(),
        measured: format!("{percent:.1} % of {}", tally.all),
        wanted: "93 to 97 %",
        met: (tally.all > 0).then_some((93.0..=97.0).contains(&percent)),
    }
}

fn share(name: &str, (hits, all): (u64, u64), least: f64) -> Bar {
    let share = hits as f64 / all.max(1) as f64;
    Bar {
        name: name.into(),
        measured: format!("{:.1} % ({hits} of {all})", 100.0 * share),
        wanted: if least > 0.92 {
            "at least 95 %"
        } else {
            "at least 90 %"
        },
        met: (all > 0).then_some(share >= least),
    }
}

fn power(s: &Summary<'_>) -> Bar {
    let (named, all) = s.at_limit();
    let (low, high) = crate::stats::clopper_pearson_95(named, all);
    let percent = 100.0 * named as f64 / all.max(1) as f64;
    Bar {
        name: "named at the printed limit".into(),
        measured: format!(
            "{percent:.1} % ({named} of {all}; {:.0} to {:.0})",
            100.0 * low,
            100.0 * high
        ),
        wanted: "95 ± 4 %",
        met: (all > 0).then_some((91.0..=99.0).contains(&percent)),
    }
}

/// Every bar that could be judged is met.
pub(crate) fn all_met(s: &Summary<'_>) -> bool {
    bars(s).iter().all(|b| b.met != Some(false))
}
