//! What `seepd match` prints.

use crate::cli::MatchArgs;
use crate::matching::{BusRecord, Candidate, MatchResult, MatchVerdict};
use std::fmt::Write;

/// Mark of a 29 bit identifier in a DBC message number.
const EXTENDED_MARK: u32 = 0x8000_0000;

pub(super) fn text(
    result: &MatchResult,
    bus: &BusRecord,
    readings: usize,
    args: &MatchArgs,
) -> String {
    let mut out = String::new();
    let _ = writeln!(out, "{}", headline(&result.verdict));
    let _ = writeln!(
        out,
        "{readings} readings, {} identifiers, {} fields that change tried",
        bus.identifiers(),
        result.hypotheses
    );
    if let Some(best) = &result.best {
        let _ = writeln!(out, "\nBest        {}", line(best, &args.unit));
        for copy in &result.copies {
            let _ = writeln!(out, "Also in     {}", frame(copy));
        }
        if let Some(next) = &result.runner_up {
            let _ = writeln!(out, "Runner-up   {}", line(next, &args.unit));
            let less = (best.ln_evidence - next.ln_evidence).max(0.0);
            let _ = writeln!(out, "            {} as likely as the best", odds(less));
        }
        let head = match result.verdict {
            MatchVerdict::Found(_) => "For a DBC file:",
            MatchVerdict::MayOnlyFollow(_) => "To try, in a DBC file:",
            _ => return out,
        };
        let _ = write!(out, "\n{head}\n{}", dbc(best, &args.unit));
    }
    out
}

fn headline(verdict: &MatchVerdict) -> String {
    match verdict {
        MatchVerdict::Found(probability) if *probability > 0.9999 => {
            "Found: one signal explains every reading (probability above 99.99 %).".into()
        }
        MatchVerdict::Found(probability) => format!(
            "Found: one signal explains every reading (probability {:.2} %).",
            100.0 * probability
        ),
        MatchVerdict::RunnerUpTooNear(more) => format!(
            "Not decided: two signals explain the readings about as well. About {more} more readings should part them, best while they differ."
        ),
        MatchVerdict::MayOnlyFollow(more) => format!(
            "Not decided: the best one explains every reading, and so might a sensor that only follows the gauge. About {more} more readings, best while it stands still, would settle it."
        ),
        MatchVerdict::TooFewReadings(more) => format!(
            "Not decided: among so many fields the best one could be chance. About {more} more readings are needed, far from the ones there are."
        ),
        MatchVerdict::NothingFits => {
            "Not found: no field explains every reading. The gauge may not be on this bus, a reading or its time may be wrong, or --round and --clock are too small.".into()
        }
    }
}

fn odds(ln: f64) -> String {
    if ln > 14.0 {
        "less than a millionth".into()
    } else if ln < 0.7 {
        "about".into()
    } else {
        format!("1/{:.0}", ln.exp())
    }
}

fn frame(c: &Candidate) -> String {
    let digits = if c.group.extended { 8 } else { 3 };
    let multiplexer = c
        .group
        .multiplexer
        .map_or_else(String::new, |m| format!(", first byte {m:02X}"));
    format!("{:0digits$X}{multiplexer}", c.group.id)
}

fn line(c: &Candidate, unit: &str) -> String {
    format!(
        "{}: {} bits from bit {}, {}{}; {} {unit} per count, {} {unit} at 0; R² {:.4}",
        frame(c),
        c.field.bits,
        c.field.start_bit(),
        if c.field.big_endian {
            "highest byte first"
        } else {
            "lowest byte first"
        },
        if c.field.signed { ", signed" } else { "" },
        significant(c.scale),
        significant(c.offset),
        c.r_squared
    )
}

/// Six digits that count, without zeros behind.
fn significant(value: f64) -> String {
    let text = format!("{value:.5e}");
    text.parse::<f64>().map_or(text, |v| v.to_string())
}

/// The message and its signal.
pub(super) fn dbc(c: &Candidate, unit: &str) -> String {
    let number = if c.group.extended {
        c.group.id | EXTENDED_MARK
    } else {
        c.group.id
    };
    let field = c.field;
    let order = u8::from(!field.big_endian);
    let sign = if field.signed { '-' } else { '+' };
    let (select, mark) = match c.group.multiplexer {
        Some(m) => (
            " SG_ Selector M : 0|8@1+ (1,0) [0|255] \"\" Vector__XXX\n",
            format!(" m{m}"),
        ),
        None => ("", String::new()),
    };
    format!(
        "BO_ {number} Frame_{:X}: 8 Vector__XXX\n{select} SG_ Gauge{mark} : {}|{}@{order}{sign} ({},{}) [0|0] \"{unit}\" Vector__XXX\n",
        c.group.id,
        field.start_bit(),
        field.bits,
        significant(c.scale),
        significant(c.offset),
    )
}
