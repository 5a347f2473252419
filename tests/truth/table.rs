//! The table.

use crate::bars::bars;
use crate::case::Case;
use crate::coverage::Tally;
use crate::expect::condition;
use crate::matrix::Matrix;
use crate::score::{Scored, Summary};
use crate::size_limit::Size;
use std::fmt::Write as _;

/// The whole table.
pub(crate) fn text(s: &Summary) -> String {
    let mut out = String::new();
    let o = s.options;
    let first = o.seed;
    let last = first + o.cars.saturating_sub(1);
    let weeks = o.cars * u64::from(o.weeks);
    let use_of = if first >= 100_000 {
        "scoring"
    } else {
        "tuning"
    };
    let only = o
        .only
        .as_ref()
        .map_or_else(String::new, |w| format!(" --only {w}"));
    let _ = writeln!(
        out,
        "Truth bench: {} cars × {} weeks = {weeks} car-weeks, {use_of} seeds {first} to {last}; all data invented.\n\
         tests/truth/run --cars {} --weeks {} --seed {first}{only}\n",
        o.cars, o.weeks, o.cars, o.weeks
    );
    for bar in bars(s) {
        let met = match bar.met {
            Some(true) => "met",
            Some(false) => "NOT MET",
            None => "not judged",
        };
        let _ = writeln!(
            out,
            "{:<54} {:<30} {:<14} {met}",
            bar.name, bar.measured, bar.wanted
        );
    }
    coverage(&mut out, s);
    limits(&mut out, s);
    sizes(&mut out, s);
    out.push_str("\nNamed first (cars whose log can show the fault, and healthy cars)\n");
    for line in Matrix::of(s.cars).lines() {
        let _ = writeln!(out, "  {line}");
    }
    right(&mut out, s);
    out
}

fn coverage(out: &mut String, s: &Summary) {
    let c = &s.coverage;
    out.push_str("\nCoverage of 95 % intervals of leak rates\n");
    let mut row = |name: &str, t: &Tally| {
        let _ = writeln!(
            out,
            "  {name:<34} {:>6.1} % of {:>6}   truth above {:>4}, below {:>4}",
            t.percent(),
            t.all,
            t.above,
            t.all - t.held - t.above
        );
    };
    row("single rests", &c.rests);
    row("  tank", &c.tank);
    row("  circuits", &c.circuits);
    row("  while a leak is open", &c.leaking);
    row("  over a power-off gap", &c.bridged);
    row("  without a temperature", &c.no_temperature);
    row("all rests of a volume", &c.pooled);
    row("lower bounds (no height)", &c.lower_bounds);
}

fn limits(out: &mut String, s: &Summary) {
    out.push_str(
        "\nLeaks against the detection limit claimed (α = β = 5 %, not below 5 kPa a day)\n",
    );
    let points: Vec<(f64, f64, f64, bool)> = s
        .cars
        .iter()
        .filter_map(|c| {
            let limit = c
                .expected
                .as_ref()?
                .limit
                .filter(|l| l.two_sided && l.enough)?;
            let found = c.right_at().is_some();
            Some((
                limit.ratio(),
                limit.true_cm3_min,
                limit.limit_cm3_min,
                found,
            ))
        })
        .collect();
    let mut low = 0.0;
    for high in [0.5, 1.0, 2.0, 4.0, f64::INFINITY] {
        let inside = points.iter().filter(|p| p.0 >= low && p.0 < high);
        let found = inside.clone().filter(|p| p.3).count();
        let _ = writeln!(
            out,
            "  {low:>3} to {high:<4} times the limit: found {found} of {}",
            inside.count()
        );
        low = high;
    }
    let smallest = points
        .iter()
        .filter(|p| p.3)
        .min_by(|a, b| a.1.total_cmp(&b.1));
    if let Some((_, size, limit, _)) = smallest {
        let _ = writeln!(
            out,
            "  smallest leak found: {size:.3} cm³/min ANR, limit claimed {limit:.3}"
        );
    }
}

