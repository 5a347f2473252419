//! The tables.

use crate::bars::bars;
use crate::case::Case;
use crate::class::Class;
use crate::coverage::Tally;
use crate::score::{FaultRun, Scored};
use crate::summary::{Summary, sound_coverage};
use std::fmt::Write as _;

/// All tables.
pub(crate) fn text(s: &Summary<'_>) -> String {
    let mut out = head(s);
    for bar in bars(s) {
        let met = match bar.met {
            Some(true) => "met",
            Some(false) => "NOT MET",
            None => "not judged",
        };
        let _ = writeln!(
            out,
            "{:<50} {:<34} {:<17} {met}",
            bar.name, bar.measured, bar.wanted
        );
    }
    classes(&mut out, s);
    coverage(&mut out, s);
    by_size(&mut out, s);
    at_limit(&mut out, s);
    sizes(&mut out, s);
    confusion(&mut out, s);
    by_case(&mut out, s);
    time(&mut out, s);
    out
}

fn head(s: &Summary<'_>) -> String {
    let o = s.options;
    let (first, last) = (o.seed, o.seed + o.cars.saturating_sub(1));
    let weeks = o.cars * u64::from(o.weeks);
    let sort = if first >= 100_000 {
        "scoring"
    } else {
        "tuning"
    };
    let mut how = format!(
        "tests/truth/run --cars {} --weeks {} --seed {first}",
        o.cars, o.weeks
    );
    if let Some(only) = o.only {
        let _ = write!(how, " --only {only}");
    }
    for nuisance in &o.without {
        let _ = write!(how, " --without {nuisance}");
    }
    format!(
        "Truth bench: {} cars × {} weeks = {weeks} sound car-weeks, {sort} seeds {first} to {last}; \
         all data invented.\n{how}\n\n",
        o.cars, o.weeks
    )
}

fn percent(t: &Tally) -> String {
    if t.all == 0 {
        "-".into()
    } else {
        format!("{:.1} % of {}", t.percent(), t.all)
    }
}

fn classes(out: &mut String, s: &Summary<'_>) {
    let _ = writeln!(
        out,
        "\n{:<44} {:>5} {:>15} {:>8} {:>16} {:>15} {:>15}",
        "Class", "weeks", "false findings", "of air", "single rests", "all rests", "lower bounds"
    );
    for class in Class::all() {
        let found = s.false_findings_of(|c| c == class);
        if found.weeks == 0 {
            continue;
        }
        let c = s.coverage_of(|c| c == class);
        let _ = writeln!(
            out,
            "{class:<44} {:>5} {:>15} {:>8} {:>16} {:>15} {:>15}",
            found.weeks,
            format!("{} in {} cars", found.count, found.cars),
            found.of_air,
            percent(&c.rests),
            percent(&c.pooled),
            percent(&c.lower_bounds),
        );
    }
}

fn coverage(out: &mut String, s: &Summary<'_>) {
    let c = &s.coverage;
    let (rests, pooled) = sound_coverage(s);
    out.push_str("\nCoverage of 95 % intervals of leak rates\n");
    let mut row = |name: &str, t: &Tally| {
        let _ = writeln!(
            out,
            "  {name:<34} {:>18}   truth above {:>4}, below {:>4}",
            percent(t),
            t.above,
            t.all - t.held - t.above
        );
    };
    row("single rests", &c.rests);
    row("  of sound cars", &rests);
    row("  tank", &c.tank);
    row("  circuits", &c.circuits);
    row("  while a leak is open", &c.leaking);
    row("  known by two ends", &c.bridged);
    row("  without a temperature", &c.no_temperature);
    row("all rests of a volume", &c.pooled);
    row("  of sound cars", &pooled);
    row("lower bounds (no height)", &c.lower_bounds);
}

