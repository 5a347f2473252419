//! What the JSON promises.

use seep_report::model::{Measured, Plot, Report, SCHEMA, Unit};
use seep_report::render::{Format, RenderOptions, render};

use crate::invented;

fn json(report: &Report) -> serde_json::Value {
    let text = render(report, Format::Json, &RenderOptions::default());
    serde_json::from_str(&text).expect("valid JSON")
}

#[test]
fn reads_back_to_the_same_value() {
    let mut report = invented::report();
    for section in &mut report.sections {
        section.plots.retain(|p| !matches!(p, Plot::Time(_)));
    }
    let text = render(&report, Format::Json, &RenderOptions::default());
    let back: Report = serde_json::from_str(&text).expect("the model reads its own JSON");
    let again = render(&back, Format::Json, &RenderOptions::default());
    assert_eq!(text.lines().count(), again.lines().count());
    for (first, second) in text.lines().zip(again.lines()) {
        assert!(alike(first, second), "{first}\n{second}");
    }
}

/// Equal, or numbers equal but for the last bit that the reader may lose.
fn alike(first: &str, second: &str) -> bool {
    let number = |line: &str| {
        let value = line.rsplit(' ').next().unwrap_or(line);
        value.trim_end_matches(',').parse::<f64>().ok()
    };
    match (number(first), number(second)) {
        (Some(a), Some(b)) => (a - b).abs() <= a.abs() * 1e-15,
        _ => first == second,
    }
}

#[test]
fn says_its_version_and_spells_its_units() {
    let value = json(&invented::report());
    assert_eq!(value["schema"], SCHEMA);
    let leak = &value["findings"][0]["evidence"][0]["value"];
    assert_eq!(leak["unit"], "cm³/min ANR");
    assert_eq!(leak["value"], 38.2);
    assert_eq!(leak["kind"], "estimate");
    let names: std::collections::BTreeSet<String> = Unit::ALL
        .iter()
        .map(|u| serde_json::to_string(u).expect("a word"))
        .collect();
    assert_eq!(names.len(), Unit::ALL.len(), "two units spelled alike");
}

#[test]
fn long_traces_keep_their_extremes_and_say_so() {
    let report = invented::report();
    let value = json(&report);
    let Plot::Time(plot) = &report.sections[0].plots[0] else {
        panic!("the first plot is over time");
    };
    let full = &plot.panels[1].traces[2];
    let thin = &value["sections"][0]["plots"][0]["panels"][1]["traces"][2];
    let values = thin["values"].as_array().expect("values");
    let lowest = values
        .iter()
        .filter_map(serde_json::Value::as_f64)
        .fold(f64::MAX, f64::min);
    let expected = full
        .values
        .iter()
        .flatten()
        .copied()
        .fold(f64::MAX, f64::min);
    assert!((lowest - expected).abs() < 1e-12);
    assert!(values.len() < 6_000 && full.values.len() > 60_000);
    assert_eq!(thin["thinned_from"], full.values.len());
}

#[test]
fn a_number_that_is_none_becomes_null() {
    let mut report = invented::report();
    report.findings[0].evidence[0].value = Measured::exact(f64::NAN, Unit::Volt).into();
    assert!(json(&report)["findings"][0]["evidence"][0]["value"]["value"].is_null());
}

#[test]
fn no_control_character_is_written_raw() {
    let mut report = invented::report();
    report.made_from.vehicle = "a\u{9b}2J\u{1b}[2J\u{7f}b".into();
    let text = render(&report, Format::Json, &RenderOptions::default());
    assert!(text.chars().all(|c| c == '\n' || !c.is_control()));
    let back = json(&report);
    assert_eq!(back["made_from"]["vehicle"], "a\u{9b}2J\u{1b}[2J\u{7f}b");
}
