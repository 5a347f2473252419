//! Kept files: what the invented report looked like when it was last read by
//! a person. `BLESS=1 cargo test -p seep-report --test render` writes them
//! again; read the difference before you commit it.

use std::path::PathBuf;

use seep_report::render::units::{DisplayUnits, LengthUnit, PressureUnit, TemperatureUnit};
use seep_report::render::{Format, RenderOptions, render};

use crate::invented;

fn check(name: &str, got: &str) {
    let path: PathBuf = [env!("CARGO_MANIFEST_DIR"), "tests", "golden", name]
        .iter()
        .collect();
    if std::env::var_os("BLESS").is_some() {
        std::fs::write(&path, got).expect("golden file written");
        return;
    }
    let kept = std::fs::read_to_string(&path).expect("golden file kept; BLESS=1 writes it");
    if kept != got {
        let line = kept.lines().zip(got.lines()).position(|(a, b)| a != b);
        let line = line.unwrap_or(kept.lines().count().min(got.lines().count()));
        panic!(
            "{name} differs at line {}:\nkept: {:?}\nnow:  {:?}",
            line + 1,
            kept.lines().nth(line),
            got.lines().nth(line)
        );
    }
}

fn text(options: &RenderOptions) -> String {
    let styled = render(&invented::report(), Format::Text, options);
    anstream::adapter::strip_str(&styled).to_string()
}

#[test]
fn text_of_the_invented_report() {
    check("invented.txt", &text(&RenderOptions::default()));
}

#[test]
fn text_with_plots_in_psi() {
    let options = RenderOptions {
        units: DisplayUnits {
            pressure: PressureUnit::Psi,
            temperature: TemperatureUnit::Fahrenheit,
            length: LengthUnit::Inch,
        },
        width: 100,
        text_plots: true,
        short: false,
        one_sheet: false,
    };
    check("invented-plots-psi.txt", &text(&options));
}

#[test]
fn csv_of_the_invented_report() {
    check(
        "invented.csv",
        &render(&invented::report(), Format::Csv, &RenderOptions::default()),
    );
}
