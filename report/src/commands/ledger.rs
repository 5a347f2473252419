//! Where the air went: the ledger of a span, of its days, and what the compressor ran for.

use crate::analysis::air::Vessel;
use crate::analysis::estimate::Estimate;
use crate::analysis::ledger::{
    Ledger, LedgerInput, VolumeEntry, balance, idle_load_percent, leak_share,
};
use crate::digest::{Digest, PlaceChannels};
use crate::findings::{measured, place_words};
use crate::judgement::Judgement;
use crate::model::{Cell, Column, Measured, Section, Table, Text, Unit};
use crate::recording::Recording;
use seep_common::channel::Quantity;

/// Days listed one by one: the last ones.
const MOST_DAYS: usize = 31;

const DAY_S: f64 = 86_400.0;

/// Table of the whole span, table of its days, and notes.
pub(super) fn section(recording: &Recording, digest: &Digest, judgement: &Judgement) -> Section {
    let mut section = Section::new("ledger", "Where the air went");
    if let Some(why) = unbalanced(digest) {
        section.notes.push(format!("No ledger: {why}.").into());
        return section;
    }
    let books = Books::new(recording, digest, judgement);
    let Some((from_s, to_s)) = books.span_s() else {
        section
            .notes
            .push("No ledger: nothing stood still for long enough.".into());
        return section;
    };
    let whole = books.of((from_s, to_s));
    if whole.volumes.iter().all(|v| v.place != "tank") {
        section
            .notes
            .push("No ledger: the tank needs two quiet moments.".into());
        return section;
    }
    section.tables.push(volumes(&whole));
    let days = books.days(recording, from_s, to_s);
    if days.rows.len() > 1 {
        section.tables.push(days);
    }
    section.tables.push(shares(digest, &whole));
    section
        .notes
        .extend(whole.volumes.iter().filter_map(remainder).map(Text::from));
    if digest.unmeasured_moves > 0 {
        section.notes.push(
            format!(
                "{} openings of valves could not be measured; their air is unexplained here.",
                digest.unmeasured_moves
            )
            .into(),
        );
    }
    section
}

/// What is missing to keep books.
fn unbalanced(digest: &Digest) -> Option<String> {
    let blind = |place: &str| {
        let own = digest.vessel(place);
        let moved = digest.moves.iter().any(|m| m.place == place);
        let seen = |m: &&crate::analysis::moves::Move| m.place == place && m.mm.is_none();
        moved && (own.is_none_or(|v| !v.follows_height()) || digest.moves.iter().any(|m| seen(&m)))
    };
    let tank = digest.vessel("tank");
    if tank.is_none_or(Vessel::is_relative) {
        return Some("the rig gives no volume of the tank".into());
    }
    let places = digest.vessels.iter().map(|v| v.place.as_str());
    let blind: Vec<String> = places
        .filter(|p| *p != "tank" && blind(p))
        .map(place_words)
        .collect();
    (!blind.is_empty()).then(|| {
        format!(
            "how much air lifts {} is not known without a height and the volume by height",
            blind.join(", ")
        )
    })
}

struct Books<'a> {
    digest: &'a Digest,
    judgement: &'a Judgement,
    runs: Vec<crate::analysis::delivery::Run>,
    own_thermometers: Vec<String>,
}

impl<'a> Books<'a> {
    fn new(recording: &Recording, digest: &'a Digest, judgement: &'a Judgement) -> Self {
        let mut runs: Vec<_> = digest
            .compressors
            .iter()
            .flat_map(|c| c.runs.iter().copied())
            .collect();
        runs.sort_by_key(|r| r.from_ms);
        let rig = &recording.rig;
        let own = |place: &str| {
            let channel = rig.channel_at(place, Quantity::Temperature);
            let used = PlaceChannels::of(rig, place).temperature;
            channel.is_some_and(|c| Some(&c.name) == used.as_ref())
        };
        let places = digest.vessels.iter().map(|v| v.place.clone());
        Books {
            digest,
            judgement,
            runs,
            own_thermometers: places.filter(|p| own(p)).collect(),
        }
    }

    /// From the first to the last reading at rest, log time s.
    fn span_s(&self) -> Option<(f64, f64)> {
        let points = || {
            self.digest
                .rests
                .iter()
                .flat_map(|r| &r.points)
                .map(|p| p.t_s)
        };
        Some((points().reduce(f64::min)?, points().reduce(f64::max)?))
    }

