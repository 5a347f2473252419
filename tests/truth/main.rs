//! The truth bench: simulated cars whose faults are known, run through the
//! recorder and the report, and scored against the truth. All data are invented.

mod bars;
mod car;
mod case;
mod cases;
mod claim;
mod class;
mod cli;
mod coverage;
mod expect;
mod fault;
mod ideal;
mod ledgers;
mod lifts;
mod move_limits;
mod outcome;
mod path;
mod rests;
mod score;
mod size_limit;
mod stats;
mod summary;
mod table;
mod view;
mod week;

use std::process::ExitCode;

fn main() -> ExitCode {
    let options = cli::options();
    if let Some(name) = &options.cases {
        return if cases::run(name, &options) {
            ExitCode::SUCCESS
        } else {
            ExitCode::from(1)
        };
    }
    if let Some(cars) = options.ledgers {
        return if ledgers::run(cars, &options) {
            ExitCode::SUCCESS
        } else {
            ExitCode::from(1)
        };
    }
    if let Some(cars) = options.move_limits {
        return if move_limits::run(cars, &options) {
            ExitCode::SUCCESS
        } else {
            ExitCode::from(1)
        };
    }
    if let Some(cars) = options.lifts {
        return if lifts::run(cars, &options) {
            ExitCode::SUCCESS
        } else {
            ExitCode::from(1)
        };
    }
    let results = score::run(&options);
    let ideal = ideal::efficiency(options.seed, options.ideal_logs);
    let summary = summary::Summary::of(&options, &results, ideal);
    print!("{}", table::text(&summary));
    if let Some(file) = &options.rests {
        let faults = results.iter().filter_map(|c| c.fault.as_ref());
        let runs = results
            .iter()
            .map(|c| &c.sound)
            .chain(faults.map(|f| &f.run));
        let lines: String = runs.map(|r| r.rests.as_str()).collect();
        std::fs::write(file, rests::HEAD.to_string() + &lines).expect("the file can be written");
    }
    if bars::all_met(&summary) || !options.bars {
        ExitCode::SUCCESS
    } else {
        ExitCode::from(1)
    }
}
