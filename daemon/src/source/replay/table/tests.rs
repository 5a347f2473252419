//! Tables as other loggers write them.

use super::*;

const RIG: &str = r#"
[vehicle]
name = "invented"
[[compressor]]
name = "compressor_1"
[[source]]
name = "table"
kind = "csv"
time_column = "When"
time_format = "unix_s"
[[channel]]
name = "tank_kpa_gauge"
source = "table"
column = "Tank, bar"
unit = "bar"
[[channel]]
name = "compressor_1_on"
source = "table"
column = "Motor"
"#;

fn read(rig: &str, text: &str) -> (Vec<Item>, Counts) {
    let rig = Rig::parse(rig).expect("valid");
    let header = text.lines().next().expect("a header").to_string();
    let plan = ColumnPlan::new(header.as_bytes(), &rig, 0).unwrap_or_else(|e| panic!("{e:?}"));
    let mut table = Table::new(text.as_bytes(), plan);
    let (mut items, mut counts) = (Vec::new(), Counts::new(1));
    while table.fill(&mut items, &mut counts).expect("memory") {}
    (items, counts)
}

fn values(items: &[Item]) -> Vec<(i64, u16, f64)> {
    let value = |i: &Item| match i.payload {
        Payload::Reading(c, v) => Some((i.t_ms.0, c.0, v)),
        _ => None,
    };
    items.iter().filter_map(value).collect()
}

#[test]
fn reads_quoted_headings_units_and_words() {
    let text = "\u{feff}x,\"Tank, bar\",When,Motor\r\n\
                1,8.5,1000.5,on\r\n\
                1,,1001,0\r\n";
    let (items, counts) = read(RIG, text);
    assert_eq!(
        values(&items),
        [
            (1_000_500, 0, 850.0),
            (1_000_500, 1, 1.0),
            (1_001_000, 1, 0.0)
        ]
    );
    assert_eq!(counts.total(0, Count::TableRows), 2);
}

#[test]
fn what_cannot_be_read_is_counted_and_the_rest_is_kept() {
    let text = "When,\"Tank, bar\",Motor\n\
                1000,8.5,1\n\
                later,8.5,1\n\
                1002,8.5\n\
                1003,\"8.5,1\n\
                1004,high,1\n\
                1005,NaN,\n\
                \n\
                1006,8.6,1,\n\
                1007,8.6,1,extra\n\
                1008,8.";
    let (items, counts) = read(RIG, text);
    let times: Vec<_> = items.iter().map(|i| i.t_ms.0 / 1000).collect();
    assert_eq!(times, [1000, 1000, 1004, 1005, 1006, 1006]);
    assert_eq!(items[3].payload, Payload::Heard(0));
    assert_eq!(counts.total(0, Count::BadTimes), 1);
    assert_eq!(counts.total(0, Count::BadLines), 3);
    assert_eq!(counts.total(0, Count::BadNumbers), 1);
    assert_eq!(counts.total(0, Count::NotAvailable), 1);
    assert_eq!(counts.total(0, Count::CutLines), 1);
}

#[test]
fn a_decimal_comma_is_read_where_it_is_no_delimiter() {
    let rig = RIG.replace("time_format", "delimiter = \";\"\ntime_format");
    let (items, _) = read(&rig, "When;Tank, bar;Motor\n1000;8,25;1\n");
    assert_eq!(values(&items)[0], (1_000_000, 0, 825.0));
}

#[test]
fn a_missing_column_is_named() {
    let rig = Rig::parse(RIG).expect("valid");
    assert!(matches!(
        ColumnPlan::new(b"When,Motor", &rig, 0),
        Err(NotThisTable::NoColumn { wanted, .. }) if wanted == "Tank, bar"
    ));
}

#[test]
fn a_cell_that_is_no_text_spoils_itself_only() {
    let mut cells = Cells::new(',');
    let mut texts = |line: &[u8]| -> Vec<String> {
        let row = cells.split(line).expect("a row");
        (0..row.len()).map(|i| row.text(i).into()).collect()
    };
    assert_eq!(texts(b"a,\xff, 5 "), ["a", "\u{fffd}", " 5 "]);
    // Halves of a letter on either side of a delimiter make none.
    assert_eq!(texts(b"\xc3,\xa9,7"), ["\u{fffd}", "\u{fffd}", "7"]);
}
