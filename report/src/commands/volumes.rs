//! `seep volumes`: volume and effective area of each corner from its fills.

use super::head;
use crate::analysis::segment::{Busy, OnSpan, on_spans};
use crate::analysis::volumes::{
    CircuitView, GroupVolume, HeatModel, LeftOut, SessionView, Solution, TankView, Transfer,
    TransferSets, solve_with_heat, transfers,
};
use crate::digest::{PlaceChannels, ambient_by_rig, pressure_series, series, valve_spans, vessels};
use crate::findings::place_words;
use crate::model::{Cell, Column, Measured, Report, Section, Severity, Table, Text, Unit, Verdict};
use crate::recording::Session;
use crate::recording::{Recording, RecordingError};
use seep_common::channel::Quantity;
use seep_common::rig::Rig;
use seep_common::store::{Columns, EventKind};
use seep_common::units::ICE_POINT_K;

/// A volume whose 95 % interval is wider than ± this share is no volume to paste.
const MOST_HALF_WIDTH: f64 = 0.25;

/// Difference between two bags of one type on an axle, one standard deviation; common
/// practice, no source.
const SIDES_SHARE: f64 = 0.02;

/// Transfers listed one by one: the last ones.
const MOST_LISTED: usize = 200;

/// The report.
///
/// # Errors
/// The log cannot be read.
pub fn report(recording: &Recording) -> Result<Report, RecordingError> {
    let rig = &recording.rig;
    let mut left_out = LeftOut::default();
    let mut sets = TransferSets::new();
    recording.each_frame(|session, frame| {
        add_session(recording, session, frame, &mut sets, &mut left_out);
    })?;
    let all = sets.usual();
    let tank = vessels(rig).into_iter().find(|v| v.place == "tank");
    let tank_l = rig.tank.as_ref().and_then(|t| t.volume_l);
    let found = tank
        .zip(tank_l)
        .and_then(|(tank, litres)| best(&sets, litres, tank.volume_uncertainty, rig));
    let verdict = verdict(all, found.as_ref(), tank_l, rig);
    let mut report = head::report(
        recording,
        "volumes",
        "Volumes of the corners",
        verdict,
        None,
    );
    if let Some(found) = &found {
        report.sections.push(summary(found, rig));
        if let Some(lines) = rig_lines(found, rig) {
            report.sections.push(lines);
        }
    }
    report.sections.push(list(recording, all, found.as_ref()));
    report.notes.extend(notes(&left_out, found.as_ref()));
    Ok(report)
}

/// Volumes and how circuits were grouped.
struct FoundVolumes {
    solution: Solution,
    /// Group of each circuit.
    group_of: Vec<usize>,
    /// Circuits of an axle are taken as alike.
    by_axle: bool,
}

impl FoundVolumes {
    fn of_circuit(&self, circuit: usize) -> Option<GroupVolume> {
        let group = *self.group_of.get(circuit)?;
        *self.solution.groups.get(group)?
    }

    /// Every circuit has a volume that is known well enough.
    fn is_known(&self) -> bool {
        (0..self.group_of.len()).all(|c| self.of_circuit(c).is_some_and(is_known))
    }
}

fn is_known(volume: GroupVolume) -> bool {
    let area = volume.area_cm2.is_none_or(|a| a.value > 0.0);
    volume.volume_l.value > 0.0 && area && volume.relative_half_width() <= MOST_HALF_WIDTH
}

/// Each circuit on its own where the fills tell them apart, else by axle.
fn best(sets: &TransferSets, tank_l: f64, tank_share: f64, rig: &Rig) -> Option<FoundVolumes> {
    let alone: Vec<usize> = (0..rig.circuits.len()).collect();
    let solved = |group_of: Vec<usize>, by_axle| {
        let solution = solve_with_heat(sets, tank_l, tank_share, &group_of)?;
        Some(FoundVolumes {
            solution,
            group_of,
            by_axle,
        })
    };
    let own = solved(alone, false);
    if own.as_ref().is_some_and(FoundVolumes::is_known) {
        return own;
    }
    let mut paired = solved(axles(rig), true);
    for group in paired
        .iter_mut()
        .flat_map(|p| &mut p.solution.groups)
        .flatten()
    {
        group.volume_l = group
            .volume_l
            .with_known_error(SIDES_SHARE * group.volume_l.value);
    }
    if paired.as_ref().is_some_and(FoundVolumes::is_known) {
        return paired;
    }
    own.or(paired)
}

/// Circuits of one axle in one group; one without an axle on its own.
fn axles(rig: &Rig) -> Vec<usize> {
    let mut names: Vec<&str> = Vec::new();
    (rig.circuits.iter())
        .map(|c| {
            let name = c.axle.as_deref().unwrap_or(&c.name);
            names.iter().position(|n| *n == name).unwrap_or_else(|| {
                names.push(name);
                names.len() - 1
            })
        })
        .collect()
}

