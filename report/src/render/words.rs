//! Cells, times and certainties as words, the same in every renderer.

use jiff::tz::{Offset, TimeZone};
use seep_common::text::is_hidden;

use crate::model::{
    Candidate, Cell, Certainty, Column, Finding, Label, MarkKind, Piece, Report, Text, Unit,
    WallTime,
};
use crate::render::units::DisplayUnits;

use super::number;
use super::scale;
use super::signs::{MISSING, NO_BREAK};

/// Text that came from a log or a rig, made safe to print: control characters
/// could move the cursor or start a terminal command, hidden marks
/// could reorder what is read. Line ends become spaces.
pub(crate) fn clean(label: &Label) -> String {
    made_safe(label.as_written())
}

fn made_safe(text: &str) -> String {
    text.chars()
        .map(|c| match c {
            '\n' | '\r' | '\t' => ' ',
            c if c.is_control() || is_hidden(c) => '\u{fffd}',
            c => c,
        })
        .collect()
}

/// A text in the reader's units, made safe to print.
pub(crate) fn text(text: &Text, units: DisplayUnits) -> String {
    spelled(text, units, made_safe)
}

/// A text in the reader's units, its words as they are.
pub(super) fn spelled(text: &Text, units: DisplayUnits, words: fn(&str) -> String) -> String {
    (text.pieces().iter())
        .map(|piece| match piece {
            Piece::Words(text) => words(text),
            Piece::Quantity(m) => number::phrase(m, units),
            Piece::Change(value, unit) => change(*value, *unit, units),
            Piece::Symbol(unit) => units.shown(*unit).symbol.to_string(),
            Piece::Day(t) => t.at.strftime("%-d\u{a0}%B\u{a0}%Y").to_string(),
        })
        .collect()
}

/// A change without its unit: `-3.2`, `+0.0`.
fn change(value: f64, unit: Unit, units: DisplayUnits) -> String {
    let tenths = (value * units.shown(unit).factor * 10.0).round() / 10.0;
    // Adding zero takes the sign off a rounded negative zero.
    format!("{:+.1}", tenths + 0.0)
}

/// `front_left` as `front left`.
pub(crate) fn place(name: &str) -> String {
    made_safe(name).replace('_', " ")
}

/// `fill rear left`; a place that already says what it is stands alone.
pub(crate) fn mark(kind: MarkKind, name: &str) -> String {
    let place = place(name);
    if place.starts_with(kind.word()) {
        return place;
    }
    format!("{} {place}", kind.word())
}

/// What the sentence on separation begins with: there may be no ranking.
pub(crate) fn separation_lead(finding: &Finding) -> &'static str {
    if finding.candidates.len() < 2 {
        "To be sure"
    } else {
        "To tell the first two apart"
    }
}

/// `once`, `2 times`.
pub(crate) fn times(count: usize) -> String {
    match count {
        1 => "once".to_string(),
        n => format!("{n} times"),
    }
}

/// First letter in upper case.
pub(crate) fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars
        .next()
        .map(|c| c.to_uppercase().chain(chars).collect())
        .unwrap_or_default()
}

/// Column heading with its unit.
pub(crate) fn heading(column: &Column, units: DisplayUnits) -> String {
    let symbol = column.unit.map_or("", |unit| column_symbol(unit, units));
    if symbol.is_empty() {
        return clean(&column.name);
    }
    format!(
        "{} ({})",
        clean(&column.name),
        symbol.replace(' ', "\u{a0}")
    )
}

/// The symbol a column names once; empty when each cell names its own.
fn column_symbol(unit: Unit, units: DisplayUnits) -> &'static str {
    if scale::varies(unit) {
        ""
    } else {
        units.shown(unit).symbol
    }
}

/// A cell in a column whose heading names `column_unit`. A missing value is
/// only its sign; the caller says why where there is room.
pub(crate) fn cell(cell: &Cell, column_unit: Option<Unit>, units: DisplayUnits) -> String {
    match cell {
        Cell::Text { text: words } => text(words, units),
        Cell::Number(m) => {
            let printed = number::print(m, units);
            if column_unit == Some(m.unit) && !scale::varies(m.unit) {
                printed.text
            } else {
                printed.with_unit()
            }
        }
        Cell::Duration { seconds } => scale::duration(*seconds),
        Cell::WallTime(t) => wall_time(t),
        Cell::Missing { .. } => MISSING.to_string(),
    }
}

/// A piece of evidence: number with unit, or `— (why)`.
pub(crate) fn standing_alone(value: &Cell, units: DisplayUnits) -> String {
    match value {
        Cell::Missing { reason } => format!("{MISSING} ({})", text(reason, units)),
        other => cell(other, None, units),
    }
}

/// `2026-03-14 07:31:05`, with the offset where the hour occurs twice and
/// with the clock's uncertainty where it is half a second or more.
pub(crate) fn wall_time(t: &WallTime) -> String {
    let coarse = t.within_s >= 60.0;
    let shape = if coarse {
        "%Y-%m-%d\u{a0}%H:%M"
    } else {
        "%Y-%m-%d\u{a0}%H:%M:%S"
    };
    let mut text = t.at.strftime(shape).to_string();
    if is_repeated_hour(t) {
        text.push_str(&format!("{NO_BREAK}{}", offset_text(t.at.offset())));
    }
    if t.within_s >= 0.5 {
        text.push_str(&format!(
            "{NO_BREAK}±{NO_BREAK}{}",
            scale::duration(t.within_s)
        ));
    }
    text
}

fn is_repeated_hour(t: &WallTime) -> bool {
    let zone = t.at.time_zone();
    let ambiguous = zone.to_ambiguous_timestamp(t.at.datetime());
    ambiguous.is_ambiguous()
}

