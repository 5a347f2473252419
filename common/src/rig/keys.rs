//! Every key a rig file may hold, for its reference page.

use crate::file_key::FileKey;

const V: &str = "[vehicle]";
const T: &str = "[tank]";
const C: &str = "[[circuit]]";
const O: &str = "[[position]]";
const P: &str = "[[compressor]]";
const L: &str = "[limits]";
const S: &str = "[[source]]";
const H: &str = "[[channel]]";
const R: &str = "[recorder]";
const CAL: &str = "[channel.calibrate]";
const RAT: &str = "[channel.calibrate.ratiometric]";
const ON: &str = "[channel.on_when]";

/// Keys of the rig, table by table, in the order of the file.
pub const RIG_KEYS: &[FileKey] = &[
    FileKey::new(
        V,
        "name",
        "text",
        "needed",
        "What the owner calls the vehicle.",
        "name = \"Blue coupe\"",
    ),
    FileKey::new(
        V,
        "altitude_m",
        "m",
        "none",
        "Where the vehicle lives, above sea level; gives the outside pressure where no barometer is recorded.",
        "altitude_m = 180",
    ),
    FileKey::new(
        V,
        "invented",
        "true or false",
        "false",
        "The vehicle and its readings are made up, as in an example; every report of the log says so.",
        "invented = true",
    ),
    FileKey::new(
        T,
        "volume_l",
        "L",
        "none",
        "Volume of the tank with its fittings; without it the tank's loss is told as pressure only.",
        "volume_l = 19.0",
    ),
    FileKey::new(
        C,
        "name",
        "text",
        "needed",
        "Place of an air spring, or of a pair on one axle that shares its valves; channels begin with it.",
        "name = \"front_left\"",
    ),
    FileKey::new(
        C,
        "axle",
        "text",
        "none",
        "Axle it stands on; circuits of one axle are compared with each other.",
        "axle = \"front\"",
    ),
    FileKey::new(
        C,
        "sides",
        "[text, text]",
        "none",
        "Left and right spring of a pair that shares these valves, where the height of each is read: reports then say how much air crosses between them in bends.",
        "sides = [\"front_left\", \"front_right\"]",
    ),
    FileKey::new(
        C,
        "volume_l",
        "L",
        "none",
        "Volume of air behind the valve where only one figure is known; a leak off the stops then cannot be seen.",
        "volume_l = 3.2",
    ),
    FileKey::new(
        C,
        "volume_at_height",
        "[mm, L] pairs",
        "none",
        "Volume of air behind the valve by height, rising in height; straight lines between.",
        "volume_at_height = [[-60, 2.1], [0, 2.9], [60, 3.6]]",
    ),
    FileKey::new(
        C,
        "effective_area_cm2",
        "cm²",
        "none",
        "Effective area of the spring, instead of a table; needs volume_at_zero_height_l.",
        "effective_area_cm2 = 110",
    ),
    FileKey::new(
        C,
        "volume_at_zero_height_l",
        "L",
        "needed with effective_area_cm2",
        "Volume of air behind the valve at height 0.",
        "volume_at_zero_height_l = 2.9",
    ),
    FileKey::new(
        C,
        "line_volume_cm3",
        "cm³",
        "0",
        "Volume of the line from the valves to the spring, where the volumes above leave it out; 28 cm³ for each metre of 6 mm bore.",
        "line_volume_cm3 = 85",
    ),
    FileKey::new(
        C,
        "sensor_at",
        "bag, manifold",
        "bag",
        "Where the pressure sensor sits; at the manifold a slow line cannot be seen in its readings, and reports say so.",
        "sensor_at = \"manifold\"",
    ),
    FileKey::new(
        C,
        "volume_uncertainty_percent",
        "%",
        "5",
        "How well that volume is known, one standard deviation.",
        "volume_uncertainty_percent = 8",
    ),
    FileKey::new(
        C,
        "reference_mm",
        "[mm, mm]",
        "[-25, 25]",
        "Stroke for which times to height are compared, lower end first.",
        "reference_mm = [-30, 30]",
    ),
    FileKey::new(
        C,
        "reference_kpa_gauge",
        "[kPa gauge, kPa gauge]",
        "[400, 500]",
        "Pressures of the corner at the two ends of that stroke.",
        "reference_kpa_gauge = [430, 520]",
    ),
    FileKey::new(
        C,
        "lower_stop_mm",
        "mm",
        "none",
        "Height at which the corner rests on its lower stop.",
        "lower_stop_mm = -75",
    ),
    FileKey::new(
        C,
        "upper_stop_mm",
        "mm",
        "none",
        "Height at which it is fully extended.",
        "upper_stop_mm = 85",
    ),
    FileKey::new(
        C,
        "lowest_ok_mm",
        "mm",
        "none",
        "Below this height the owner calls the corner low.",
        "lowest_ok_mm = -20",
    ),
    FileKey::new(
        C,
        "lowest_ok_kpa_gauge",
        "kPa gauge",
        "none",
        "Below this pressure the owner calls the corner low.",
        "lowest_ok_kpa_gauge = 250",
    ),
    FileKey::new(
        O,
        "name",
        "text",
        "needed",
        "What the driver calls a height that the car is brought to.",
        "name = \"drive\"",
    ),
    FileKey::new(
        O,
        "mm",
        "table of circuit = mm",
        "needed",
        "Height of each circuit there.",
        "mm = { front_left = 0, front_right = 0 }",
    ),
    FileKey::new(
        P,
        "name",
        "text",
        "needed",
        "Place of a compressor; its channels begin with it.",
        "name = \"compressor_1\"",
    ),
    FileKey::new(
        P,
        "rated_duty_percent",
        "%",
        "none",
        "Duty it is rated for, from its plate.",
        "rated_duty_percent = 33",
    ),
    FileKey::new(
        P,
        "rated_window_min",
        "min",
        "10",
        "Window in which that duty is counted (IEC 60034-1, S3).",
        "rated_window_min = 10",
    ),
    FileKey::new(
        P,
        "delivers",
        "true or false",
        "true",
        "False for a motor that also runs unloaded: running time is counted, switch pressures are not.",
        "delivers = false",
    ),
    FileKey::new(
        L,
        "cut_in_kpa_gauge",
        "kPa gauge",
        "none",
        "Tank pressure at which the compressor should start.",
        "cut_in_kpa_gauge = 900",
    ),
    FileKey::new(
        L,
        "cut_out_kpa_gauge",
        "kPa gauge",
        "none",
        "Tank pressure at which it should stop.",
        "cut_out_kpa_gauge = 1150",
    ),
    FileKey::new(
        L,
        "reference_tank_kpa_gauge",
        "kPa gauge",
        "midway between cut-in and cut-out, else 900",
        "Tank pressure for which times to height are compared.",
        "reference_tank_kpa_gauge = 1000",
    ),
    FileKey::new(
        L,
        "height_tolerance_mm",
        "mm",
        "3",
        "A corner has arrived when it stays this near to its last height.",
        "height_tolerance_mm = 3",
    ),
    FileKey::new(
        L,
        "pressure_tolerance_kpa",
        "kPa",
        "10",
        "The same for a corner without a height.",
        "pressure_tolerance_kpa = 10",
    ),
    FileKey::new(
        S,
        "name",
        "text",
        "needed",
        "What channels call this source.",
        "name = \"box\"",
    ),
    FileKey::new(
        S,
        "kind",
        "socketcan, nmea, modbus, csv",
        "needed",
        "Kind of source.",
        "kind = \"nmea\"",
    ),
    FileKey::new(
        S,
        "interface",
        "text",
        "can0",
        "CAN interface (socketcan).",
        "interface = \"can0\"",
    ),
    FileKey::new(
        S,
        "dbc",
        "list of files",
        "[\"builtin:j1939-air\"]",
        "Databases that name the signals of the bus (socketcan).",
        "dbc = [\"my.dbc\"]",
    ),
    FileKey::new(
        S,
        "device",
        "path",
        "none",
        "Serial line (nmea, modbus); needed for live recording, not for replay.",
        "device = \"/dev/serial/by-id/usb-board-0001\"",
    ),
    FileKey::new(
        S,
        "baud",
        "bit/s",
        "38400 (nmea), 9600 (modbus)",
        "Speed of the serial line.",
        "baud = 38400",
    ),
    FileKey::new(
        S,
        "unit_id",
        "1 to 247",
        "1",
        "Station on the line (modbus).",
        "unit_id = 1",
    ),
    FileKey::new(
        S,
        "poll_ms",
        "ms",
        "200",
        "How often registers are asked for (modbus).",
        "poll_ms = 200",
    ),
    FileKey::new(
        S,
        "timeout_ms",
        "ms",
        "500",
        "How long an answer may take (modbus).",
        "timeout_ms = 500",
    ),
    FileKey::new(
        S,
        "time_column",
        "text",
        "needed for csv",
        "Heading of the column with the time (csv).",
        "time_column = \"time\"",
    ),
    FileKey::new(
        S,
        "time_format",
        "unix_s, unix_ms or a pattern",
        "unix_s",
        "How the time is written (csv).",
        "time_format = \"%d.%m.%Y %H:%M:%S\"",
    ),
    FileKey::new(
        S,
        "zone",
        "name of a time zone",
        "UTC",
        "Zone of times without one (csv).",
        "zone = \"Europe/Berlin\"",
    ),
    FileKey::new(
        S,
        "delimiter",
        "one character",
        "\",\"",
        "What parts the cells (csv).",
        "delimiter = \";\"",
    ),
    FileKey::new(
        S,
        "silence_s",
        "s",
        "30",
        "A source that says nothing for so long is a gap.",
        "silence_s = 5",
    ),
    FileKey::new(
        S,
        "sleeps_with_ignition",
        "true or false",
        "false",
        "True for a source that has power only with the ignition: its silence is then \"asleep\".",
        "sleeps_with_ignition = true",
    ),
    FileKey::new(
        H,
        "name",
        "place_quantity",
        "needed",
        "What is recorded; place, quantity and unit are in the name.",
        "name = \"front_left_kpa_gauge\"",
    ),
    FileKey::new(
        H,
        "source",
        "text",
        "needed",
        "Source it comes from.",
        "source = \"box\"",
    ),
    FileKey::new(
        H,
        "signal",
        "Message.Signal",
        "needed for socketcan",
        "Signal in the source's databases.",
        "signal = \"AirSuspension.TankPressure\"",
    ),
    FileKey::new(
        H,
        "transducer",
        "text",
        "needed for nmea",
        "Name of the transducer in XDR sentences.",
        "transducer = \"TANK\"",
    ),
    FileKey::new(
        H,
        "column",
        "text",
        "needed for csv",
        "Heading of the column.",
        "column = \"Tank pressure\"",
    ),
    FileKey::new(
        H,
        "register",
        "0 to 65535",
        "needed for modbus",
        "Address of the register, counted from 0.",
        "register = 100",
    ),
    FileKey::new(
        H,
        "table",
        "input, holding",
        "input",
        "Table of the register (modbus).",
        "table = \"holding\"",
    ),
    FileKey::new(
        H,
        "number",
        "i16, u16, i32, u32, f32",
        "i16",
        "What the register holds (modbus).",
        "number = \"f32\"",
    ),
    FileKey::new(
        H,
        "word_order",
        "high_first, low_first",
        "high_first",
        "Order of the two words of a 32-bit number (modbus).",
        "word_order = \"low_first\"",
    ),
    FileKey::new(
        H,
        "unit",
        "a unit",
        "the channel's",
        "Unit in which the source speaks.",
        "unit = \"psi\"",
    ),
    FileKey::new(
        H,
        "calibrate",
        "table",
        "none",
        "Raw value to reading; see below.",
        "calibrate = { two_point = [[0.5, 0], [4.5, 1400]] }",
    ),
    FileKey::new(
        H,
        "on_when",
        "table",
        "nonzero",
        "When a switch is on; see below.",
        "on_when = { above = 0.1 }",
    ),
    FileKey::new(
        H,
        "resolution",
        "the channel's unit",
        "by quantity",
        "Step in which readings are stored.",
        "resolution = 0.1",
    ),
    FileKey::new(
        H,
        "range",
        "[lowest, highest]",
        "by quantity",
        "Readings outside are counted and not stored.",
        "range = [0, 1400]",
    ),
    FileKey::new(
        H,
        "noise",
        "the channel's unit",
        "from the readings",
        "Noise of one reading, one standard deviation.",
        "noise = 0.4",
    ),
    FileKey::new(
        H,
        "full_scale",
        "the channel's unit",
        "of the calibration; else 1000 kPa, 200 mm",
        "Highest reading of the sensor; errors of its data sheet are shares of it.",
        "full_scale = 1400",
    ),
    FileKey::new(
        H,
        "span_percent",
        "% of the reading",
        "0.5 (pressure), 1 (height)",
        "Error of the sensor's span, one standard deviation.",
        "span_percent = 0.25",
    ),
    FileKey::new(
        H,
        "temperature_percent_per_k",
        "% of full scale per K",
        "0.02",
        "Shift of its zero with its temperature, one standard deviation.",
        "temperature_percent_per_k = 0.01",
    ),
    FileKey::new(
        H,
        "hysteresis_percent",
        "% of full scale",
        "0.03 (pressure), 0.05 (height)",
        "Difference between rising and falling readings, one standard deviation.",
        "hysteresis_percent = 0.1",
    ),
    FileKey::new(
        H,
        "quantum",
        "the channel's unit",
        "one count of the register or signal; else from the readings",
        "Smallest step that the source makes, where it is coarser than what is stored.",
        "quantum = 8",
    ),
    FileKey::new(
        H,
        "period_s",
        "s",
        "10",
        "Longest time between readings that still counts as speaking.",
        "period_s = 60",
    ),
    FileKey::new(
        CAL,
        "two_point",
        "[[raw, reading], [raw, reading]]",
        "one of the two",
        "A straight line through two measured points.",
        "two_point = [[0.52, 0], [3.9, 1150]]",
    ),
    FileKey::new(
        CAL,
        "ratiometric",
        "table",
        "one of the two",
        "A sensor whose output is a fraction of its supply.",
        "ratiometric = { supply_v = 5.0, low_fraction = 0.1, low = 0, high_fraction = 0.9, high = 1400 }",
    ),
    FileKey::new(
        RAT,
        "supply_v",
        "V",
        "needed",
        "Supply of the sensor.",
        "supply_v = 5.0",
    ),
    FileKey::new(
        RAT,
        "low_fraction",
        "0 to 1",
        "needed",
        "Fraction of the supply at the low end.",
        "low_fraction = 0.1",
    ),
    FileKey::new(
        RAT,
        "low",
        "the channel's unit",
        "needed",
        "Reading at the low end.",
        "low = 0",
    ),
    FileKey::new(
        RAT,
        "high_fraction",
        "0 to 1",
        "needed",
        "Fraction of the supply at the high end.",
        "high_fraction = 0.9",
    ),
    FileKey::new(
        RAT,
        "high",
        "the channel's unit",
        "needed",
        "Reading at the high end.",
        "high = 1400",
    ),
    FileKey::new(
        ON,
        "above",
        "raw value",
        "one of the three",
        "On above this.",
        "above = 0.1",
    ),
    FileKey::new(
        ON,
        "below",
        "raw value",
        "one of the three",
        "On below this.",
        "below = 2.5",
    ),
    FileKey::new(
        ON,
        "equals",
        "raw value",
        "one of the three",
        "On at this value.",
        "equals = 3",
    ),
    FileKey::new(
        R,
        "commit_s",
        "s",
        "2",
        "Longest time between commits: what a power cut can take.",
        "commit_s = 2",
    ),
    FileKey::new(
        R,
        "rest_commit_s",
        "s",
        "300",
        "The same while nothing has moved for rest_after_s.",
        "rest_commit_s = 60",
    ),
    FileKey::new(
        R,
        "rest_after_s",
        "s",
        "300",
        "Nothing must have moved for so long before commits become rarer.",
        "rest_after_s = 300",
    ),
    FileKey::new(
        R,
        "full_rate_hz",
        "Hz",
        "50",
        "Rows a second around valve and compressor activity.",
        "full_rate_hz = 50",
    ),
    FileKey::new(
        R,
        "driving_rate_hz",
        "Hz",
        "10",
        "Rows a second while driving.",
        "driving_rate_hz = 10",
    ),
    FileKey::new(
        R,
        "rest_period_s",
        "s",
        "1",
        "Length of one row at rest.",
        "rest_period_s = 1",
    ),
    FileKey::new(
        R,
        "before_activity_s",
        "s",
        "2",
        "Full rate begins so long before activity.",
        "before_activity_s = 2",
    ),
    FileKey::new(
        R,
        "after_activity_s",
        "s",
        "5",
        "Full rate ends so long after it.",
        "after_activity_s = 5",
    ),
    FileKey::new(
        R,
        "power_off_s",
        "s",
        "120",
        "In a replay, a silence of all sources longer than this ends the session.",
        "power_off_s = 120",
    ),
    FileKey::new(
        R,
        "keep_days",
        "days",
        "all",
        "Older sessions may be deleted.",
        "keep_days = 400",
    ),
    FileKey::new(
        R,
        "keep_free_mb",
        "MB",
        "256",
        "Free space to keep, by deleting the oldest sessions.",
        "keep_free_mb = 512",
    ),
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::Rig;
    use std::collections::BTreeMap;

    /// A file in which only one table has a key that nobody knows.
    fn with_unknown_key(table: &str) -> String {
        let whole = "[vehicle]\nname = \"x\"\n";
        match table {
            "" => "zzz = 1\n".into(),
            V => "[vehicle]\nname = \"x\"\nzzz = 1\n".into(),
            CAL => format!(
                "{whole}[[channel]]\nname = \"n\"\nsource = \"s\"\ncalibrate = {{ zzz = 1 }}\n"
            ),
            RAT => format!(
                "{whole}[[channel]]\nname = \"n\"\nsource = \"s\"\ncalibrate = {{ ratiometric = {{ zzz = 1 }} }}\n"
            ),
            ON => format!(
                "{whole}[[channel]]\nname = \"n\"\nsource = \"s\"\non_when = {{ zzz = 1 }}\n"
            ),
            _ => format!("{whole}{table}\nzzz = 1\n"),
        }
    }

    /// What the parser says it expected, sorted.
    fn parser_knows(table: &str) -> Vec<String> {
        let error = toml::from_str::<super::super::raw::RawRig>(&with_unknown_key(table))
            .expect_err("a key nobody knows");
        let quoted = error.message().split('`').skip(1).step_by(2).skip(1);
        let mut known: Vec<String> = quoted.map(String::from).collect();
        assert!(!known.is_empty(), "{table}: {}", error.message());
        known.sort();
        known
    }

    #[test]
    fn the_reference_has_every_key_of_the_parser_and_no_other() {
        let mut tables: BTreeMap<&str, Vec<String>> = BTreeMap::new();
        for key in RIG_KEYS {
            tables.entry(key.table).or_default().push(key.key.into());
        }
        for (table, mut keys) in tables {
            keys.sort();
            assert_eq!(keys, parser_knows(table), "{table}");
        }
        let mut top: Vec<String> = [V, T, C, O, P, L, S, H, R]
            .map(|t| t.trim_matches(['[', ']']).to_string())
            .into();
        top.sort();
        assert_eq!(top, parser_knows(""));
    }

    /// Examples are lines of TOML under their own table.
    #[test]
    fn examples_are_toml() {
        for key in RIG_KEYS {
            let parsed: toml::Table = toml::from_str(key.example).expect(key.example);
            assert_eq!(parsed.keys().collect::<Vec<_>>(), [key.key]);
        }
    }

    /// The defaults that are plain numbers are those of a rig without the key.
    #[test]
    fn defaults_are_those_of_the_parser() {
        let text = "[vehicle]\nname = \"x\"\n[[circuit]]\nname = \"a\"\nvolume_l = 3\n\
                    [[compressor]]\nname = \"p\"\n[[source]]\nname = \"s\"\nkind = \"nmea\"\n\
                    [[channel]]\nname = \"a_kpa_gauge\"\nsource = \"s\"\ntransducer = \"A\"\n";
        let rig = Rig::parse(text).expect("a rig");
        let (r, l) = (&rig.recorder, &rig.limits);
        for (key, used) in [
            (
                "volume_uncertainty_percent",
                rig.circuits[0].volume_uncertainty_percent,
            ),
            ("line_volume_cm3", rig.circuits[0].line_volume_cm3),
            ("rated_window_min", rig.compressors[0].rated_window_min),
            ("height_tolerance_mm", l.height_tolerance_mm),
            ("pressure_tolerance_kpa", l.pressure_tolerance_kpa),
            ("silence_s", rig.sources[0].silence_s),
            ("period_s", rig.channels[0].period_s),
            ("commit_s", r.commit_s),
            ("rest_commit_s", r.rest_commit_s),
            ("rest_after_s", r.rest_after_s),
            ("full_rate_hz", r.full_rate_hz),
            ("driving_rate_hz", r.driving_rate_hz),
            ("rest_period_s", r.rest_period_s),
            ("before_activity_s", r.before_activity_s),
            ("after_activity_s", r.after_activity_s),
            ("power_off_s", r.power_off_s),
            ("keep_free_mb", r.keep_free_mb as f64),
        ] {
            let said = RIG_KEYS.iter().find(|k| k.key == key).expect(key).default;
            assert_eq!(said.parse::<f64>().ok(), Some(used), "{key}");
        }
    }
}
