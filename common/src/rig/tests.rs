//! What a rig accepts and how it refuses.

use super::*;

const GOOD: &str = r#"
[vehicle]
name = "invented estate car"

[tank]
volume_l = 19.0

[[circuit]]
name = "front_left"
axle = "front"
volume_at_height = [[-60.0, 1.2], [0.0, 2.1], [60.0, 3.0]]
lower_stop_mm = -60.0
upper_stop_mm = 70.0

[[compressor]]
name = "compressor_1"
rated_duty_percent = 33.0

[limits]
cut_in_kpa_gauge = 900.0
cut_out_kpa_gauge = 1200.0

[[source]]
name = "box"
kind = "nmea"

[[source]]
name = "bus"
kind = "socketcan"
interface = "can0"

[[channel]]
name = "front_left_kpa_gauge"
source = "box"
transducer = "FLP"
calibrate = { ratiometric = { supply_v = 5.0, low_fraction = 0.1, low = 0.0, high_fraction = 0.9, high = 1000.0 } }

[[channel]]
name = "vehicle_kmh"
source = "bus"
signal = "CCVS1.WheelBasedVehicleSpeed"

[[channel]]
name = "compressor_1_on"
source = "box"
transducer = "MOTOR"
on_when = { above = 0.5 }
"#;

fn problems_of(text: &str) -> String {
    Rig::parse(text)
        .expect_err("the rig must be refused")
        .to_string()
}

#[test]
fn reads_a_whole_rig() {
    let rig = Rig::parse(GOOD).expect("valid");
    assert_eq!(rig.channels.len(), 3);
    let pressure = &rig.channels[0];
    assert!((pressure.value_of(2.5, None) - 500.0).abs() < 1e-9);
    assert!((rig.channels[2].value_of(4.2, None) - 1.0).abs() < f64::EPSILON);
    assert_eq!(rig.circuits[0].volume.volume_l(30.0), Some(2.55));
    assert!((rig.compressors[0].rated_window_min - 10.0).abs() < f64::EPSILON);
    assert_eq!(rig.text, GOOD);
}

#[test]
fn unknown_key_names_line_and_nearest() {
    let text = GOOD.replace("volume_l = 19.0", "volum_l = 19.0");
    let said = problems_of(&text);
    assert!(said.contains("line 6: volum_l"), "{said}");
    assert!(said.contains("did you mean `volume_l`?"), "{said}");
}

#[test]
fn two_tanks_are_refused_with_the_way_to_write_them() {
    let said = problems_of(&GOOD.replace("[tank]", "[[tank]]"));
    assert!(said.contains("tank: a rig has one tank"), "{said}");
    assert!(said.contains("sum of their volumes"), "{said}");
}

#[test]
fn negative_volume_is_refused_with_its_key() {
    let said = problems_of(&GOOD.replace("volume_l = 19.0", "volume_l = -19.0"));
    assert!(
        said.contains("tank.volume_l: -19 is not a number above 0"),
        "{said}"
    );
    assert!(said.starts_with("line "), "{said}");
}

#[test]
fn duplicate_channel_is_refused_at_its_line() {
    let again = "\n[[channel]]\nname = \"vehicle_kmh\"\nsource = \"box\"\ntransducer = \"V\"\n";
    let said = problems_of(&format!("{GOOD}{again}"));
    assert!(said.contains("`vehicle_kmh` is declared twice"), "{said}");
}

#[test]
fn every_problem_is_told_at_once() {
    let text = GOOD
        .replace("source = \"bus\"", "source = \"buss\"")
        .replace("front_left_kpa_gauge", "front_lefd_kpa_gauge")
        .replace("cut_in_kpa_gauge = 900.0", "cut_in_kpa_gauge = 1900.0");
    let said = problems_of(&text);
    assert!(said.contains("did you mean `bus`?"), "{said}");
    assert!(said.contains("did you mean `front_left`?"), "{said}");
    assert!(said.contains("is not below cut_out_kpa_gauge"), "{said}");
}

#[test]
fn a_key_of_another_kind_is_refused() {
    let said = problems_of(&GOOD.replace("interface = \"can0\"", "baud = 9600"));
    assert!(
        said.contains("source.baud: has no meaning for kind `socketcan`"),
        "{said}"
    );
    let said = problems_of(&GOOD.replace("transducer = \"FLP\"", "column = \"FLP\""));
    assert!(said.contains("channel.column"), "{said}");
    assert!(said.contains("add `transducer = …`"), "{said}");
}

