//! What the CSV promises.

use seep_report::render::units::{DisplayUnits, PressureUnit};
use seep_report::render::{Format, RenderOptions, render};

use crate::invented;

#[test]
fn numbers_follow_the_chosen_unit_at_full_precision() {
    let options = RenderOptions {
        units: DisplayUnits {
            pressure: PressureUnit::Bar,
            ..DisplayUnits::default()
        },
        ..RenderOptions::default()
    };
    let text = render(&invented::report(), Format::Csv, &options);
    assert!(text.contains("pressure rate (bar/h),pressure rate low (bar/h)"));
    assert!(text.contains("\r\nfront left,19,2.14,1.53"));
}

#[test]
fn text_from_a_log_cannot_become_a_formula() {
    let mut report = invented::report();
    report.made_from.vehicle = "=HYPERLINK(\"x\")".into();
    report.findings[0].place = "@SUM(A1)".into();
    report.sections[0].title = "-2+3".into();
    let text = render(&report, Format::Csv, &RenderOptions::default());
    for line in text.lines() {
        for field in line.split(',') {
            let field = field.trim_start_matches('"');
            let number = field.parse::<f64>().is_ok();
            assert!(
                number || !field.starts_with(['=', '+', '-', '@']),
                "{field} in {line}"
            );
        }
    }
}
