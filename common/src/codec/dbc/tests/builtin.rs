//! The built-in J1939 database against published positions and decoded frames.

use crate::codec::dbc::{BUILTIN_J1939_AIR, BUILTIN_NMEA2000_AIR, Database, Extracted};
use crate::codec::j1939::SpecialValue::{Error, NotAvailable, ParameterSpecific};

fn database() -> Database {
    Database::parse("builtin:j1939-air", BUILTIN_J1939_AIR).expect("our own text")
}

fn extract(db: &Database, path: &str, data: &[u8]) -> Extracted {
    db.find(path).expect(path).signal.extract(data)
}

#[test]
fn nothing_in_it_is_odd() {
    let db = database();
    assert_eq!(db.notes(), []);
    assert!(db.messages().iter().all(|m| m.by_group && m.length == 8));
}

/// Path, PGN, first byte and bit, width, resolution, offset of every signal.
///
/// **Source**: SAE J1939-71 by the parameter table of J1939DA (October 2020), as
/// extracted in Equipment-and-Tool-Institute/j1939-84 and, but for SPN 6305 and
/// 13132, confirmed by leandrogithubf/buslab-socket_full-php. PGN 65274: resolutions
/// and ranges from the latter, positions and SPN 619 from memory.
const PUBLISHED: &str = "
ASC1.NominalLevelFrontAxle                65114 1.1  4 1 0
ASC1.NominalLevelRearAxle                 65114 1.5  4 1 0
ASC1.BelowNominalLevelFrontAxle           65114 2.1  2 1 0
ASC1.BelowNominalLevelRearAxle            65114 2.3  2 1 0
ASC1.AboveNominalLevelFrontAxle           65114 2.5  2 1 0
ASC1.AboveNominalLevelRearAxle            65114 2.7  2 1 0
ASC1.LoweringControlModeFrontAxle         65114 3.1  2 1 0
ASC1.LoweringControlModeRearAxle          65114 3.3  2 1 0
ASC1.LiftingControlModeFrontAxle          65114 3.5  2 1 0
ASC1.LiftingControlModeRearAxle           65114 3.7  2 1 0
ASC1.KneelingInformation                  65114 4.1  4 1 0
ASC1.LevelControlMode                     65114 4.5  4 1 0
ASC1.SuspensionControlRefusalInformation  65114 8.1  4 1 0
ASC2.NominalLevelRequestFrontAxle         53760 2.1  4 1 0
ASC2.NominalLevelRequestRearAxle          53760 2.5  4 1 0
ASC3.RelativeLevelFrontAxleLeft           65113 1.1 16 0.1 -3200
ASC3.RelativeLevelFrontAxleRight          65113 3.1 16 0.1 -3200
ASC3.RelativeLevelRearAxleLeft            65113 5.1 16 0.1 -3200
ASC3.RelativeLevelRearAxleRight           65113 7.1 16 0.1 -3200
ASC4.BellowPressureFrontAxleLeft          65112 1.1 16 0.1 0
ASC4.BellowPressureFrontAxleRight         65112 3.1 16 0.1 0
ASC4.BellowPressureRearAxleLeft           65112 5.1 16 0.1 0
ASC4.BellowPressureRearAxleRight          65112 7.1 16 0.1 0
ASC6.LevelPresetFrontAxleLeft             53504 1.1 16 0.1 -3200
ASC6.LevelPresetFrontAxleRight            53504 3.1 16 0.1 -3200
ASC6.LevelPresetRearAxleLeft              53504 5.1 16 0.1 -3200
ASC6.LevelPresetRearAxleRight             53504 7.1 16 0.1 -3200
AIR1.PneumaticSupplyPressure              65198 1.1  8 8 0
AIR1.ParkingAndOrTrailerAirPressure       65198 2.1  8 8 0
AIR1.ServiceBrakeCircuit1AirPressure      65198 3.1  8 8 0
AIR1.ServiceBrakeCircuit2AirPressure      65198 4.1  8 8 0
AIR1.AuxiliaryEquipmentSupplyPressure     65198 5.1  8 8 0
AIR1.AirSuspensionSupplyPressure1         65198 6.1  8 8 0
AIR1.AirCompressorStatus                  65198 7.1  2 1 0
AIR1.PowertrainCircuitAirSupplyPressure   65198 8.1  8 8 0
AIR3.AirSuspensionSupplyPressure2         64195 2.1  8 8 0
AMB.BarometricPressure                    65269 1.1  8 0.5 0
AMB.CabInteriorTemperature                65269 2.1 16 0.03125 -273
AMB.AmbientAirTemperature                 65269 4.1 16 0.03125 -273
AMB.EngineIntakeAirTemperature            65269 6.1  8 1 -40
AMB.RoadSurfaceTemperature                65269 7.1 16 0.03125 -273
B.BrakeApplicationPressure                65274 1.1  8 4 0
B.BrakePrimaryPressure                    65274 2.1  8 4 0
B.BrakeSecondaryPressure                  65274 3.1  8 4 0
B.ParkingBrakeActuator                    65274 4.1  2 1 0
CCVS1.ParkingBrakeSwitch                  65265 1.3  2 1 0
CCVS1.WheelBasedVehicleSpeed              65265 2.1 16 0.00390625 0
";

