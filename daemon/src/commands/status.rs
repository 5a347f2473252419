//! `seepd status`: what a running recorder says of itself.

mod units;

use crate::cli::StatusArgs;
use crate::clock::{Clock, SystemClock};
use crate::exit::{Exit, Failure};
use crate::run::status::{STALE_S, Status, newest};
use seep_common::channel::Quantity;
use seep_common::store::who_may_read;
use std::fmt::Write as _;
use std::io::Write;
use std::path::Path;
use units::Units;

pub(super) fn run(args: &StatusArgs, out: &mut dyn Write) -> Result<Exit, Failure> {
    let units = Units::of(args)?;
    let path = args.status_file.clone().or_else(newest);
    let path = path.ok_or_else(|| {
        Failure::say(
            Exit::Unavailable,
            "no status file found: no recorder runs here, or give --status-file as it was given to `seepd run`",
        )
    })?;
    let status = Status::read(&path).map_err(|e| unreadable(&path, &e))?;
    let old_s = SystemClock.boot_ms().since(status.boot_ms) as f64 / 1000.0;
    if !(0.0..STALE_S).contains(&old_s) {
        return Err(Failure::say(
            Exit::Unavailable,
            format!(
                "{}: {} old, so the recorder does not run any more",
                path.display(),
                if old_s < 0.0 {
                    "from an earlier boot or".into()
                } else {
                    format!("{old_s:.0} s")
                }
            ),
        ));
    }
    let text = if args.json {
        serde_json::to_string_pretty(&status).map_err(|e| Failure::new(Exit::Io, e))? + "\n"
    } else {
        page(&status, &units)
    };
    let _ = out.write_all(text.as_bytes());
    Ok(if status.is_red() {
        Exit::Finding
    } else {
        Exit::Fine
    })
}

fn unreadable(path: &Path, e: &std::io::Error) -> Failure {
    let path_shown = path.display();
    if e.kind() == std::io::ErrorKind::PermissionDenied {
        let allowed = who_may_read(path);
        return Failure::say(
            Exit::NoInput,
            format!("{path_shown}: this user may not read it; {allowed}"),
        );
    }
    Failure::say(
        Exit::Unavailable,
        format!("{path_shown}: {e}; is `seepd run` running?"),
    )
}

fn page(s: &Status, units: &Units) -> String {
    let mut text = String::new();
    let _ = match &s.trouble {
        None => writeln!(text, "recording to {}", s.log.display()),
        Some(trouble) => writeln!(
            text,
            "NOT WRITING {}: {trouble}\n{} rows wait in memory",
            s.log.display(),
            s.waiting_rows
        ),
    };
    if let Some(changed) = &s.log_changed {
        let _ = writeln!(text, "THE LOG WAS CHANGED: {changed}");
    }
    if let Some(short) = &s.space_short {
        let _ = writeln!(text, "SPACE IS SHORT: {short}");
    }
    if let Some(problem) = &s.rig_problem {
        let _ = writeln!(text, "the rig was not reloaded: {problem}");
    }
    let _ = writeln!(
        text,
        "session {}, {} rows stored, {} lost, last commit {}, {} MB free",
        s.session.map_or("none".into(), |n| n.to_string()),
        s.stored_rows,
        s.lost_rows,
        ago(s.committed_s_ago),
        s.free_mb.map_or("?".into(), |mb| mb.to_string())
    );
    if let Some(mb) = s.held_up_mb {
        let _ = writeln!(
            text,
            "{mb} MB wait beside the log: a program has kept it open for reading for long (`fuser {}` tells which); nothing is lost, and the space comes back when it ends",
            s.log.display()
        );
    }
    if !s.clock_synced {
        let _ = writeln!(text, "clock not synchronised: dates are corrected later");
    }
    text.push('\n');
    for source in &s.sources {
        let state = match &source.lost {
            _ if source.asleep => format!(
                "asleep with the ignition, heard {}",
                ago(source.heard_s_ago)
            ),
            Some(cause) => format!("LOST: {cause}"),
            None => format!("heard {}", ago(source.heard_s_ago)),
        };
        let _ = writeln!(text, "{:<16} {:<10} {state}", source.name, source.kind);
        if let Some(words) = &source.sender_text {
            let _ = writeln!(text, "{:<27} the sender says: {}", "", printable(words));
        }
        if !source.unknown.is_empty() {
            let names: Vec<_> = source.unknown.iter().map(|n| printable(n)).collect();
            let _ = writeln!(
                text,
                "{:<27} feeds no channel of the rig: {}",
                "",
                names.join(", ")
            );
        }
    }
    let _ = writeln!(
        text,
        "\n{:<28} {:>10} {:<6} {:>9} {:>9}",
        "channel", "value", "unit", "age s", "per s"
    );
    for c in &s.channels {
        let (value, unit) = shown(c.value, &c.unit, units);
        let _ = writeln!(
            text,
            "{:<28} {:>10} {:<6} {:>9} {:>9}{}",
            c.name,
            value,
            unit,
            number(c.age_s, 1),
            number(c.rate_hz, 1),
            if c.silent { "  SILENT" } else { "" }
        );
    }
    text
}

