//! Instructions of one run, counted by valgrind's callgrind.

use crate::Failure;
use crate::cases::Case;
use std::process::Command;

/// True when there is a valgrind to count with.
pub(crate) fn possible() -> bool {
    let asked = Command::new("valgrind").arg("--version").output();
    asked.is_ok_and(|done| done.status.success())
}

/// Run a case, count its instructions.
///
/// One thread for the column engine and nothing of the caller's surroundings:
/// what remains from run to run is the seed of hash tables and the clock.
pub(crate) fn count(case: &Case) -> Result<u64, Failure> {
    if let Some(made) = &case.makes {
        for ending in ["", "-wal", "-shm", "-journal"] {
            let _ = std::fs::remove_file(format!("{}{ending}", made.display()));
        }
    }
    let done = Command::new("valgrind")
        .args(["--tool=callgrind", "--callgrind-out-file=/dev/null"])
        .arg(&case.program)
        .args(&case.args)
        .env_clear()
        .envs(std::env::var_os("PATH").map(|path| ("PATH", path)))
        .envs([("TZ", "UTC"), ("LC_ALL", "C"), ("NO_COLOR", "1")])
        .env("POLARS_MAX_THREADS", "1")
        .output()
        .map_err(|e| Failure::Run(format!("valgrind: {e}")))?;
    let said = String::from_utf8_lossy(&done.stderr);
    let counted = done.status.success().then(|| collected(&said)).flatten();
    counted.ok_or_else(|| {
        Failure::Run(format!(
            "{}: valgrind {} {} ended with {}: {}",
            case.name,
            case.program.display(),
            case.args.join(" "),
            done.status,
            said.trim()
        ))
    })
}

/// The total of callgrind's summary, `==123== Collected : 552947383`.
fn collected(said: &str) -> Option<u64> {
    said.lines()
        .filter_map(|line| line.split_once("Collected :"))
        .find_map(|(_, number)| number.trim().parse().ok())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_total_is_read_from_the_summary() {
        let said = "trip.db: 3 rows\n==7== Events    : Ir\n==7== Collected : 552947383\n==7== \n";
        assert_eq!(collected(said), Some(552_947_383));
        assert_eq!(collected("==7== Collected : \n"), None);
    }
}