#[test]
fn broken_toml_names_the_line() {
    let said = problems_of("[vehicle]\nname = \"x\"\n[tank\nvolume_l = 1");
    assert!(said.starts_with("line 3:"), "{said}");
}

#[test]
fn table_outside_its_ends_continues_the_slope() {
    let table = VolumeModel::Table {
        height_mm: vec![0.0, 10.0],
        volume_l: vec![1.0, 2.0],
    };
    assert_eq!(table.volume_l(20.0), Some(3.0));
    assert_eq!(table.volume_l(-100.0), Some(0.1));
    assert_eq!(table.slope_l_per_mm(-100.0), Some(0.1));
}

#[test]
fn numbers_of_a_serial_line_are_checked() {
    for (key, words) in [
        ("unit_id = 0", "source.unit_id: 0 is not from 1 to 247"),
        ("unit_id = 248", "source.unit_id: 248 is not from 1 to 247"),
        ("baud = 0", "source.baud: 0 is not from 50"),
        ("poll_ms = 99999999999", "source.poll_ms"),
        ("timeout_ms = 0", "source.timeout_ms: 0 is not from 1"),
    ] {
        let text = format!(
            "[vehicle]\nname = \"invented\"\n[[source]]\nname = \"line\"\nkind = \"modbus\"\n{key}\n"
        );
        let error = Rig::parse(&text).expect_err(key).to_string();
        assert!(error.contains(words) && error.contains("line 3"), "{error}");
    }
}

#[test]
fn numbers_that_no_vehicle_has_are_refused_wherever_they_stand() {
    for (number, refused) in [
        ("inf", true),
        ("-inf", true),
        ("nan", true),
        ("1e300", true),
        ("1e-300", true),
        ("12", false),
        ("0", false),
    ] {
        let text = format!(
            "[vehicle]\nname = \"invented\"\n[[source]]\nname = \"box\"\nkind = \"nmea\"\n\
             [[channel]]\nname = \"tank_kpa_gauge\"\nsource = \"box\"\ntransducer = \"T\"\n\
             calibrate = {{ two_point = [[0.5, {number}],\n[4.5, 1000.0]] }}\n"
        );
        let read = Rig::parse(&text);
        assert_eq!(read.is_err(), refused, "{number}");
        if let Err(error) = read {
            let said = error.to_string();
            assert!(
                said.contains("line 10: channel.calibrate.two_point"),
                "{said}"
            );
        }
    }
}

#[test]
fn a_source_sleeps_with_the_ignition_only_when_the_rig_says_so() {
    let rig = |line: &str| {
        let text = format!(
            "[vehicle]\nname = \"invented\"\n[[source]]\nname = \"bus\"\nkind = \"socketcan\"\n{line}\n"
        );
        Rig::parse(&text).map(|rig| rig.sources[0].sleeps_with_ignition)
    };
    assert_eq!(rig(""), Ok(false));
    assert_eq!(rig("sleeps_with_ignition = true"), Ok(true));
    let mistake = rig("sleeps_with_ignitoin = true").expect_err("no such key");
    assert!(
        mistake.to_string().contains("`sleeps_with_ignition`"),
        "{mistake}"
    );
}

#[test]
fn the_line_of_a_circuit_and_the_place_of_its_sensor_are_read() {
    let rig = |lines: &str| {
        let text = format!(
            "[vehicle]\nname = \"invented\"\n[[circuit]]\nname = \"front_left\"\n{lines}\n"
        );
        Rig::parse(&text).map(|rig| rig.circuits[0].clone())
    };
    let plain = rig("volume_l = 3.0").expect("a rig");
    assert_eq!(
        (plain.sensor_at, plain.line_volume_cm3),
        (SensorAt::Bag, 0.0)
    );
    let given =
        rig("volume_l = 3.0\nline_volume_cm3 = 85\nsensor_at = \"manifold\"").expect("a rig");
    assert_eq!(given.sensor_at, SensorAt::Manifold);
    assert_eq!(given.volume.volume_l(0.0), Some(3.085));
    for (lines, words) in [
        (
            "sensor_at = \"tank\"",
            "line 3: circuit.sensor_at: `tank` is not known",
        ),
        (
            "line_volume_cm3 = 85",
            "circuit.line_volume_cm3: there is no volume",
        ),
        (
            "volume_l = 3\nline_volume_cm3 = -1",
            "circuit.line_volume_cm3: -1 is not from 0",
        ),
    ] {
        let said = rig(lines).expect_err(lines).to_string();
        assert!(said.contains(words), "{said}");
    }
}