/// Value and unit of a channel; a switch is on or off.
fn shown<'a>(value: Option<f64>, unit: &'a str, units: &Units) -> (String, &'a str) {
    if unit == Quantity::Running.unit() {
        let state = value.map_or("-", |v| if v > 0.5 { "on" } else { "off" });
        return (state.into(), "");
    }
    let (value, unit) = units.shown(value, unit);
    (number(value, units.digits(unit)), unit)
}

fn number(x: Option<f64>, digits: usize) -> String {
    x.map_or_else(|| "-".into(), |x| format!("{x:.digits$}"))
}

/// What a wire says must not steer the terminal.
fn printable(words: &str) -> String {
    words
        .chars()
        .map(|c| if c.is_control() { '·' } else { c })
        .collect()
}

fn ago(s: Option<f64>) -> String {
    s.map_or_else(|| "never".into(), |s| format!("{s:.1} s ago"))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// As an older recorder would write it, and with a reader in the way.
    fn shown(held_up: &str) -> String {
        let text = format!(
            r#"{{"layout":"seepd-status/1","pid":1,"boot_ms":0,"wall_ms":0,"clock_synced":true,
            "log":"trip.db","session":1,"trouble":null,"rig_problem":null,"committed_s_ago":1.0,
            "waiting_rows":0,"stored_rows":7,"lost_rows":0,"free_mb":900{held_up},
            "sources":[],"channels":[]}}"#
        );
        let status: Status = serde_json::from_str(&text).expect("a status");
        assert!(!status.is_red(), "a slow reader is no trouble");
        page(&status, &Units::default())
    }

    #[test]
    fn a_switch_is_on_or_off_and_a_pressure_a_number() {
        let units = Units::default();
        for quantity in [Quantity::FillValve, Quantity::DumpValve, Quantity::Running] {
            let of = |value| super::shown(value, quantity.unit(), &units);
            assert_eq!(of(Some(0.0)), ("off".into(), ""));
            assert_eq!(of(Some(1.0)), ("on".into(), ""));
            assert_eq!(of(None), ("-".into(), ""));
        }
        let kpa = super::shown(Some(700.0), "kPa", &units);
        assert_eq!(kpa, ("700.0".into(), "kPa"));
    }

    #[test]
    fn a_reader_that_makes_the_write_ahead_log_grow_is_told() {
        assert!(!shown("").contains("beside the log"));
        let told = shown(",\"held_up_mb\":61");
        assert!(told.contains("61 MB wait beside the log"), "{told}");
        assert!(told.contains("fuser trip.db"), "{told}");
    }
}