fn offset_text(offset: Offset) -> String {
    let minutes = offset.seconds() / 60;
    let sign = if minutes < 0 { '−' } else { '+' };
    format!("{sign}{:02}:{:02}", minutes.abs() / 60, minutes.abs() % 60)
}

/// The report's time zone; UTC when its name is not known here.
pub(crate) fn zone_of(report: &Report) -> TimeZone {
    let name = report.made_from.zone.as_written();
    TimeZone::get(name)
        .or_else(|_| jiff::fmt::temporal::DateTimeParser::new().parse_time_zone(name))
        .unwrap_or(TimeZone::UTC)
}

/// `very likely (97 %)`. The percentage is rounded towards doubt.
pub(crate) fn certainty(c: Certainty) -> String {
    match c.percent {
        Some(percent) => format!("{} ({})", c.word.words(), doubtful_percent(percent)),
        None => c.word.words().to_string(),
    }
}

fn doubtful_percent(percent: f64) -> String {
    match percent {
        p if p > 99.0 => format!("over{NO_BREAK}99{NO_BREAK}%"),
        p if p < 1.0 => format!("under{NO_BREAK}1{NO_BREAK}%"),
        p => format!("{:.0}{NO_BREAK}%", p.floor()),
    }
}

/// A candidate's share of the likelihood, rounded.
pub(crate) fn likelihood(c: &Candidate) -> String {
    match c.likelihood * 100.0 {
        p if !p.is_finite() => MISSING.to_string(),
        p if p > 99.0 => format!("over{NO_BREAK}99{NO_BREAK}%"),
        p if p < 1.0 => format!("under{NO_BREAK}1{NO_BREAK}%"),
        p => format!("{p:.0}{NO_BREAK}%"),
    }
}

/// A share from 0 to 1 in percent, never rounded up to 100 or down to 0.
pub(crate) fn share(share: f64) -> String {
    match share * 100.0 {
        p if !p.is_finite() => MISSING.to_string(),
        p if p >= 100.0 => format!("100{NO_BREAK}%"),
        p if p > 99.9 => format!("over{NO_BREAK}99.9{NO_BREAK}%"),
        p if p > 0.0 && p < 0.1 => format!("under{NO_BREAK}0.1{NO_BREAK}%"),
        p => format!("{p:.1}{NO_BREAK}%"),
    }
}

/// `2026-03-14 06:12:00 to 2026-03-28 18:40:00 (Europe/Berlin)`.
pub(crate) fn span(report: &Report) -> String {
    let made_from = &report.made_from;
    match (&made_from.from, &made_from.to) {
        (Some(from), Some(to)) => format!(
            "{} to {} ({})",
            wall_time(from),
            wall_time(to),
            clean(&made_from.zone)
        ),
        _ => "no recorded span".to_string(),
    }
}

/// The same without seconds.
pub(crate) fn span_to_minute(report: &Report) -> String {
    let minute = |t: &crate::model::WallTime| t.at.strftime("%Y-%m-%d %H:%M").to_string();
    let made_from = &report.made_from;
    match (&made_from.from, &made_from.to) {
        (Some(from), Some(to)) => format!(
            "{} to {} ({})",
            minute(from),
            minute(to),
            clean(&made_from.zone)
        ),
        _ => "no recorded span".to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plain(text: &str) -> String {
        text.replace(NO_BREAK, " ")
    }

    #[test]
    fn nothing_from_a_log_can_drive_a_terminal() {
        let evil = "a\u{1b}[31mb\u{9b}2Jc\u{202e}d\r\ne\u{7}";
        let safe = made_safe(evil);
        assert_eq!(safe, "a\u{fffd}[31mb\u{fffd}2Jc\u{fffd}d  e\u{fffd}");
    }

    /// The hour from 02:00 to 03:00 occurs twice on the last Sunday of October
    /// in the European Union (Directive 2000/84/EC, article 3).
    #[test]
    fn the_hour_that_occurs_twice_names_its_offset() {
        let zone = TimeZone::get("Europe/Berlin").expect("bundled");
        let at = |s: &str| {
            let ts: jiff::Timestamp = s.parse().expect("a time");
            WallTime::from_unix_ms(ts.as_millisecond(), &zone).expect("in range")
        };
        let first = plain(&wall_time(&at("2026-10-25T00:30:00Z")));
        let second = plain(&wall_time(&at("2026-10-25T01:30:00Z")));
        assert_eq!(first, "2026-10-25 02:30:00 +02:00");
        assert_eq!(second, "2026-10-25 02:30:00 +01:00");
        let noon = at("2026-10-25T11:00:00Z");
        assert_eq!(plain(&wall_time(&noon)), "2026-10-25 12:00:00");
        let rough = WallTime {
            within_s: 300.0,
            ..noon
        };
        assert_eq!(plain(&wall_time(&rough)), "2026-10-25 12:00 ± 5 min 00 s");
    }

    #[test]
    fn percentages_never_claim_all_or_nothing() {
        let say = |p: f64| plain(&certainty(Certainty::from_probability(p)));
        assert_eq!(say(1.0), "nearly certain (over 99 %)");
        assert_eq!(say(0.9499), "very likely (94 %)");
        assert_eq!(say(0.0), "very unlikely (under 1 %)");
        assert_eq!(say(f64::NAN), "open");
        assert_eq!(plain(&share(0.9999)), "over 99.9 %");
        assert_eq!(plain(&share(1.0)), "100 %");
        assert_eq!(plain(&share(0.0)), "0.0 %");
    }
}
