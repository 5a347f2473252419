//! What a plan that can be read may still have wrong.

use super::LimitPlan;
use seep_common::rig::{Rig, RigProblem, line_of_key};

/// Collects the problems of one file.
struct Checks<'a> {
    text: &'a str,
    found: Vec<RigProblem>,
}

impl Checks<'_> {
    fn add(&mut self, at: (&str, usize), key: &str, problem: &str, remedy: &str) {
        self.found.push(RigProblem {
            line: line_of_key(self.text, at.0, at.1, key),
            key: key.into(),
            problem: problem.into(),
            remedy: remedy.into(),
        });
    }

    /// A number above 0.
    fn above_zero(&mut self, at: (&str, usize), key: &str, value: Option<f64>, example: &str) {
        if value.is_some_and(|x| !(x.is_finite() && x > 0.0)) {
            let remedy = format!("write for example `{key} = {example}`");
            self.add(at, key, "is not a number above 0", &remedy);
        }
    }
}

/// Values that make no sense, all of them.
pub(super) fn values(plan: &LimitPlan, text: &str) -> Vec<RigProblem> {
    let mut checks = Checks {
        text,
        found: Vec::new(),
    };
    let limits = plan.hold.len() + plan.cycle.len() + plan.duty.len();
    if limits == 0 && plan.recording.is_none() {
        checks.add(
            ("plan", 0),
            "plan",
            "it sets no limit",
            "add [[hold]], [[cycle]], [[duty]] or [recording]",
        );
    }
    forecast(plan, &mut checks);
    holds(plan, &mut checks);
    cycles(plan, &mut checks);
    for (i, d) in plan.duty.iter().enumerate() {
        let at = ("duty", i);
        checks.above_zero(at, "below_percent", Some(d.below_percent), "33");
        checks.above_zero(at, "window_min", Some(d.window_min), "10");
    }
    let coverage = plan.recording.as_ref().and_then(|r| r.coverage_percent);
    if coverage.is_some_and(|c| !(0.0..=100.0).contains(&c)) {
        checks.add(
            ("recording", 0),
            "coverage_percent",
            "is not between 0 and 100",
            "write for example `coverage_percent = 90`",
        );
    }
    checks.found
}

fn forecast(plan: &LimitPlan, checks: &mut Checks) {
    if plan
        .forecast_hours
        .is_some_and(|h| !(h.is_finite() && h > 0.0))
    {
        let line = checks
            .text
            .lines()
            .position(|l| l.trim_start().starts_with("forecast_hours"));
        checks.found.push(RigProblem {
            line: line.map_or(1, |i| i + 1),
            key: "forecast_hours".into(),
            problem: "is not a number above 0".into(),
            remedy: "write for example `forecast_hours = 24`".into(),
        });
    }
}

fn holds(plan: &LimitPlan, checks: &mut Checks) {
    for (i, h) in plan.hold.iter().enumerate() {
        let at = ("hold", i);
        checks.above_zero(at, "hours", Some(h.hours), "12");
        checks.above_zero(at, "within_mm", h.within_mm, "10");
        checks.above_zero(at, "within_kpa", h.within_kpa, "20");
        match (h.within_mm, h.within_kpa) {
            (None, None) => checks.add(
                at,
                "within_mm",
                "this hold has no limit",
                "add within_mm or within_kpa",
            ),
            (Some(_), Some(_)) => checks.add(
                at,
                "within_kpa",
                "stands beside within_mm",
                "make two holds of it",
            ),
            _ => {}
        }
    }
}

fn cycles(plan: &LimitPlan, checks: &mut Checks) {
    for (i, c) in plan.cycle.iter().enumerate() {
        let at = ("cycle", i);
        if c.times == 0 {
            checks.add(at, "times", "is 0", "write for example `times = 10`");
        }
        checks.above_zero(at, "fill_under_s", c.fill_under_s, "8");
        checks.above_zero(at, "dump_under_s", c.dump_under_s, "8");
        if c.fill_under_s.is_none() && c.dump_under_s.is_none() {
            checks.add(
                at,
                "fill_under_s",
                "this cycle has no limit",
                "add fill_under_s or dump_under_s",
            );
        }
    }
}

/// Places that the rig does not have, all of them.
pub(super) fn places(plan: &LimitPlan, rig: &Rig, text: &str) -> Vec<RigProblem> {
    let all = || std::iter::once("all".to_string());
    let circuits: Vec<String> = all()
        .chain(rig.circuits.iter().map(|c| c.name.clone()))
        .collect();
    let tank = rig.tank.as_ref().map(|_| "tank".to_string());
    let volumes: Vec<String> = circuits.iter().cloned().chain(tank).collect();
    let compressors: Vec<String> = all()
        .chain(rig.compressors.iter().map(|c| c.name.clone()))
        .collect();
    let named = (plan.hold.iter().enumerate())
        .map(|(i, h)| ("hold", i, "place", &h.place, &volumes))
        .chain(
            (plan.cycle.iter().enumerate())
                .map(|(i, c)| ("cycle", i, "place", &c.place, &circuits)),
        )
        .chain(
            (plan.duty.iter().enumerate())
                .map(|(i, d)| ("duty", i, "compressor", &d.compressor, &compressors)),
        );
    named
        .filter(|(.., word, known)| !known.contains(word))
        .map(|(table, i, key, word, known)| {
            let problem = format!("there is no `{word}` in the rig of this log");
            RigProblem::unknown_word(line_of_key(text, table, i, key), key, &problem, word, known)
        })
        .collect()
}