fn add_session(
    recording: &Recording,
    session: &Session,
    frame: &Columns,
    sets: &mut TransferSets,
    left_out: &mut LeftOut,
) {
    let rig = &recording.rig;
    let bounds_ms = (session.start.t_ms, session.end_t_ms);
    let spans = |kind| valve_spans(recording, kind, bounds_ms.0, bounds_ms.1);
    let (fills, dumps) = (spans(EventKind::Fill), spans(EventKind::Dump));
    let runs: Vec<OnSpan> = (rig.compressors.iter())
        .flat_map(|c| {
            on_spans(
                &recording.events,
                EventKind::Run,
                &c.name,
                bounds_ms.0,
                bounds_ms.1,
            )
        })
        .collect();
    let driving = frame
        .column("vehicle_kmh")
        .map(|kmh| Busy::from_driving(&frame.t_ms, kmh))
        .unwrap_or_default();
    let ambient = ambient_kpa_abs(frame, rig);
    let tank = PlaceChannels::of(rig, "tank");
    let circuits = (rig.circuits.iter().zip(&fills).zip(&dumps))
        .map(|((circuit, fills), dumps)| {
            let channels = PlaceChannels::of(rig, &circuit.name);
            CircuitView {
                fills,
                dumps,
                kpa_abs: pressure_series(frame, rig, &circuit.name, ambient),
                mm: series(frame, channels.height.as_deref(), 0.0),
                kelvin: series(frame, channels.temperature.as_deref(), ICE_POINT_K),
            }
        })
        .collect();
    let view = SessionView {
        circuits,
        runs,
        tank: TankView {
            kpa_abs: pressure_series(frame, rig, "tank", ambient),
            kelvin: series(frame, tank.temperature.as_deref(), ICE_POINT_K),
            own_kelvin: rig.channel_at("tank", Quantity::Temperature).is_some(),
        },
        driving: &driving,
        bounds_ms,
    };
    sets.add(|heat| {
        let mut out = LeftOut::default();
        let found = transfers(&view, heat, &mut out);
        if heat == HeatModel::default() {
            left_out.add(out);
        }
        found
    });
}

fn ambient_kpa_abs(frame: &Columns, rig: &Rig) -> f64 {
    let read: Vec<f64> = (frame.column("ambient_kpa_abs").into_iter().flatten())
        .filter(|v| !v.is_nan())
        .map(|v| f64::from(*v))
        .collect();
    crate::analysis::stats::mean(&read).unwrap_or_else(|| ambient_by_rig(rig))
}

const HOW: &str = "Switch the compressor off and let the car stand. Load one corner (with an anti-roll bar both sides of an axle alike), bring the car to its height, take the load off, bring it to its height again, and so on; now and then lower and raise the whole car. Wait eight minutes after each step; longer waits help.";

fn fills(all: &[Transfer]) -> usize {
    all.iter().filter(|t| t.loss.is_some()).count()
}

fn verdict(
    all: &[Transfer],
    found: Option<&FoundVolumes>,
    tank_l: Option<f64>,
    rig: &Rig,
) -> Verdict {
    if tank_l.is_none() {
        return Verdict::unknown(
            "The rig does not give the tank's volume (`volume_l` under `[tank]`), and every other volume is measured by it.",
        );
    }
    let Some(found) = found else {
        return Verdict::unknown(format!(
            "{} fills with the compressor off and the air settled do not tell the corners apart. {HOW}",
            fills(all)
        ));
    };
    let known = (0..rig.circuits.len())
        .filter(|c| found.of_circuit(*c).is_some_and(is_known))
        .count();
    if known < rig.circuits.len() {
        return Verdict::unknown(format!(
            "{known} of {} volumes are known to ± 25 % or better from {} fills. {HOW}",
            rig.circuits.len(),
            fills(all)
        ));
    }
    Verdict::new(
        Severity::Fine,
        0.95,
        format!(
            "{} volumes found from {} fills; lines for the rig are below.",
            rig.circuits.len(),
            fills(all)
        ),
    )
}

fn summary(found: &FoundVolumes, rig: &Rig) -> Section {
    let mut section = Section::new("volumes", "Volumes");
    let mut table = Table::new(
        "volumes",
        "Volume at the middle of the heights of the fills, and effective area in cm²",
        vec![
            Column::text("circuit"),
            Column::number("volume", Unit::Litres),
            Column::number("at height", Unit::Mm),
            Column::mixed("effective area"),
            Column::mixed("fills"),
        ],
    );
    for (i, circuit) in rig.circuits.iter().enumerate() {
        let name = Cell::text(&place_words(&circuit.name));
        let Some(v) = found.of_circuit(i) else {
            let none = || Cell::missing("no usable fill");
            table.push(vec![name, none(), none(), none(), Cell::text("0")]);
            continue;
        };
        let (low, high) = v.volume_l.interval_95();
        let area = match v.area_cm2 {
            Some(area) => {
                let (low, high) = area.interval_95();
                Cell::text(&format!("{:.0} cm² ({low:.0} to {high:.0})", area.value))
            }
            None => Cell::missing("no height channel"),
        };
        let height = (!v.mid_mm.is_nan()).then(|| Measured::exact(v.mid_mm.round(), Unit::Mm));
        table.push(vec![
            name,
            Cell::Number(Measured::estimate(
                v.volume_l.value,
                low,
                high,
                Unit::Litres,
            )),
            Cell::number_or(height, "no height channel"),
            area,
            Cell::text(&v.fills.to_string()),
        ]);
    }
    section.tables.push(table);
    section
}

