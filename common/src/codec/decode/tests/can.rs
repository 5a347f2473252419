use super::{channel, rig};
use crate::codec::can::CanFrame;
use crate::codec::dbc::{BUILTIN_J1939_AIR, Database};
use crate::codec::decode::{CanDecoder, IdFilter, Outcomes};
use crate::rig::Rig;
use crate::time::BootMs;

const BUS: &str = "kind = \"socketcan\"";

/// Invented database of a home-made controller.
const BOX: &str = "\
BO_ 291 BOX: 8 X
 SG_ Tank : 0|16@1+ (0.01,0) [0|0] \"bar\" X
 SG_ SensorVolts : 16|16@1+ (0.001,0) [0|0] \"V\" X
 SG_ Bare : 32|8@1+ (1,0) [0|0] \"\" X
 SG_ Fill : 40|1@1+ (1,0) [0|0] \"\" X
 SG_ Amps : 48|16@1- (0.1,0) [0|0] \"A\" X
BO_ 2147484000 LONG: 8 X
 SG_ Height : 0|16@1- (1,0) [0|0] \"mm\" X
";

fn databases() -> Vec<Database> {
    vec![
        Database::parse("builtin:j1939-air", BUILTIN_J1939_AIR).expect("ours"),
        Database::parse("box.dbc", BOX).expect("well formed"),
    ]
}

fn decode(rig: &Rig, frames: &[(u32, bool, &[u8])]) -> (Vec<(String, f64)>, CanDecoder) {
    let mut decoder = CanDecoder::new(rig, 0, &databases()).unwrap_or_else(|e| panic!("{e}"));
    let mut found = Vec::new();
    for &(id, extended, data) in frames {
        let frame = CanFrame::new(id, extended, data).expect("fits");
        decoder.decode(&frame, BootMs(7), &mut |sample| {
            let name = rig.channels[usize::from(sample.channel.0)].name.clone();
            found.push((name, (sample.value * 1e6).round() / 1e6));
            assert_eq!(sample.t_ms, BootMs(7));
        });
    }
    (found, decoder)
}

fn outcomes(decoder: &CanDecoder) -> Outcomes {
    decoder.outcomes().map(|(_, outcomes)| outcomes).sum()
}

#[test]
fn a_parameter_group_feeds_its_channels_whoever_sends_it() {
    let rig = rig(
        BUS,
        &[
            channel(
                "front_left_kpa_gauge",
                "signal = \"ASC4.BellowPressureFrontAxleLeft\"",
            ),
            channel(
                "rear_right_kpa_gauge",
                "signal = \"ASC4.BellowPressureRearAxleRight\"",
            ),
            channel("compressor_1_on", "signal = \"AIR1.AirCompressorStatus\""),
            channel(
                "tank_kpa_gauge",
                "signal = \"AIR1.AirSuspensionSupplyPressure1\"",
            ),
        ]
        .concat(),
    );
    let asc4: &[u8] = &[0x03, 0x14, 0x7B, 0x13, 0xC5, 0x18, 0xFF, 0xFF];
    let (found, decoder) = decode(
        &rig,
        &[
            (0x18FE_58FE, true, asc4),
            (0x0CFE_582F, true, asc4),
            (0x18FE_59FE, true, asc4),
            (
                0x18FE_AE30,
                true,
                &[0x81, 0xFF, 0x64, 0x65, 0xFF, 0x71, 0xFD, 0xFF],
            ),
            (0x7FF, false, asc4),
        ],
    );
    let expected = [
        ("front_left_kpa_gauge", 512.3),
        ("front_left_kpa_gauge", 512.3),
        ("compressor_1_on", 1.0),
        ("tank_kpa_gauge", 904.0),
    ];
    assert_eq!(
        found,
        expected.map(|(name, value)| (name.to_string(), value))
    );
    let counts = decoder.counts();
    assert_eq!((counts.frames, counts.matched), (5, 3));
    let total = outcomes(&decoder);
    assert_eq!((total.passed, total.not_available), (4, 2));
    assert_eq!(
        decoder.filters(),
        [(0x00FE_5800, 0x03FF_FF00), (0x00FE_AE00, 0x03FF_FF00)].map(|(id, mask)| IdFilter {
            id,
            mask,
            extended: true
        })
    );
}