#[test]
fn what_a_sensor_is_off_by_has_defaults_and_keys() {
    let sensor = |lines: &str| {
        let text = format!(
            "[vehicle]\nname = \"invented\"\n[[source]]\nname = \"box\"\nkind = \"nmea\"\n[[channel]]\n\
             name = \"tank_kpa_gauge\"\nsource = \"box\"\ntransducer = \"TANK\"\n{lines}\n"
        );
        Rig::parse(&text).map(|rig| rig.channels[0].sensor)
    };
    let usual = sensor("").expect("a rig");
    assert_eq!(usual, SensorError::usual(Quantity::GaugePressure));
    let calibrated = sensor("calibrate = { two_point = [[0.5, 0], [4.5, 1400]] }").expect("a rig");
    assert_eq!(calibrated.full_scale, 1_400.0);
    let given = sensor(
        "full_scale = 1600\nspan_percent = 0.25\ntemperature_percent_per_k = 0.01\n\
         hysteresis_percent = 0.1\nquantum = 8",
    );
    let expected = SensorError {
        full_scale: 1_600.0,
        span_percent: 0.25,
        temperature_percent_per_k: 0.01,
        hysteresis_percent: 0.1,
        quantum: Some(8.0),
    };
    assert_eq!(given, Ok(expected));
    for (line, words) in [
        (
            "span_percent = -1",
            "line 6: channel.span_percent: -1 is not from 0",
        ),
        ("quantum = 0", "channel.quantum: 0 is not a number above 0"),
        (
            "temperature_percent_per_k = 5",
            "channel.temperature_percent_per_k: 5 is not from 0 to 1",
        ),
    ] {
        let said = sensor(line).expect_err(line).to_string();
        assert!(said.contains(words), "{said}");
    }
}

#[test]
fn heights_with_a_name_are_read_and_their_circuits_checked() {
    let rig = |lines: &str| {
        let text = format!(
            "[vehicle]\nname = \"invented\"\n[[circuit]]\nname = \"rear\"\n[[position]]\n{lines}\n"
        );
        Rig::parse(&text).map(|rig| rig.positions)
    };
    let drive = rig("name = \"drive\"\nmm = { rear = -5 }").expect("a rig");
    assert_eq!(drive[0].name, "drive");
    assert_eq!(drive[0].mm["rear"], -5.0);
    let error = rig("name = \"drive\"\nmm = { raer = -5 }").expect_err("no such circuit");
    let said = error.to_string();
    assert!(
        said.contains("line 5: position.mm: `raer` is not a circuit"),
        "{said}"
    );
    let low = "name = \"low\"\nmm = { rear = -40 }";
    let twice = format!("{low}\n[[position]]\n{low}");
    let said = rig(&twice).expect_err("twice").to_string();
    assert!(
        said.contains("position.name: `low` is used twice"),
        "{said}"
    );
    for none in [
        "name = \"low\"\nmm = {}",
        "name = \"low\"\nmm = { rear = nan }",
    ] {
        let said = rig(none).expect_err("no height").to_string();
        assert!(said.contains("position.mm: names no height"), "{said}");
    }
}

#[test]
fn the_sides_of_a_pair_are_places_of_their_own() {
    let rig = |sides: &str| {
        let text = format!(
            "[vehicle]\nname = \"invented\"\n[[circuit]]\nname = \"front\"\nsides = {sides}\n\
             [[source]]\nname = \"bench\"\nkind = \"csv\"\ntime_column = \"t\"\n\
             [[channel]]\nname = \"front_left_mm\"\nsource = \"bench\"\ncolumn = \"a\"\n"
        );
        Rig::parse(&text)
    };
    let both = rig("[\"front_left\", \"front_right\"]").expect("a rig");
    let sides = both.circuits[0].sides.as_ref().expect("sides");
    assert_eq!(sides[1], "front_right");
    assert_eq!(both.channels[0].place, "front_left");
    let twice = rig("[\"front_left\", \"front_left\"]").expect_err("twice");
    let said = twice.to_string();
    assert!(
        said.contains("circuit.sides: `front_left` is used twice"),
        "{said}"
    );
    assert!(rig("[\"front_left\"]").is_err());
}