fn by_size(out: &mut String, s: &Summary<'_>) {
    out.push_str(
        "\nPlain leaks by true size over the limit printed for the sound car: right first, right \
         anywhere, all\n",
    );
    let plain: Vec<(f64, &FaultRun)> = s
        .faults()
        .filter(|(_, f)| f.run.car.case.is_plain())
        .filter_map(|(_, f)| Some((f.over_limit()?, f)))
        .collect();
    let mut low = 0.0;
    for high in [0.5, 1.0, 2.0, 4.0, 16.0, f64::INFINITY] {
        let inside = plain.iter().filter(|p| p.0 >= low && p.0 < high);
        let first = inside.clone().filter(|p| p.1.right_at() == Some(0)).count();
        let anywhere = inside.clone().filter(|p| p.1.right_at().is_some()).count();
        let _ = writeln!(
            out,
            "  {low:>3} to {high:<4} {first:>4} {anywhere:>4} {:>4}",
            inside.count()
        );
        low = high;
    }
    let (named, all) = s.gauges_only();
    let _ = writeln!(
        out,
        "  gauges only, on its stop or over 3 × limit: {named} of {all}"
    );
    let (fine, beyond) = s.fine_beyond_twice();
    let _ = writeln!(
        out,
        "  called fine beyond twice the tolerable loss: {fine} of {beyond}"
    );
}

fn at_limit(out: &mut String, s: &Summary<'_>) {
    out.push_str(
        "\nLeaks made at the printed limit: named, first, all; median limit, cm³/min ANR\n",
    );
    for (word, tank) in [("corner", false), ("tank", true)] {
        let own = s.cars.iter().filter_map(|c| c.limit.as_ref());
        let own = own.filter(|l| (l.place == "tank") == tank);
        let named = own.clone().filter(|l| l.named).count();
        let first = own.clone().filter(|l| l.first).count();
        let mut limits: Vec<f64> = own.map(|l| l.limit).collect();
        limits.sort_by(f64::total_cmp);
        let median = limits.get(limits.len() / 2).copied().unwrap_or(f64::NAN);
        let _ = writeln!(
            out,
            "  {word:<8} {named:>4} {first:>4} {:>4}   {median:.2}",
            limits.len()
        );
    }
}

/// Slow paths, late valves, wear and drift against the limits claimed.
fn sizes(out: &mut String, s: &Summary<'_>) {
    out.push_str("\nOther faults by true size over the limit claimed: right first of all\n");
    let _ = writeln!(
        out,
        "  {:<22}{:>10}{:>10}{:>10}{:>10}{:>10}",
        "", "0 to 1", "1 to 2", "2 to 4", "more", "no limit"
    );
    for case in Case::FAULTS {
        let own = s.faults().map(|f| f.1).filter(|f| f.run.car.case == case);
        let points: Vec<(Option<f64>, bool)> = own
            .filter_map(|f| {
                let size = f.run.size?;
                Some((size.limit.map(|_| size.ratio()), f.right_at() == Some(0)))
            })
            .collect();
        if points.is_empty() {
            continue;
        }
        let cell = |wanted: &dyn Fn(Option<f64>) -> bool| {
            let inside = points.iter().filter(|p| wanted(p.0));
            let found = inside.clone().filter(|p| p.1).count();
            format!("{found} of {}", inside.count())
        };
        let between = |low: f64, high: f64| cell(&|r| r.is_some_and(|r| r >= low && r < high));
        let _ = writeln!(
            out,
            "  {case:<22}{:>10}{:>10}{:>10}{:>10}{:>10}",
            between(0.0, 1.0),
            between(1.0, 2.0),
            between(2.0, 4.0),
            between(4.0, f64::INFINITY),
            cell(&|r| r.is_none()),
        );
    }
}

