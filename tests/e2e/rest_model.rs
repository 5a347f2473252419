//! The model of a car at rest on whole logs: what the recorder stored of bus and
//! wire, reduced to rests and fitted, names the injected fault and nothing else.
//! The sample cars are invented; what they pass is in their `truth.json`.

use super::replayed;
use seep_report::analysis::rest_model::{Car, RestModelFit, Settings, fit};
use seep_report::digest::Digest;
use seep_report::recording::{Recording, SpanRequest};
use seep_tests::sample;
use serde_json::Value;
use std::path::Path;

struct Fitted {
    car: Car,
    fit: RestModelFit,
}

fn fitted(name: &str) -> Fitted {
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed(name, folder.path());
    let recording = Recording::open(Path::new(&log), &SpanRequest::default()).expect("opens");
    let car = Digest::build(&recording, |_| {})
        .expect("readable")
        .reduced
        .car;
    let fit = fit(&car, &Settings::default());
    Fitted { car, fit }
}

impl Fitted {
    fn named(&self) -> Vec<String> {
        let named = self.fit.named();
        named.map(|h| h.hypothesis.key(&self.car)).collect()
    }

    /// Usual pressure of a volume, bar absolute.
    fn usual_bar(&self, volume: &str) -> f64 {
        let found = self.fit.volumes.iter();
        let mut found = found.filter(|v| self.car.volumes[v.volume].name == volume);
        found.next().expect("it rested").reference_kpa_abs / 100.0
    }
}

/// Sonic conductance of the one injected fault, cm³/(min·bar) ANR.
fn injected(name: &str) -> f64 {
    let text = std::fs::read_to_string(sample(name).join("truth.json")).expect("truth");
    let truth: Value = serde_json::from_str(&text).expect("JSON");
    let fault = &truth["faults"][0]["c_l_s_bar"];
    fault.as_f64().expect("a number") * 60_000.0
}

/// The flow through the injected hole at the usual pressure lies in the interval,
/// and the interval is a fifth of it at most to either side: it says something.
///
/// **Source**: choked flow is `C·p` at 20 °C, ISO 6358-1. The log's air is up to
/// 15 K colder: 2.6 % more flow, which the model takes off.
#[test]
fn an_injected_leak_is_named_alone_with_its_conductance() {
    for (name, key, upstream) in [
        ("slow-leak-overnight", "leak:rear_right", "rear_right"),
        ("fill-valve-passing", "fill:front_left", "tank"),
    ] {
        let found = fitted(name);
        assert_eq!(found.named(), [key], "{name}");
        let truth = injected(name) * found.usual_bar(upstream);
        let estimate = found.fit.named().next().expect("named");
        let (low, high) = estimate.interval_95();
        assert!(
            low <= truth && truth <= high,
            "{name}: {truth} in {low} to {high}"
        );
        assert!(high - low < 0.4 * estimate.conductance, "{name}");
    }
}

/// No leak is named where none is, and each volume says from where one would be.
#[test]
fn cars_that_hold_their_air_have_no_leak_named_and_a_limit_for_each_volume() {
    for name in ["healthy-road-trip", "kinked-line", "worn-compressor"] {
        let found = fitted(name);
        assert_eq!(found.named(), [""; 0], "{name}");
        assert_eq!(found.fit.volumes.len(), 5, "{name}");
        let leaks = found.fit.hypotheses.iter();
        let leaks = leaks.filter(|h| h.hypothesis.key(&found.car).starts_with("leak:"));
        let limits: Vec<f64> = leaks.filter_map(|h| h.detection_limit).collect();
        assert_eq!(limits.len(), 5, "{name}");
        // More than what is worth naming, and less than 5 % of the air in 12 h.
        for volume in &found.fit.volumes {
            let share = volume.share_in_12_h(volume.upper_bound);
            assert!(
                volume.upper_bound > volume.floor && share < 0.05,
                "{name} {}: {share}",
                found.car.volumes[volume.volume].name
            );
        }
    }
}
