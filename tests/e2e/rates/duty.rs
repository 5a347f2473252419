//! Compressors.

use super::car::{Car, Told, rows};
use seep_sample_logs::truth::CompressorRun;

fn compressors(car: &Car) -> Vec<String> {
    car.truth.duty_percent.keys().cloned().collect()
}

fn runs<'a>(car: &'a Car, name: &'a str) -> impl Iterator<Item = &'a CompressorRun> {
    car.truth.runs.iter().filter(move |r| r.compressor == name)
}

fn seconds(run: &CompressorRun) -> f64 {
    (run.end_ms - run.start_ms) as f64 / 1000.0
}

/// (d) Number of runs, running time and duty of the whole trip.
///
/// A switch speaks the moment it changes, in a step of the simulator (0.25 s at
/// most while pumping) at either end. Duty is printed to a tenth. Recorded
/// time before a switch's first word and after its last is unknown to the
/// report and known to the truth: that moves a duty by a percent of itself.
pub(super) fn run_hours_and_duty(car: &Car) {
    let report = car.report("duty");
    for name in compressors(car) {
        let table = rows(&report, &format!("runs-{name}"));
        let count = runs(car, &name).count();
        let told = table[0][1]["value"].as_f64().expect("count");
        assert!(
            (told - count as f64).abs() < 0.5,
            "{} {name}: {told} of {count}",
            car.name
        );
        let on_s: f64 = runs(car, &name).map(seconds).sum();
        let told = table[2][1]["seconds"].as_f64().expect("time");
        assert!(
            (told - on_s).abs() <= 0.5 * count as f64,
            "{} {name}: {told} s of {on_s} s",
            car.name
        );
        let truth = car.truth.duty_percent[&name];
        let trip = &rows(&report, &format!("duty-{name}"))[3];
        let told = Told::of(&trip[2]).expect("known").value;
        assert!(
            (told - truth).abs() <= 0.05 + 0.02 * truth,
            "{} {name}: {told} % of {truth} %",
            car.name
        );
        println!(
            "{} {name}: {count} runs, {on_s:.1} s, {truth:.2} %: told {told} %",
            car.name
        );
    }
}

/// (d) The busiest ten minutes, found from the true runs by trying every window
/// that starts with a run or ends with one. Beside a gap a window counts from 80 % known
/// time on: its duty may be higher, but no ten minutes hold more running than the busiest.
pub(super) fn worst_ten_minutes(car: &Car) {
    const WINDOW_MS: i64 = 600_000;
    let report = car.report("duty");
    for name in compressors(car) {
        let own: Vec<&CompressorRun> = runs(car, &name).collect();
        let inside = |from: i64| -> i64 {
            own.iter()
                .map(|r| (r.end_ms.min(from + WINDOW_MS) - r.start_ms.max(from)).max(0))
                .sum()
        };
        let starts = own.iter().flat_map(|r| [r.start_ms, r.end_ms - WINDOW_MS]);
        let most = starts.map(inside).max().unwrap_or(0);
        let truth = 100.0 * most as f64 / WINDOW_MS as f64;
        let row = &rows(&report, &format!("duty-{name}"))[0];
        let told = Told::of(&row[2]).expect("known").value;
        let coverage = Told::of(&row[3]).expect("known").value;
        let running = told * coverage / 100.0;
        assert!(
            told >= truth - 0.2 && running <= truth + 0.2 && coverage >= 79.9,
            "{} {name}: {told} % of {truth} %, {coverage} % known",
            car.name
        );
    }
}

/// (e) Delivery, where one is told: its level holds the mean over the true runs,
/// and its change over the log has the right sign where a compressor wears. Of
/// compressors that only ran together none is told.
pub(super) fn delivery(car: &Car) {
    let report = car.report("duty");
    for name in compressors(car) {
        let table = rows(&report, &format!("runs-{name}"));
        let Some(row) = table.iter().find(|r| {
            r[0]["text"]
                .as_str()
                .is_some_and(|t| t.starts_with("delivery at"))
        }) else {
            println!(
                "{} {name}: too few undisturbed runs to tell a delivery",
                car.name
            );
            continue;
        };
        let told = Told::of(&row[1]).expect("a rate");
        // The mean over runs, as the report's: not litres over time, in which
        // the long runs of a worn compressor weigh more.
        let rates: Vec<f64> = runs(car, &name)
            .map(|r| 60.0 * r.delivered_anr_l / seconds(r))
            .collect();
        let truth = rates.iter().sum::<f64>() / rates.len() as f64;
        println!("{} {name}: true {truth:.2}, told {told:?} L/min", car.name);
        assert!(
            told.low <= truth && truth <= told.high,
            "{} {name}: {truth} {told:?}",
            car.name
        );
        if car.truth.fault == "compressor_worn" {
            let change = table.iter().find(|r| {
                r[0]["text"]
                    .as_str()
                    .is_some_and(|t| t.starts_with("change of delivery"))
            });
            let change = Told::of(&change.expect("told")[1]).expect("a change");
            assert!(change.high < 0.0, "{}: {change:?}", car.name);
        }
    }
}
