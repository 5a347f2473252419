//! All cars together.

use crate::case::Case;
use crate::class::Class;
use crate::cli::Options;
use crate::coverage::{Coverage, Tally};
use crate::expect::is_of_air;
use crate::ideal::Efficiency;
use crate::score::{FaultRun, Scored};
use crate::stats::poisson_upper_95;
use std::collections::BTreeMap;

/// Findings on sound cars.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct FalseFindings {
    /// Findings.
    pub count: u64,
    /// Of them about lost air.
    pub of_air: u64,
    /// Cars with any.
    pub cars: u64,
    /// Weeks the cars were watched.
    pub weeks: u64,
}

impl FalseFindings {
    /// Per 100 car-weeks.
    pub(crate) fn rate(&self) -> f64 {
        100.0 * self.count as f64 / self.weeks.max(1) as f64
    }

    /// Upper 95 % bound of the rate, one-sided, Poisson.
    pub(crate) fn bound(&self) -> f64 {
        100.0 * poisson_upper_95(self.count) / self.weeks.max(1) as f64
    }

    /// For the table.
    pub(crate) fn words(&self) -> String {
        format!(
            "{:.1}, bound {:.1} ({} in {})",
            self.rate(),
            self.bound(),
            self.count,
            self.weeks
        )
    }
}

/// All cars together.
#[derive(Debug)]
pub(crate) struct Summary<'a> {
    /// What was asked for.
    pub options: &'a Options,
    /// Each car.
    pub cars: &'a [Scored],
    /// Coverage over all cars, sound ones and those with faults.
    pub coverage: Coverage,
    /// Variance against the Cramér–Rao bound.
    pub efficiency: Efficiency,
}

impl<'a> Summary<'a> {
    /// Of all cars.
    pub(crate) fn of(options: &'a Options, cars: &'a [Scored], efficiency: Efficiency) -> Self {
        Summary {
            options,
            cars,
            coverage: coverage_of(cars, |_| true),
            efficiency,
        }
    }

    /// Findings on sound cars.
    pub(crate) fn false_findings(&self) -> FalseFindings {
        self.false_findings_of(|_| true)
    }

    /// Findings on sound cars of some classes.
    pub(crate) fn false_findings_of(&self, wanted: impl Fn(Class) -> bool) -> FalseFindings {
        let mut out = FalseFindings::default();
        for car in self.cars.iter().filter(|c| wanted(c.class())) {
            let claims = &car.sound.claims;
            out.count += claims.len() as u64;
            out.of_air += claims.iter().filter(|c| is_of_air(c)).count() as u64;
            out.cars += u64::from(!claims.is_empty());
            out.weeks += u64::from(self.options.weeks);
        }
        out
    }

    /// Coverage of a class.
    pub(crate) fn coverage_of(&self, wanted: impl Fn(Class) -> bool) -> Coverage {
        coverage_of(self.cars, wanted)
    }

    /// The class whose single rests are covered least, of those with enough.
    pub(crate) fn worst_class(&self) -> (String, f64) {
        let each = Class::all().into_iter().filter_map(|class| {
            let tally = self.coverage_of(|c| c == class).rests;
            (tally.all >= 100).then(|| (class.to_string(), tally.percent()))
        });
        each.min_by(|a, b| a.1.total_cmp(&b.1))
            .unwrap_or_else(|| ("none".into(), 100.0))
    }

    /// Cars with faults.
    pub(crate) fn faults(&self) -> impl Iterator<Item = (&Scored, &FaultRun)> {
        self.cars
            .iter()
            .filter_map(|c| Some((c, c.fault.as_ref()?)))
    }

    /// Plain leaks above the printed limit: named first, and all.
    pub(crate) fn above_limit(&self) -> (u64, u64) {
        let all = self.faults().filter(|(_, f)| f.is_above_limit());
        count(all, |f| f.right_at() == Some(0))
    }

    /// Leaks at the printed limit: named, and all.
    pub(crate) fn at_limit(&self) -> (u64, u64) {
        let all = self.cars.iter().filter_map(|c| c.limit.as_ref());
        let named = all.clone().filter(|l| l.named).count() as u64;
        (named, all.count() as u64)
    }

    /// Cars that lose more than twice what is tolerable: called fine, and all.
    pub(crate) fn fine_beyond_twice(&self) -> (u64, u64) {
        let beyond = |f: &FaultRun| {
            let steady = f.run.car.case.is_plain() || f.run.car.case == Case::TwoLeaks;
            // A passing fill valve loses nothing to the outside.
            steady && f.run.car.case != Case::FillPassing && f.over_tolerable > 2.0
        };
        let all = self.faults().filter(|(_, f)| beyond(f));
        count(all, |f| f.run.view.fine)
    }

    /// Leaks of corners without height that reached their stop or lost more than
    /// three times the limit: named, and all.
    pub(crate) fn gauges_only(&self) -> (u64, u64) {
        let all = self.faults().filter(|(car, f)| {
            let corner = matches!(
                f.run.car.case,
                Case::CornerLeak | Case::DumpValveLeak | Case::TwoLeaks | Case::Growing
            );
            let large = f.reached_stop || f.over_limit().is_some_and(|r| r > 3.0);
            car.class().pressure_only() && corner && large
        });
        count(all, |f| f.right_at().is_some())
    }

    /// What was named first, by case and by kind.
    pub(crate) fn confusion(&self) -> BTreeMap<Case, BTreeMap<&'static str, u64>> {
        let mut rows: BTreeMap<Case, BTreeMap<&'static str, u64>> = BTreeMap::new();
        let mut add = |case, first: Option<&crate::claim::Claim>, right: Option<bool>| {
            let word = match (first, right) {
                (None, _) => "nothing",
                (Some(_), Some(true)) => "RIGHT",
                (Some(c), _) => c.kind.name(),
            };
            *rows.entry(case).or_default().entry(word).or_default() += 1;
        };
        for car in self.cars {
            add(Case::None, car.sound.claims.first(), None);
            if let Some(f) = &car.fault {
                let first = f.run.claims.first();
                add(f.run.car.case, first, first.map(|c| f.is_right(c)));
            }
        }
        rows
    }
}

fn count<'a>(
    all: impl Iterator<Item = (&'a Scored, &'a FaultRun)>,
    hit: impl Fn(&FaultRun) -> bool,
) -> (u64, u64) {
    let hits: Vec<bool> = all.map(|(_, f)| hit(f)).collect();
    let found = hits.iter().filter(|h| **h).count();
    (found as u64, hits.len() as u64)
}

fn coverage_of(cars: &[Scored], wanted: impl Fn(Class) -> bool) -> Coverage {
    let mut out = Coverage::default();
    for car in cars.iter().filter(|c| wanted(c.class())) {
        out += car.sound.coverage;
        if let Some(fault) = &car.fault {
            out += fault.run.coverage;
        }
    }
    out
}

/// Coverage of sound cars alone.
pub(crate) fn sound_coverage(s: &Summary<'_>) -> (Tally, Tally) {
    let mut out = Coverage::default();
    for car in s.cars {
        out += car.sound.coverage;
    }
    (out.rests, out.pooled)
}