fn confusion(out: &mut String, s: &Summary<'_>) {
    out.push_str("\nNamed first\n");
    for (case, row) in s.confusion() {
        let mut cells: Vec<_> = row.iter().collect();
        cells.sort_by_key(|c| std::cmp::Reverse(*c.1));
        let cells: Vec<String> = cells
            .iter()
            .map(|(word, n)| format!("{word} {n}"))
            .collect();
        let _ = writeln!(
            out,
            "  {case:<22} {:>3}   {}",
            row.values().sum::<u64>(),
            cells.join(", ")
        );
    }
}

fn by_case(out: &mut String, s: &Summary<'_>) {
    out.push_str("\nRight fault first / anywhere / cars; wrong findings beside it\n");
    for case in Case::FAULTS {
        let own: Vec<&FaultRun> = s
            .faults()
            .map(|f| f.1)
            .filter(|f| f.run.car.case == case)
            .collect();
        if own.is_empty() {
            continue;
        }
        let first = own.iter().filter(|f| f.right_at() == Some(0)).count();
        let anywhere = own.iter().filter(|f| f.right_at().is_some()).count();
        let wrong: usize = own.iter().map(|f| f.wrong()).sum();
        let _ = writeln!(
            out,
            "  {case:<22} {first:>3} {anywhere:>3} {:>3}   {wrong:>3}",
            own.len()
        );
    }
}

fn time(out: &mut String, s: &Summary<'_>) {
    let runs: Vec<(f64, f64)> = s.cars.iter().map(|c| c.sound.took_s).collect();
    let mean = |pick: fn(&(f64, f64)) -> f64| {
        runs.iter().map(pick).sum::<f64>() / runs.len().max(1) as f64
    };
    let _ = writeln!(
        out,
        "\nPer log: {:.1} s to simulate and record, {:.2} s to judge",
        mean(|t| t.0),
        mean(|t| t.1)
    );
}

/// Lines of one car.
pub(crate) fn lines(c: &Scored) -> String {
    let mut out = String::new();
    let run = &c.sound;
    let said = |run: &crate::score::Run| -> String {
        let each: Vec<String> = run
            .claims
            .iter()
            .map(|c| format!("{}@{}", c.kind.name(), c.place))
            .collect();
        each.join(", ")
    };
    let verdict = if run.claims.is_empty() {
        "quiet"
    } else {
        "ALARM"
    };
    let _ = writeln!(
        out,
        "{} sound {verdict} [{}] cover {}/{} fine {} {:.1}+{:.2} s {{{}; {}}} {}",
        run.car.seed,
        said(run),
        run.coverage.rests.held,
        run.coverage.rests.all,
        run.view.fine,
        run.took_s.0,
        run.took_s.1,
        c.class(),
        run.car.words.join(", "),
        run.claims.first().map_or("", |c| c.sentence.as_str()),
    );
    if let Some(f) = &c.fault {
        let verdict = match f.right_at() {
            Some(0) => "right",
            Some(_) => "right later",
            None if f.run.claims.is_empty() => "silent",
            None => "WRONG",
        };
        let faults = &f.run.car.scenario.faults;
        let places: Vec<&str> = faults.iter().map(|f| f.place.as_str()).collect();
        let number = |x: Option<f64>| x.map_or("-".into(), |x| format!("{x:.2}"));
        let _ = writeln!(
            out,
            "{} {} {verdict}: at {} ({} cm3/min, limit {}, stop {}, {:.1} × tolerable, fine {}) -> \
             [{}] cover {}/{}",
            run.car.seed,
            f.run.car.case,
            places.join("+"),
            number(f.conductance),
            number(f.limit),
            f.reached_stop,
            f.over_tolerable,
            f.run.view.fine,
            said(&f.run),
            f.run.coverage.rests.held,
            f.run.coverage.rests.all,
        );
    }
    if let Some(l) = &c.limit {
        let _ = writeln!(
            out,
            "{} at limit {:.3} at {}: {}",
            run.car.seed,
            l.limit,
            l.place,
            if l.named { "named" } else { "MISSED" }
        );
    }
    out
}
