//! What the terminal text promises.

use seep_report::model::{Cell, Column, Section, Table};
use seep_report::render::{Format, RenderOptions, render};

use crate::invented;

fn plain(options: &RenderOptions, report: &seep_report::model::Report) -> String {
    anstream::adapter::strip_str(&render(report, Format::Text, options)).to_string()
}

#[test]
fn no_line_is_wider_than_the_terminal() {
    for width in [40, 60, 80, 132] {
        let options = RenderOptions {
            width,
            text_plots: true,
            ..RenderOptions::default()
        };
        for line in plain(&options, &invented::report()).lines() {
            assert!(line.chars().count() <= width, "{width}: {line}");
        }
    }
}

#[test]
fn the_verdict_comes_first_and_the_health_last() {
    let text = plain(&RenderOptions::default(), &invented::report());
    assert!(text.starts_with("ACT: The rear left dump valve"), "{text}");
    let order = [
        "Evidence\n",
        "Next check\n",
        "Leaks\n",
        "Compressor duty\n",
        "Data health\n",
    ];
    let places: Vec<usize> = order.iter().map(|w| text.find(w).expect(w)).collect();
    assert!(places.is_sorted(), "{places:?}");
}

#[test]
fn a_caution_never_leaves_its_check() {
    let text = plain(&RenderOptions::default(), &invented::report());
    let check = text
        .find("lower and raise the rear left")
        .expect("the check");
    let caution = text
        .find("Caution: a car held up only by air")
        .expect("the caution");
    assert!(caution > check && caution - check < 400);
}

#[test]
fn a_log_cannot_send_commands_to_the_terminal() {
    let mut report = invented::report();
    let evil = "\u{1b}]0;owned\u{7}\u{1b}[2J";
    report.made_from.vehicle = evil.into();
    report.verdict.sentence = evil.into();
    report.findings[0].evidence[0].label = evil.into();
    let mut table = Table::new("t", evil, vec![Column::text(evil)]);
    table.push(vec![Cell::text(evil)]);
    let mut section = Section::new("s", evil);
    section.tables.push(table);
    report.sections.push(section);
    report.health.counters[1].name = evil.into();
    let text = render(&report, Format::Text, &RenderOptions::default());
    assert!(!text.contains("\u{1b}]") && !text.contains("\u{1b}[2J") && !text.contains('\u{7}'));
}
