//! From a scenario's units to SI, and the state everything starts in.

use super::air::{Air, HEAT_AT_VOLUME, Skin};
use super::constants::{GRAVITY, ZERO_CELSIUS_K};
use super::leak::{Leak, Place, law_for};
use super::rubber::Rubber;
use super::{
    Compressor, Corner, Paths, Restriction, Road, Spring, Tank, Valve, Warmth, Wear, Weather,
    World, Worn,
};
use crate::rng::Noise;
use crate::scenario::{self, Fault, FaultKind, Law, Scenario};

/// Gauge pressure at which leaks of circuits are told, Pa.
const CIRCUIT_TOLD_PA: f64 = 500e3;

/// Gauge pressure at which leaks of the tank are told, Pa.
const TANK_TOLD_PA: f64 = 1_000e3;

impl World {
    /// The car of a scenario at its start: at the drive preset's height with the
    /// pressures its weight asks for, everything as warm as the weather.
    #[must_use]
    pub fn new(scenario: &Scenario) -> Self {
        let start_unix_s = scenario.start_unix_s as f64;
        let weather = Weather::new(&scenario.surroundings, scenario.seed, start_unix_s);
        let mut corners: Vec<Corner> = scenario
            .circuits
            .iter()
            .map(|c| corner(c, &weather))
            .collect();
        pair_up(&scenario.circuits, &mut corners);
        let m = &scenario.manifold;
        let supply = Restriction::from_l_s_bar(m.supply_c, m.supply_b);
        let exhaust = Restriction::from_l_s_bar(m.exhaust_c, m.exhaust_b);
        let mut world = World {
            t_s: 0.0,
            start_unix_s,
            tank: tank(&scenario.tank, &weather),
            compressors: scenario
                .compressors
                .iter()
                .map(|c| compressor(c, weather.kelvin))
                .collect(),
            delivered_kg: vec![0.0; scenario.compressors.len()],
            supply,
            exhaust,
            leaks: leaks(scenario),
            wear: Wear {
                items: wear(scenario),
                supply,
                exhaust,
            },
            box_k: weather.kelvin,
            box_warmth: Warmth::new(scenario.watch.box_line.warming),
            heading_deg: 100.0,
            twist_n_m: if corners.len() == 4 {
                scenario.vehicle.twist_n_mm * 1000.0
            } else {
                0.0
            },
            driven: false,
            weather,
            road: Road::new(scenario.seed, corners.len()),
            supply_v: 12.5,
            anti_roll_n_m: scenario.vehicle.anti_roll_n_mm * 1000.0,
            road_m: scenario.surroundings.road_mm * 1e-3,
            shaken_friction: scenario.surroundings.shaken_friction,
            fuel_kg_s: fuel(scenario),
            corners,
            vented_j: 0.0,
            delivered_j: 0.0,
            heat_j: 0.0,
            work_j: 0.0,
            luck: Noise::new(scenario.seed, "luck"),
            slow_s: 0.0,
        };
        world.apply_wear();
        world.wet_circuits();
        world
    }
}

fn corner(c: &scenario::Circuit, weather: &Weather) -> Corner {
    let mm = 1e-3;
    let spring = Spring {
        area_m2: c.area_cm2 * 1e-4,
        taper_per_m: c.taper_percent / 100.0 / 0.1,
        curve_per_m2: c.curve_percent / 100.0 / 0.01,
        volume_m3: c.volume_l * 1e-3,
        lower_stop_m: c.lower_stop_mm * mm,
        upper_stop_m: c.upper_stop_mm * mm,
        stop_load_n: c.mass_kg * GRAVITY,
        friction_n: c.friction_n,
        damping_n_s_m: c.damping_n_s_m,
        stick_ratio: c.stick_ratio.max(1.0),
        swell: 1.0,
    };
    let pa = spring.pressure_for(0.0, c.mass_kg * GRAVITY, weather.pa);
    let air = Air::at(pa, weather.kelvin, spring.volume(0.0));
    let paths = Paths {
        fill: Restriction::from_l_s_bar(c.fill_c, c.fill_b),
        dump: Restriction::from_l_s_bar(c.dump_c, c.dump_b),
        line: Restriction::from_l_s_bar(c.line_c, c.line_b),
        lag_s: c.valve_lag_ms * 1e-3,
    };
    let valve = Valve::new(paths.lag_s, c.valve_stroke_ms * 1e-3);
    Corner {
        spring,
        air,
        skin: skin(&air, weather.kelvin, c.heat_s, c.skin_j_k, c.skin_s),
        place_k: weather.kelvin,
        warmth: Warmth::new(c.warming),
        rubber: Rubber::new(
            c.creep_percent_decade,
            c.stretch_percent_bar,
            pa - weather.pa,
        ),
        ground_m: 0.0,
        vapour_share: 0.0,
        height_m: 0.0,
        mass_kg: c.mass_kg,
        extra_kg: 0.0,
        partner: None,
        fill: valve,
        dump: valve,
        paths,
        sound: paths,
        filled_kg: 0.0,
        dumped_kg: 0.0,
        fill_unit_kg: 0.0,
        dump_unit_kg: 0.0,
    }
}

