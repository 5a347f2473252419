//! The two sides of a pair, session by session.

use super::PlaceChannels;
use crate::analysis::segment::Busy;
use crate::analysis::side_to_side::{SideCollector, SidesView};
use seep_common::channel::Quantity;
use seep_common::rig::{Circuit, Rig};
use seep_common::store::Columns;

/// Adds a session of a circuit whose sides the rig names.
pub(super) fn push(
    collector: &mut SideCollector,
    frame: &Columns,
    rig: &Rig,
    circuit: &Circuit,
    valves: &Busy,
    driving: Option<&Busy>,
    ambient_kpa_abs: f64,
) {
    let height = |side: &str| {
        let channel = rig.channel_at(side, Quantity::Height)?;
        frame.column(&channel.name)
    };
    let sides = circuit.sides.as_ref();
    let Some((left_mm, right_mm)) = sides.and_then(|[l, r]| Some((height(l)?, height(r)?))) else {
        return;
    };
    let pressure = PlaceChannels::of(rig, &circuit.name).pressure;
    let kpa_abs: Vec<f32> = pressure.map_or_else(Vec::new, |(name, is_gauge)| {
        let above = if is_gauge {
            ambient_kpa_abs as f32
        } else {
            0.0
        };
        let column = frame.column(&name).unwrap_or(&[]);
        column.iter().map(|kpa| kpa + above).collect()
    });
    collector.push(&SidesView {
        t_ms: &frame.t_ms,
        left_mm,
        right_mm,
        kpa_abs: &kpa_abs,
        driving,
        valves,
    });
}
