//! Holds of our own making and four recordings that nobody here made.

use super::*;
use crate::analysis::stats::{SplitMix64, normal_quantile};

fn rig(spring: AirSpring) -> Conditions {
    Conditions {
        spring,
        since_move_s: None,
        thermometer: HoldThermometer::None,
        kelvin: 293.15,
        outside_kpa_abs: 101.325,
        outside_recorded: false,
        hysteresis_kpa: 0.3,
        zero_kpa_per_k: 0.2,
        step_kpa: 0.1,
    }
}

/// Recordings of the folder beside the project: a closed air chamber, CC0-1.0,
/// github EvaZillen/3D-printed-pneumatic-actuator (6e0bcb46). `None`, loudly, where the
/// folder is missing.
pub(super) fn recorded(name: &str) -> Option<Readings> {
    let folder = std::env::var_os("SEEP_REAL_RECORDINGS").map_or_else(
        || std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../shared/reference/real"),
        Into::into,
    );
    let path = folder.join(name);
    let Ok(text) = std::fs::read_to_string(&path) else {
        eprintln!(
            "SKIPPED: {name} is not there; the test against recordings made by others did not run \
             (set SEEP_REAL_RECORDINGS to their folder)"
        );
        return None;
    };
    let mut out = Readings::default();
    for row in text.lines() {
        let cells: Vec<&str> = row.split(';').collect();
        // µs with dots as thousands marks; bar gauge.
        let us: f64 = cells[0].replace('.', "").parse().expect("a time");
        let bar: f64 = cells[2].parse().expect("a pressure");
        out.t_s.push(us * 1e-6);
        out.kpa_abs.push(bar.mul_add(100.0, 101.325));
    }
    Some(out)
}

fn after(readings: &Readings, from_s: f64) -> Readings {
    let kept = readings
        .t_s
        .iter()
        .position(|t| *t >= from_s)
        .expect("long");
    Readings {
        t_s: readings.t_s[kept..].to_vec(),
        kpa_abs: readings.kpa_abs[kept..].to_vec(),
        volume_l: Vec::new(),
    }
}

/// Slopes by SciPy 1.17.1, `curve_fit` of `a·exp(−k·t)`.
#[test]
fn slopes_of_others_lie_in_the_interval() {
    for (name, from, k) in [
        ("hold_aluminium_reference.csv", 60.0, 2.34e-5),
        ("hold_slow_leak.csv", 60.0, 6.35e-5),
        ("hold_slow_leak.csv", 0.0, 8.18e-5),
    ] {
        let Some(all) = recorded(name) else { return };
        let part = after(&all, from);
        let fall = plain_fall(&part.t_s, &part.kpa_abs).expect("a fall");
        let (low, high) = fall.per_s.interval_95();
        println!(
            "{name} from {from} s: {:.3e} [{low:.3e}, {high:.3e}], lag-1 {:.2}",
            fall.per_s.value, fall.residual_lag1
        );
        assert!(low < k && k < high, "{name}: {low} {k} {high}");
        // The autocorrelation widens what SciPy gives as 0.05e-5.
        assert!(fall.per_s.se > 0.05e-5, "{name}: {}", fall.per_s.se);
    }
}

/// The authors of the recordings publish no leak rate; what falls within two minutes of
/// closing may be air that cools.
#[test]
fn the_settling_reference_is_no_confident_leak() {
    let Some(all) = recorded("hold_aluminium_reference.csv") else {
        return;
    };
    let seen = estimate(&all, &rig(AirSpring::No)).expect("a hold");
    let (low, high) = seen.loss_per_s.interval_95();
    println!(
        "{:.3e} [{low:.3e}, {high:.3e}], limit {:.3e}",
        seen.loss_per_s.value, seen.limit_per_s
    );
    assert!(!seen.is_leak, "{seen:?}");
    // SciPy's slope is below what this hold could have shown.
    assert!(high > 0.0 && seen.limit_per_s > 2.34e-5, "{seen:?}");
    assert!(seen.settling_share > 0.3, "{seen:?}");
}

/// The same rig's slow loss, were it known that nothing had moved for an hour.
#[test]
fn the_slow_loss_is_a_leak_once_settling_is_ruled_out() {
    let Some(all) = recorded("hold_slow_leak.csv") else {
        return;
    };
    let closed = rig(AirSpring::No);
    let fresh = estimate(&all, &closed).expect("a hold");
    let rested = Conditions {
        since_move_s: Some(3600.0),
        ..closed
    };
    let rested = estimate(&all, &rested).expect("a hold");
    for seen in [&fresh, &rested] {
        let (low, high) = seen.loss_per_s.interval_95();
        println!(
            "{:.3e} [{low:.3e}, {high:.3e}], limit {:.3e}, leak {}",
            seen.loss_per_s.value, seen.limit_per_s, seen.is_leak
        );
    }
    assert!(rested.is_leak, "{rested:?}");
    assert!(rested.limit_per_s < 0.7 * fresh.limit_per_s);
}

/// Holds made by other physics than the estimator's: one settling of any time constant,
/// an AR(1) sensor, a room that warms or cools steadily, readings in counts.
struct Maker {
    rng: SplitMix64,
}