/// Slow paths, late valves and wear against the limits claimed.
fn sizes(out: &mut String, s: &Summary) {
    out.push_str(
        "\nOther faults against the limit claimed: found of all, by true size over limit\n\
         \x20                        0 to 0.5  0.5 to 1    1 to 2    2 to 4      more   no limit   \
         median limit   above it\n",
    );
    for case in Case::FAULTS {
        let of = |c: &Scored| Some((c.expected.as_ref()?.size?, c.is_right()));
        let own = s.cars.iter().filter(|c| c.car.case == case);
        let points: Vec<(Size, bool)> = own.filter_map(of).collect();
        if points.is_empty() {
            continue;
        }
        let cell = |wanted: &dyn Fn(&Size) -> bool| {
            let inside = points.iter().filter(|p| wanted(&p.0));
            let found = inside.clone().filter(|p| p.1).count();
            format!("{found} of {}", inside.count())
        };
        let between = |low: f64, high: f64| {
            cell(&|p: &Size| {
                p.limit.is_some() && p.ratio() < high && (p.ratio() >= low || low == 0.0)
            })
        };
        let mut limits: Vec<f64> = points.iter().filter_map(|p| p.0.limit).collect();
        limits.sort_by(f64::total_cmp);
        let above = points.iter().filter(|p| p.0.ratio() >= 1.0).count();
        let unit = match case {
            Case::Late => "ms",
            Case::ZeroDrift => "kPa",
            _ => "%",
        };
        let median = limits.get(limits.len() / 2);
        let median = median.map_or("none".into(), |limit| format!("{limit:.0} {unit}"));
        let _ = writeln!(
            out,
            "  {case:<22}{:>10}{:>10}{:>10}{:>10}{:>10}{:>11}{median:>15}{:>11}",
            between(0.0, 0.5),
            between(0.5, 1.0),
            between(1.0, 2.0),
            between(2.0, 4.0),
            between(4.0, f64::INFINITY),
            cell(&|p: &Size| p.limit.is_none()),
            format!("{above} of {}", points.len()),
        );
    }
}

fn right(out: &mut String, s: &Summary) {
    out.push_str("\nRight fault first / anywhere / cars that can show it / cars\n");
    for case in Case::FAULTS {
        let all: Vec<&Scored> = s.cars.iter().filter(|c| c.car.case == case).collect();
        let shown: Vec<&&Scored> = all.iter().filter(|c| c.detectable()).collect();
        let first = shown.iter().filter(|c| c.is_right()).count();
        let anywhere = shown.iter().filter(|c| c.right_at().is_some()).count();
        if !all.is_empty() {
            let _ = writeln!(
                out,
                "  {case:<22} {first:>3} {anywhere:>3} {:>3} {:>3}",
                shown.len(),
                all.len()
            );
        }
    }
}

/// One line per car.
pub(crate) fn each(cars: &[Scored]) -> String {
    cars.iter()
        .fold("\n".to_string(), |out, c| out + &line(c) + "\n")
}

/// One car.
pub(crate) fn line(c: &Scored) -> String {
    let verdict = match (&c.expected, c.claims.is_empty()) {
        (None, true) => "quiet",
        (None, false) => "ALARM",
        (Some(e), _) if c.is_right() && e.detectable => "right",
        (Some(_), _) if c.is_right() => "right (below limit)",
        (Some(e), _) if e.detectable => "WRONG",
        (Some(_), true) => "silent (below limit)",
        (Some(_), false) => "other (below limit)",
    };
    let expected = c
        .expected
        .as_ref()
        .map_or_else(String::new, |e| format!("at {} ({})", e.place, e.remark));
    let claims: Vec<String> = c
        .claims
        .iter()
        .map(|c| format!("{}@{}", c.kind.name(), c.place))
        .collect();
    let unnamed = condition(c.car.case).is_some_and(|w| c.claims.iter().all(|c| c.condition != w));
    let said = if unnamed || matches!(verdict, "ALARM" | "WRONG") {
        c.claims.first().map_or("", |c| c.sentence.as_str())
    } else {
        ""
    };
    format!(
        "{} {} {verdict}: {expected} -> [{}] cover {}/{} {:.1} s {{{}}} {said}",
        c.car.seed,
        c.car.case,
        claims.join(", "),
        c.coverage.rests.held,
        c.coverage.rests.all,
        c.took_s,
        c.car.words.join(", ")
    )
}