fn skin(air: &Air, kelvin: f64, to_air_s: f64, capacity_j_k: f64, to_outside_s: f64) -> Skin {
    Skin {
        kelvin,
        capacity_j_k,
        to_air_w_k: air.mass_kg * HEAT_AT_VOLUME / to_air_s,
        to_outside_w_k: capacity_j_k / to_outside_s,
    }
}

/// Circuits that share an axle with exactly one other.
fn pair_up(circuits: &[scenario::Circuit], corners: &mut [Corner]) {
    for (i, corner) in corners.iter_mut().enumerate() {
        let same = |j: &usize| *j != i && circuits[*j].axle == circuits[i].axle;
        let others: Vec<usize> = (0..circuits.len()).filter(same).collect();
        if let [only] = others[..] {
            corner.partner = Some(only);
        }
    }
}

fn tank(t: &scenario::TankSpec, weather: &Weather) -> Tank {
    let m3 = t.volume_l * 1e-3;
    let air = Air::at(weather.pa + t.start_kpa_gauge * 1000.0, weather.kelvin, m3);
    Tank {
        m3,
        air,
        shell: skin(&air, weather.kelvin, t.heat_s, t.shell_j_k, t.shell_s),
        place_k: weather.kelvin,
        place_s: t.place_s,
        warmth: Warmth::new(t.warming),
        wet: t.wet,
    }
}

fn compressor(c: &scenario::CompressorSpec, kelvin: f64) -> Compressor {
    Compressor {
        free_air_m3_s: c.free_air_l_min / 60_000.0,
        stall_pa_gauge: c.stall_kpa_gauge * 1000.0,
        health: 1.0,
        airing: 1.0,
        loss_w: c.loss_w,
        motor_j_k: c.motor_j_k,
        cooling_w_k: c.motor_j_k / c.cooling_s,
        trip_k: c.trip_c + ZERO_CELSIUS_K,
        reset_k: c.reset_c + ZERO_CELSIUS_K,
        wanted: false,
        tripped: false,
        motor_k: kelvin,
    }
}

/// Circuits of the last axle share the fuel's weight.
fn fuel(scenario: &Scenario) -> Vec<f64> {
    let axle = scenario.circuits.last().map(|c| c.axle.clone());
    let on_it = |c: &scenario::Circuit| Some(&c.axle) == axle.as_ref();
    let count = scenario.circuits.iter().filter(|c| on_it(c)).count().max(1) as f64;
    let share = scenario.vehicle.fuel_kg_per_h / 3600.0 / count;
    let burns = |c| if on_it(c) { share } else { 0.0 };
    scenario.circuits.iter().map(burns).collect()
}

fn wear(scenario: &Scenario) -> Vec<(Worn, Fault)> {
    let item = |fault: &Fault| {
        let corner = position(scenario, &fault.place);
        let compressor = scenario
            .compressors
            .iter()
            .position(|c| c.name == fault.place)
            .unwrap_or(0);
        Some((Worn::of(fault.kind, corner, compressor)?, fault.clone()))
    };
    scenario.faults.iter().filter_map(item).collect()
}

fn position(scenario: &Scenario, place: &str) -> Option<usize> {
    scenario.circuits.iter().position(|c| c.name == place)
}

fn leaks(scenario: &Scenario) -> Vec<Leak> {
    let mut all = Vec::new();
    for (i, c) in scenario.circuits.iter().enumerate() {
        let law = law_for(Law::Laminar, 0.5, c.sound_anr_cm3_min, CIRCUIT_TOLD_PA);
        all.push(leak(Place::Corner(i), Place::Outside, law));
    }
    for (number, fault) in scenario.faults.iter().enumerate() {
        let at = position(scenario, &fault.place).map(Place::Corner);
        let to = position(scenario, &fault.other_place).map(Place::Corner);
        let ends = match fault.kind {
            FaultKind::CornerLeak | FaultKind::DumpValveLeak => at.zip(Some(Place::Outside)),
            FaultKind::FillValvePassing => Some(Place::Tank).zip(at),
            FaultKind::TankLeak | FaultKind::CheckValveLeak => Some((Place::Tank, Place::Outside)),
            FaultKind::CrossLeak => at.zip(to),
            _ => None,
        };
        let Some((from, to)) = ends else { continue };
        let told_pa = if from == Place::Tank {
            TANK_TOLD_PA
        } else {
            CIRCUIT_TOLD_PA
        };
        let law = law_for(fault.law, fault.b, fault.anr_cm3_min, told_pa);
        all.push(Leak {
            fault: Some(number),
            rule: Some(fault.clone()),
            ..leak(from, to, law)
        });
    }
    all
}

fn leak(from: Place, to: Place, law: crate::world::LeakLaw) -> Leak {
    Leak {
        from,
        to,
        law,
        fault: None,
        rule: None,
        hangs: false,
        passed_kg: 0.0,
        open_s: 0.0,
    }
}
