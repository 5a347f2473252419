//! `instruction-count`: a guard against code that has become slow. Instructions
//! instead of seconds, because a busy machine does not change them.

mod baseline;
mod cases;
mod cli;
mod counting;

use baseline::{Baseline, Judged};
use cases::Places;
use std::process::ExitCode;

/// Why there is no answer.
#[derive(Debug)]
enum Failure {
    /// Wrong use.
    Use(String),
    /// The noted counts cannot be read or written.
    Data(String),
    /// Nothing can be judged here.
    Unavailable(String),
    /// A program could not be run to its end.
    Run(String),
}

fn main() -> ExitCode {
    let (code, why) = match run(&cli::options()) {
        Ok(0) => return ExitCode::SUCCESS,
        Ok(wrong) => (
            1,
            format!("{wrong} grown too much or without a count noted; see --renew"),
        ),
        Err(Failure::Use(why)) => (2, why),
        Err(Failure::Data(why)) => (65, why),
        Err(Failure::Unavailable(why)) => (69, why),
        Err(Failure::Run(why)) => (70, why),
    };
    eprintln!("instruction-count: {why}");
    ExitCode::from(code)
}

/// The number of cases that have grown too much, or have nothing to be held against.
fn run(options: &cli::Options) -> Result<u32, Failure> {
    if !counting::possible() {
        let why = "valgrind is missing (on Debian: apt install valgrind)";
        return Err(Failure::Unavailable(why.into()));
    }
    let mut here = Baseline::of_this_compiler()?;
    let noted = match options.renew {
        true => here.clone(),
        false => Baseline::read(&options.baseline)?,
    };
    let scratch = seep_tests::scratch::scratch();
    let places = Places {
        programs: &options.programs,
        scratch: scratch.path(),
    };
    let mut wrong = 0;
    for case in places.cases(&options.only)? {
        let mut counts = Vec::new();
        for _ in 0..options.times.max(1) {
            counts.push(counting::count(&case)?);
        }
        counts.sort_unstable();
        let count = counts[counts.len() / 2];
        let judged = noted.judge(case.name, count, options.most);
        tell(case.name, &counts, judged);
        wrong += u32::from(!matches!(judged, Judged::Within(_)));
        here.instructions.insert(case.name.into(), count);
    }
    if options.renew {
        if !options.only.is_empty() {
            here.keep_others(&options.baseline);
        }
        return here.write(&options.baseline).map(|()| 0);
    }
    match noted.differs(&here) {
        Some(why) => Err(Failure::Unavailable(format!("not judged: {why}"))),
        None => Ok(wrong),
    }
}

/// One line: the count, its ratio to the one noted, the scatter of the runs.
fn tell(case: &str, counts: &[u64], judged: Judged) {
    let count = counts[counts.len() / 2];
    let ratio = match judged {
        Judged::Within(ratio) => format!("{ratio:.3} of the count noted"),
        Judged::Grown(ratio) => format!("{ratio:.3} of the count noted: GROWN"),
        Judged::New => "NONE NOTED".into(),
    };
    print!(
        "{case:14} {:8.1} M instructions, {ratio}",
        count as f64 / 1e6
    );
    if let (Some(least), Some(greatest)) = (counts.first(), counts.last())
        && counts.len() > 1
    {
        let apart = (greatest - least) as f64 / count as f64;
        print!("; {} runs, {:.3} % apart", counts.len(), 100.0 * apart);
    }
    println!();
}