/// Lines to paste, for the circuits that are known well enough.
fn rig_lines(found: &FoundVolumes, rig: &Rig) -> Option<Section> {
    let mut table = Table::new(
        "rig-lines",
        "Put these in place of the circuit's volume in the rig",
        vec![Column::text("rig line")],
    );
    for (i, circuit) in rig.circuits.iter().enumerate() {
        let Some(v) = found.of_circuit(i).filter(|v| is_known(*v)) else {
            continue;
        };
        let mut line = |text: &str| table.push(vec![Cell::text(text)]);
        line("[[circuit]]");
        line(&format!("name = \"{}\"", circuit.name));
        match v.area_cm2 {
            Some(area) => {
                line(&format!(
                    "volume_at_zero_height_l = {:.2}",
                    v.volume_at_zero_l()
                ));
                line(&format!("effective_area_cm2 = {:.1}", area.value));
            }
            None => line(&format!("volume_l = {:.2}", v.volume_l.value)),
        }
        let percent = 100.0 * v.volume_l.se / v.volume_l.value;
        line(&format!("volume_uncertainty_percent = {percent:.1}"));
    }
    let mut section = Section::new("rig-lines", "Lines for the rig");
    let any = !table.rows.is_empty();
    section.tables.push(table);
    any.then_some(section)
}

fn list(recording: &Recording, all: &[Transfer], found: Option<&FoundVolumes>) -> Section {
    let mut section = Section::new("transfers", "Fill by fill");
    let mut table = Table::new(
        "transfers",
        "Fills with the compressor off, and loads that changed with the valves closed, the newest first",
        vec![
            Column::text("from"),
            Column::text("circuits"),
            Column::text("what"),
            Column::mixed("settled for"),
            Column::mixed("disagrees by"),
        ],
    );
    let skip = all.len().saturating_sub(MOST_LISTED);
    for (i, t) in all.iter().enumerate().skip(skip).rev() {
        let names: Vec<String> = (t.parts.iter())
            .filter_map(|p| recording.rig.circuits.get(p.circuit))
            .map(|c| place_words(&c.name))
            .collect();
        let off = found.and_then(|f| f.solution.off_share.get(i));
        table.push(vec![
            head::wall_cell(recording, t.from_ms),
            Cell::text(&names.join(", ")),
            Cell::text(if t.loss.is_some() {
                "fill"
            } else {
                "load changed"
            }),
            Cell::text(&format!("{:.0} s", t.settled_s)),
            match off {
                Some(share) => Cell::text(&format!("{:+.1} %", 100.0 * share)),
                None => Cell::missing("no volumes"),
            },
        ]);
    }
    if skip > 0 {
        section
            .notes
            .push(format!("{skip} earlier ones are not listed.").into());
    }
    section.tables.push(table);
    section
}

fn notes(left_out: &LeftOut, found: Option<&FoundVolumes>) -> Vec<Text> {
    let mut notes = vec![
        "The air that a fill takes from the tank is in the corners: Σ Δ(p·V(h)/T) = −V_tank·Δ(p_tank/T_tank), \
         linear in volume and effective area; a load that changes with the valves closed leaves p·V(h)/T as it was; all are solved together (Huber's estimator). \
         Readings are extrapolated to the temperature of the surroundings. Intervals contain the tank's volume (± 2 %, one standard deviation), the time the air takes to settle (a factor of 1.5), the tank's heat and sensor gain (1 %)."
            .into(),
    ];
    if found.is_some_and(|f| f.by_axle) {
        notes.push(
            "Left and right of an axle are taken as alike (± 2 %, one standard deviation): they were filled together too often to tell them apart."
                .into(),
        );
    }
    let reasons = [
        (left_out.compressor, "the compressor ran or had just run"),
        (left_out.unsettled, "air was moved again within two minutes"),
        (
            left_out.dumped,
            "a corner was filled and dumped in one move, so that what it kept is not known",
        ),
        (left_out.driven, "the car was driven"),
        (left_out.unread, "readings are missing"),
    ];
    for (n, why) in reasons.iter().filter(|r| r.0 > 0) {
        notes.push(format!("{n} fills were left out: {why}.").into());
    }
    notes
}
