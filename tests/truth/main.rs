//! The truth bench: simulated cars whose faults are known, run through the
//! recorder and the report, and scored against the truth. All data are invented.

mod bars;
mod car;
mod case;
mod claim;
mod cli;
mod coverage;
mod expect;
mod fault;
mod ideal;
mod leak_limit;
mod matrix;
mod path;
mod rests;
mod score;
mod size_limit;
mod table;
mod week;

use std::process::ExitCode;

fn main() -> ExitCode {
    let options = cli::options();
    let results = score::run(&options);
    let ideal = ideal::efficiency(options.seed, options.ideal_logs);
    let summary = score::Summary::of(&options, &results, ideal);
    print!("{}", table::text(&summary));
    if let Some(file) = &options.rests {
        let lines: String = results.iter().map(|c| c.rests.as_str()).collect();
        std::fs::write(file, rests::HEAD.to_string() + &lines).expect("the file can be written");
    }
    if options.verbose {
        print!("{}", table::each(&results));
    }
    if bars::all_met(&summary) || !options.bars {
        ExitCode::SUCCESS
    } else {
        ExitCode::from(1)
    }
}