#[test]
fn positions_and_resolutions_are_the_published_ones() {
    let db = database();
    for row in PUBLISHED.lines().skip(1) {
        let words: Vec<&str> = row.split_whitespace().collect();
        let number = |at: usize| words[at].parse::<f64>().expect(row);
        let (byte, bit) = words[2].split_once('.').expect(row);
        let place: u32 =
            8 * (byte.parse::<u32>().expect(row) - 1) + bit.parse::<u32>().expect(row) - 1;
        let bits = number(3) as u32;
        let found = db.find(words[0]).expect(row);
        assert_eq!(found.message.pgn(), Some(number(1) as u32), "{row}");
        assert_eq!(found.signal.layout.length(), bits, "{row}");
        // The highest valid raw value by the standard's table of ranges.
        let highest: u64 = match bits {
            2 => 1,
            4 => 0xD,
            8 => 0xFA,
            _ => 0xFAFF,
        };
        for raw in [0, 1, highest] {
            // Ones all around: a signal that takes a bit too many would show.
            let around = !0u64 << bits;
            let word = (around | raw).rotate_left(place);
            let expected = raw as f64 * number(4) + number(5);
            assert_close(found.signal.extract(&word.to_le_bytes()), expected, row);
        }
    }
    assert_eq!(PUBLISHED.lines().skip(1).count(), db.paths().count());
}

/// Highest values as the same tables print them.
#[test]
fn highest_values_are_the_published_ones() {
    let db = database();
    for (path, data, highest) in [
        (
            "ASC4.BellowPressureFrontAxleLeft",
            [0xFF, 0xFA, 0, 0, 0, 0, 0, 0],
            6425.5,
        ),
        (
            "ASC3.RelativeLevelFrontAxleLeft",
            [0xFF, 0xFA, 0, 0, 0, 0, 0, 0],
            3225.5,
        ),
        (
            "AIR1.PneumaticSupplyPressure",
            [0xFA, 0, 0, 0, 0, 0, 0, 0],
            2000.0,
        ),
        ("AMB.BarometricPressure", [0xFA, 0, 0, 0, 0, 0, 0, 0], 125.0),
        (
            "AMB.EngineIntakeAirTemperature",
            [0, 0, 0, 0, 0, 0xFA, 0, 0],
            210.0,
        ),
        (
            "CCVS1.WheelBasedVehicleSpeed",
            [0, 0xFF, 0xFA, 0, 0, 0, 0, 0],
            250.996_093_75,
        ),
    ] {
        assert_close(extract(&db, path, &data), highest, path);
    }
}

#[track_caller]
fn assert_close(outcome: Extracted, expected: f64, what: &str) {
    match outcome {
        Extracted::Value(value) if (value - expected).abs() <= 1e-9 => {}
        other => panic!("{what}: {other:?} instead of {expected}"),
    }
}