    fn of(&self, window_s: (f64, f64)) -> Ledger {
        balance(&LedgerInput {
            vessels: &self.digest.vessels,
            rests: &self.digest.rests,
            moves: &self.digest.moves,
            runs: &self.runs,
            leaks: &self.judgement.leaks,
            own_thermometers: &self.own_thermometers,
            window_s,
        })
    }

    fn days(&self, recording: &Recording, from_s: f64, to_s: f64) -> Table {
        let mut table = Table::new(
            "ledger-days",
            "The tank, day by day from the first quiet moment, the newest first",
            vec![
                Column::text("from"),
                Column::number("delivered", Unit::AnrLitres),
                Column::number("moved to corners", Unit::AnrLitres),
                Column::number("leaked", Unit::AnrLitres),
                Column::number("unexplained", Unit::AnrLitres),
            ],
        );
        let days = ((to_s - from_s) / DAY_S).ceil() as usize;
        for day in (days.saturating_sub(MOST_DAYS)..days).rev() {
            let begin = from_s + DAY_S * day as f64;
            let ledger = self.of((begin, (begin + DAY_S).min(to_s)));
            let Some(tank) = ledger.volumes.iter().find(|v| v.place == "tank") else {
                continue;
            };
            let mut row = vec![super::head::wall_cell(recording, (1000.0 * begin) as i64)];
            row.extend([tank.came, tank.went, tank.leaked, tank.unexplained].map(|e| litres(&e)));
            table.push(row);
        }
        table
    }
}

fn litres(e: &Estimate) -> Cell {
    Cell::Number(measured(e, Unit::AnrLitres))
}

fn volumes(ledger: &Ledger) -> Table {
    let mut table = Table::new(
        "ledger",
        "Air of each volume, between its first and its last quiet moment: change = came − went − \
         leaked + unexplained",
        vec![
            Column::text("volume"),
            Column::number("change", Unit::AnrLitres),
            Column::number("came", Unit::AnrLitres),
            Column::number("went by valves", Unit::AnrLitres),
            Column::number("leaked", Unit::AnrLitres),
            Column::number("unexplained", Unit::AnrLitres),
        ],
    );
    for v in &ledger.volumes {
        let mut row = vec![Cell::text(&place_words(&v.place))];
        let all = [v.change, v.came, v.went, v.leaked, v.unexplained];
        row.extend(all.map(|e| litres(&e)));
        table.push(row);
    }
    table
}

fn shares(digest: &Digest, ledger: &Ledger) -> Table {
    let mut table = Table::new(
        "ledger-share",
        "What the compressor ran for",
        vec![
            Column::text("quantity"),
            Column::number("share", Unit::Percent),
        ],
    );
    let share = leak_share(ledger).map(|s| measured(&s.percent, Unit::Percent));
    let moves = share.map(|s| {
        let rest = |v: f64| 100.0 - v;
        Measured::estimate(
            rest(s.value),
            s.high.map_or(0.0, rest),
            s.low.map_or(100.0, rest),
            Unit::Percent,
        )
    });
    let none = "nothing leaked and nothing was vented";
    table.push(vec![
        Cell::text("air for leaks"),
        Cell::number_or(share, none),
    ]);
    table.push(vec![
        Cell::text("air for moves"),
        Cell::number_or(moves, none),
    ]);
    for c in &digest.compressors {
        let idle = idle_load_percent(&c.timeline, &digest.moves);
        table.push(vec![
            Cell::text(&format!(
                "{}: time on load without a move, 100·T/(T + t)",
                place_words(&c.place)
            )),
            Cell::number_or(
                idle.map(|p| Measured::exact(p, Unit::Percent)),
                "no half hour without a move",
            ),
        ]);
    }
    table
}

/// A remainder this many standard errors from zero is named.
const NAMED_AT: f64 = 3.3;

fn remainder(v: &VolumeEntry) -> Option<String> {
    let (value, se) = (v.unexplained.value, v.unexplained.se);
    (value.abs() > NAMED_AT * se && se > 0.0).then(|| {
        let more = if value > 0.0 { "more" } else { "less" };
        format!(
            "The books of {} do not close: it holds {:.1} L {more} than they say. Usual causes: a \
             wrong volume in the rig, a sensor that drifts, a valve that is not recorded, a leak \
             that is open only now and then.",
            place_words(&v.place),
            value.abs()
        )
    })
}