impl Maker {
    fn uniform(&mut self) -> f64 {
        (self.rng.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn hold(&mut self, per_s: f64, settling: f64) -> Readings {
        let tau = 20.0 * 40_f64.powf(self.uniform());
        let size = settling * (2.0 * self.uniform() - 1.0);
        let room = 2.0 * (self.uniform() - 0.5) / 3600.0 / 293.15;
        let mut out = Readings::default();
        let mut noise = 0.0;
        for i in 0..300 {
            let t = f64::from(i);
            let white = normal_quantile(self.uniform().clamp(1e-9, 1.0 - 1e-9));
            noise = 0.5 * noise + 0.75_f64.sqrt() * 0.2 * white;
            let ln = size * (-t / tau).exp() + (room - per_s) * t;
            let kpa = 800.0 * ln.exp() + noise;
            out.t_s.push(t);
            out.kpa_abs.push((kpa * 10.0).round() / 10.0);
        }
        out
    }
}

/// One false alarm in 200 holds is the rule; 300 holds allow four (Poisson of 1.5, 98 %).
/// The limit: 95 of 100 are named; 200 holds made at it allow 179 (binomial, 99.9 %).
#[test]
fn a_tight_volume_is_rarely_named_and_the_limit_has_its_power() {
    let mut maker = Maker {
        rng: SplitMix64::new(20_261_129),
    };
    let fresh = rig(AirSpring::No);
    let named = (0..300).filter(|_| {
        estimate(&maker.hold(0.0, 0.01), &fresh)
            .expect("a hold")
            .is_leak
    });
    let named = named.count();
    println!("named of 300 tight, just filled: {named}");
    assert!(named <= 4, "{named}");
    let rested = Conditions {
        since_move_s: Some(7200.0),
        ..fresh
    };
    let limit = estimate(&maker.hold(0.0, 0.0), &rested)
        .expect("a hold")
        .limit_per_s;
    let named = (0..300)
        .filter(|_| {
            estimate(&maker.hold(0.0, 0.0), &rested)
                .expect("a hold")
                .is_leak
        })
        .count();
    let found = (0..200)
        .filter(|_| {
            estimate(&maker.hold(limit, 0.0), &rested)
                .expect("a hold")
                .is_leak
        })
        .count();
    println!("rested: named of 300 tight {named}; named of 200 at the limit {limit:.2e}: {found}");
    assert!(named <= 4 && found >= 179, "{named} {found}");
}

/// What is promised for another hold is what such a hold gives.
#[test]
fn a_planned_hold_keeps_its_promise() {
    let mut maker = Maker {
        rng: SplitMix64::new(20_261_130),
    };
    let rested = Conditions {
        since_move_s: Some(7200.0),
        ..rig(AirSpring::No)
    };
    let at_hand = maker.hold(0.0, 0.0);
    let seen = estimate(&at_hand, &rested).expect("a hold");
    let same = Design {
        length_s: 299.0,
        since_move_s: 7200.0,
    };
    let promised = expected_limit(same, &at_hand, &rested, seen.noise_ln).expect("a limit");
    assert!(
        (promised / seen.limit_per_s - 1.0).abs() < 0.05,
        "{promised} {}",
        seen.limit_per_s
    );
    let longer = Design {
        length_s: 1200.0,
        ..same
    };
    let longer = expected_limit(longer, &at_hand, &rested, seen.noise_ln).expect("a limit");
    assert!(longer < 0.8 * promised, "{longer} {promised}");
}

#[test]
fn what_is_no_hold_is_refused() {
    let few = Readings {
        t_s: vec![0.0, 1.0],
        kpa_abs: vec![500.0, 500.0],
        volume_l: Vec::new(),
    };
    assert_eq!(estimate(&few, &rig(AirSpring::No)), Err(NoHold::TooFew(2)));
    let empty = Readings {
        t_s: (0..20).map(f64::from).collect(),
        kpa_abs: vec![101.0; 20],
        volume_l: Vec::new(),
    };
    assert_eq!(
        estimate(&empty, &rig(AirSpring::No)),
        Err(NoHold::NoPressure)
    );
}

/// A corner off its stops: the pressure stays, the height falls.
#[test]
fn a_sinking_corner_is_a_leak_by_its_volume() {
    let t_s: Vec<f64> = (0..300).map(f64::from).collect();
    let held = Readings {
        kpa_abs: t_s.iter().map(|t| 600.0 + 0.05 * (t * 1.7).sin()).collect(),
        volume_l: t_s.iter().map(|t| 6.0 * (-2e-4 * t).exp()).collect(),
        t_s,
    };
    let corner = Conditions {
        since_move_s: Some(3600.0),
        ..rig(AirSpring::HeightRecorded)
    };
    let seen = estimate(&held, &corner).expect("a hold");
    assert!(
        seen.is_leak && (seen.loss_per_s.value / 2e-4 - 1.0).abs() < 0.2,
        "{seen:?}"
    );
    assert!(seen.plain.per_s.value.abs() < 1e-5, "{seen:?}");
}