/// Frames of our own invention; the values were computed with the reference
/// library cantools 45.1.0 from the published positions, the special values by
/// the table of SAE J1939-71.
#[test]
fn frames_decode_as_with_the_reference_library() {
    let db = database();
    let special = Extracted::Special;
    let asc4 = [0x03, 0x14, 0x7B, 0x13, 0xC5, 0x18, 0xFF, 0xFF];
    let limits = [0xFF, 0xFA, 0x00, 0xFB, 0xFF, 0xFE, 0x00, 0xFF];
    let asc3 = [0x00, 0x7D, 0x83, 0x7C, 0x76, 0x7E, 0x00, 0x00];
    let air1 = [0x81, 0xFF, 0x64, 0x65, 0xFF, 0x71, 0xFD, 0xFF];
    let amb = [0xCB, 0xE0, 0x24, 0xA0, 0x24, 0x41, 0xFF, 0xFF];
    let ccvs1 = [0xFF, 0x80, 0x3E, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF];
    let brakes = [0x00, 0xD2, 0xFA, 0xFD, 0xFF, 0xFF, 0xFF, 0xFF];
    let standing = [0xFF, 0x00, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF];
    for (path, data, value) in [
        ("ASC4.BellowPressureFrontAxleLeft", asc4, 512.3),
        ("ASC4.BellowPressureFrontAxleRight", asc4, 498.7),
        ("ASC4.BellowPressureRearAxleLeft", asc4, 634.1),
        ("ASC4.BellowPressureFrontAxleLeft", limits, 6425.5),
        ("ASC3.RelativeLevelFrontAxleLeft", asc3, 0.0),
        ("ASC3.RelativeLevelFrontAxleRight", asc3, -12.5),
        ("ASC3.RelativeLevelRearAxleLeft", asc3, 37.4),
        ("ASC3.RelativeLevelRearAxleRight", asc3, -3200.0),
        ("AIR1.PneumaticSupplyPressure", air1, 1032.0),
        ("AIR1.ServiceBrakeCircuit1AirPressure", air1, 800.0),
        ("AIR1.ServiceBrakeCircuit2AirPressure", air1, 808.0),
        ("AIR1.AirSuspensionSupplyPressure1", air1, 904.0),
        ("AIR1.AirCompressorStatus", air1, 1.0),
        ("AMB.BarometricPressure", amb, 101.5),
        ("AMB.CabInteriorTemperature", amb, 22.0),
        ("AMB.AmbientAirTemperature", amb, 20.0),
        ("AMB.EngineIntakeAirTemperature", amb, 25.0),
        ("CCVS1.WheelBasedVehicleSpeed", ccvs1, 62.5),
        ("B.BrakeApplicationPressure", brakes, 0.0),
        ("B.BrakePrimaryPressure", brakes, 840.0),
        ("B.BrakeSecondaryPressure", brakes, 1000.0),
        ("B.ParkingBrakeActuator", brakes, 1.0),
    ] {
        assert_close(extract(&db, path, &data), value, path);
    }
    for (path, data, meaning) in [
        ("ASC4.BellowPressureRearAxleRight", asc4, NotAvailable),
        (
            "ASC4.BellowPressureFrontAxleRight",
            limits,
            ParameterSpecific,
        ),
        ("ASC4.BellowPressureRearAxleLeft", limits, Error),
        ("ASC4.BellowPressureRearAxleRight", limits, NotAvailable),
        ("AIR1.ParkingAndOrTrailerAirPressure", air1, NotAvailable),
        ("AMB.RoadSurfaceTemperature", amb, NotAvailable),
        ("CCVS1.WheelBasedVehicleSpeed", standing, NotAvailable),
        ("CCVS1.ParkingBrakeSwitch", standing, NotAvailable),
    ] {
        assert_eq!(extract(&db, path, &data), special(meaning), "{path}");
    }
}

/// A trap of the standard: the rear levels are not in the order of their numbers.
#[test]
fn rear_left_level_comes_before_rear_right() {
    let db = database();
    let only_third_word = [0xFF, 0xFF, 0xFF, 0xFF, 0x00, 0x7D, 0xFF, 0xFF];
    let left = extract(&db, "ASC3.RelativeLevelRearAxleLeft", &only_third_word);
    let right = extract(&db, "ASC3.RelativeLevelRearAxleRight", &only_third_word);
    assert_eq!(left, Extracted::Value(0.0));
    assert_eq!(right, Extracted::Special(NotAvailable));
}

/// Frames of our own invention; the values were computed with the reference
/// library cantools 45.1.0 from the same database. Field order, sign and 0.1 Pa
/// as in fkie-cad/maritime-dissector.
#[test]
fn pressures_of_nmea_2000_are_told_apart_by_source_and_instance() {
    let db = Database::parse("builtin:nmea2000-air", BUILTIN_NMEA2000_AIR).expect("our own text");
    assert_eq!(db.notes(), []);
    let message = &db.messages()[0];
    assert_eq!((message.pgn(), message.by_group), (Some(130_314), true));
    let other = Extracted::OtherMultiplex;
    // 8 bar, 1.025 bar below the atmosphere, the atmosphere, water.
    let air_0 = [0x01, 0x00, 0x03, 0x00, 0x12, 0x7A, 0x00, 0xFF];
    let air_2 = [0xFF, 0x02, 0x03, 0x0C, 0x5C, 0xF0, 0xFF, 0xFF];
    let outside = [0xFF, 0x00, 0x00, 0x02, 0x76, 0x0F, 0x00, 0xFF];
    let water = [0xFF, 0x00, 0x01, 0x02, 0x76, 0x0F, 0x00, 0xFF];
    for (data, values) in [
        (air_0, [Some(800.0), None, None]),
        (air_2, [None, Some(-102.5012), None]),
        (outside, [None, None, Some(101.325)]),
        (water, [None, None, None]),
    ] {
        let names = ["CompressedAir0", "CompressedAir2", "Atmospheric"];
        for (name, value) in names.iter().zip(values) {
            let path = format!("ActualPressure.{name}");
            match value {
                Some(value) => assert_close(extract(&db, &path, &data), value, &path),
                None => assert_eq!(extract(&db, &path, &data), other, "{path}"),
            }
        }
    }
    // Not available and out of range are no pressures; one count below zero is one.
    for (low, high, expected) in [
        (0xFF, 0x7F, Extracted::Special(NotAvailable)),
        (0xFE, 0x7F, Extracted::Special(Error)),
        (0xFF, 0xFF, Extracted::Value(-0.0001)),
    ] {
        let data = [0xFF, 0x00, 0x03, low, 0xFF, 0xFF, high, 0xFF];
        let found = extract(&db, "ActualPressure.CompressedAir0", &data);
        assert_eq!(found, expected, "{low:#X} {high:#X}");
    }
}