#[test]
fn own_messages_are_found_by_identifier_units_and_calibration_applied() {
    let volts = "signal = \"BOX.SensorVolts\"\n[channel.calibrate]\n\
                 two_point = [[0.5, 0.0], [4.5, 1000.0]]";
    let rig = rig(
        BUS,
        &[
            channel("tank_kpa_gauge", "signal = \"BOX.Tank\""),
            channel("front_left_kpa_gauge", volts),
            channel(
                "front_right_kpa_gauge",
                "signal = \"BOX.Bare\"\nunit = \"psi\"",
            ),
            channel("front_left_fill", "signal = \"BOX.Fill\""),
            channel(
                "compressor_1_on",
                "signal = \"BOX.Amps\"\n[channel.on_when]\nabove = 2.0",
            ),
            channel("front_left_mm", "signal = \"LONG.Height\""),
        ]
        .concat(),
    );
    let data: &[u8] = &[0x52, 0x03, 0xC4, 0x09, 100, 1, 40, 0];
    let (found, decoder) = decode(
        &rig,
        &[
            (291, false, data),
            (352, true, &[0xF6, 0xFF]),
            (352, false, &[0xF6, 0xFF]),
            (291, true, data),
            (291, false, &data[..4]),
        ],
    );
    let expected = [
        ("tank_kpa_gauge", 850.0),
        ("front_left_kpa_gauge", 500.0),
        ("front_right_kpa_gauge", 689.475_729),
        ("front_left_fill", 1.0),
        ("compressor_1_on", 1.0),
        ("front_left_mm", -10.0),
        ("tank_kpa_gauge", 850.0),
        ("front_left_kpa_gauge", 500.0),
    ];
    assert_eq!(
        found,
        expected.map(|(name, value)| (name.to_string(), value))
    );
    assert_eq!(outcomes(&decoder).too_short, 3);
}

#[test]
fn readings_out_of_range_and_frames_without_data_are_counted() {
    let rig = rig(
        BUS,
        &channel(
            "tank_kpa_gauge",
            "signal = \"BOX.Tank\"\nrange = [0.0, 1200.0]",
        ),
    );
    let (found, mut decoder) = decode(&rig, &[(291, false, &[0xFF, 0xFF])]);
    assert!(found.is_empty());
    assert_eq!(outcomes(&decoder).out_of_range, 1);
    let remote = CanFrame::new(291, false, &[]).expect("fits").into_remote(8);
    let report = CanFrame::error_report(0x40, &[0; 8]).expect("fits");
    for frame in [remote, report] {
        decoder.decode(&frame, BootMs(0), &mut |_| panic!("no data here"));
    }
    let counts = decoder.counts();
    assert_eq!((counts.frames, counts.matched), (3, 1));
    assert_eq!((counts.remote, counts.error_reports), (1, 1));
}

#[test]
fn every_wrong_channel_is_named_with_its_remedy() {
    let rig = rig(
        BUS,
        &[
            channel("tank_kpa_gauge", "signal = \"BOX.Tnak\""),
            channel("front_left_kpa_gauge", "signal = \"BOX.Bare\""),
            channel("front_right_kpa_gauge", "signal = \"LONG.Height\""),
        ]
        .concat(),
    );
    let error = CanDecoder::new(&rig, 0, &databases()).expect_err("three problems");
    let said: Vec<String> = error.problems.iter().map(ToString::to_string).collect();
    assert_eq!(said.len(), 3);
    assert!(said[0].contains("did you mean `BOX.Tank`?"), "{}", said[0]);
    assert!(
        said[1].contains("no unit for `Bare`; add `unit`"),
        "{}",
        said[1]
    );
    assert!(
        said[2].contains("`Height` in `mm`, which is no unit"),
        "{}",
        said[2]
    );
    let error = CanDecoder::new(&rig, 0, &[]).expect_err("no database");
    assert!(error.to_string().contains("names no database"));
}
