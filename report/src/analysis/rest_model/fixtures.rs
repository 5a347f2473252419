//! Invented cars of the oracle, for tests.

use super::input::Car;

#[derive(serde::Deserialize)]
struct Fixture {
    car: Car,
}

/// Car of a file beside the test of the oracle, by its name.
pub(super) fn car(name: &str) -> Car {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/rest_model/fixtures");
    let text = std::fs::read_to_string(format!("{folder}/{name}.json")).unwrap();
    serde_json::from_str::<Fixture>(&text).unwrap().car
}
