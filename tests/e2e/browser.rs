//! The pages in a real browser: console, requests, width, contrast, keyboard,
//! zoom, print. Chromium is driven over its DevTools pipe by `tests/browser`.

use super::{SEEP, replayed};
use seep_tests::{code, run, sample};
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

const CHROMIUM: [&str; 3] = ["chromium", "chromium-browser", "google-chrome-stable"];

fn runs(program: &str, argument: &str) -> bool {
    Command::new(program)
        .arg(argument)
        .output()
        .is_ok_and(|done| done.status.success())
}

/// The browser, or none after a loud word.
fn chromium(test: &str) -> Option<&'static str> {
    let found = CHROMIUM.into_iter().find(|c| runs(c, "--version"));
    if found.is_none() || !runs("python3", "--version") {
        eprintln!(
            "SKIPPED LOUDLY: {test}: chromium or python3 is not installed (on Debian: apt install \
             chromium python3)"
        );
        return None;
    }
    found
}

fn look(chromium: &str, folder: &Path, pages: &[PathBuf]) -> Output {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("browser/check.py");
    Command::new("python3")
        .arg(script)
        .arg(chromium)
        .arg(folder)
        .args(pages)
        .output()
        .expect("python3 was there")
}

fn cars(folder: &Path) -> PathBuf {
    let out = folder.join("cars.html");
    let (path, place) = (out.display().to_string(), folder.display().to_string());
    let args = [
        "cars", &place, "--zone", "UTC", "--format", "html", "--out", &path,
    ];
    let done = run(SEEP, &args);
    assert_eq!(code(&done), 0, "{}", String::from_utf8_lossy(&done.stderr));
    out
}

fn page(name: &str, command: &[&str], log: &str, folder: &Path) -> PathBuf {
    let out = folder.join(format!("{name}.html"));
    let path = out.display().to_string();
    let rest = [
        "--log", log, "--zone", "UTC", "--format", "html", "--out", &path,
    ];
    let done = run(SEEP, &[command, &rest[..]].concat());
    assert_eq!(code(&done), 0, "{}", String::from_utf8_lossy(&done.stderr));
    out
}

#[test]
fn the_pages_hold_in_a_browser() {
    let Some(chromium) = chromium("the_pages_hold_in_a_browser") else {
        return;
    };
    let folder = tempfile::tempdir().expect("scratch");
    let log = replayed("slow-leak-overnight", folder.path());
    let plan = sample("../plans/autumn-show.toml").display().to_string();
    let against = ["trip", "--last", "day", "--against", "before"];
    let pages = [
        page("trip", &["trip"], &log, folder.path()),
        page("proof", &["proof", "--plan", &plan], &log, folder.path()),
        page("verify", &["verify"], &log, folder.path()),
        page("diagnose", &["diagnose"], &log, folder.path()),
        page("leaks", &["leaks"], &log, folder.path()),
        page("moves", &["moves"], &log, folder.path()),
        page("duty", &["duty"], &log, folder.path()),
        page("sessions", &["sessions"], &log, folder.path()),
        page("against", &against, &log, folder.path()),
        cars(folder.path()),
    ];
    let done = look(chromium, folder.path(), &pages);
    let said = String::from_utf8_lossy(&done.stdout).into_owned();
    let errors = String::from_utf8_lossy(&done.stderr).into_owned();
    assert!(done.status.success(), "{said}{errors}");
    // Four looks and the rest at each of ten pages: nothing was left out.
    assert!(said.matches("ok   ").count() >= 430, "{said}");
    for picture in ["trip-390.png", "trip-1280-dark.png", "proof.pdf"] {
        let size = std::fs::metadata(folder.path().join(picture))
            .expect(picture)
            .len();
        assert!(size > 20_000, "{picture}: {size}");
    }
}

/// The checks themselves can fail: a page with every fault is refused for each.
#[test]
fn a_bad_page_is_caught() {
    let Some(chromium) = chromium("a_bad_page_is_caught") else {
        return;
    };
    let folder = tempfile::tempdir().expect("scratch");
    let bad = folder.path().join("bad.html");
    let words = "<p>words words</p>".repeat(60);
    let rows = "<tr><td style=\"height:90px\">row</td></tr>".repeat(10);
    let text = format!(
        "<!doctype html><html><head><style>button{{outline:none!important}}</style></head><body>\
         <h1>x</h1><h1>y</h1>{words}<p style=\"color:#999;background:#fff\">too pale to read</p>\
         <p class=caption style=\"width:2000px\">cut</p><svg class=x width=90 height=20>\
         <text x=1 y=9>label</text><text x=9 y=9>label</text></svg>\
         <table class=few>{rows}</table><div style=\"width:3000px\">wide</div><button>press</button><svg width=9 height=9></svg>\
         <svg class=plot role=img aria-label=\"pressure\" width=9 height=9></svg>\
         <img src=\"missing.png\"><script>console.error('no')</script></body></html>"
    );
    std::fs::write(&bad, text).expect("written");
    let done = look(chromium, folder.path(), &[bad]);
    let said = String::from_utf8_lossy(&done.stdout).into_owned();
    assert!(!done.status.success());
    for fault in [
        "nothing on the console",
        "no request but the page itself",
        "nothing sticks out sideways",
        "is cut at the edge",
        "lies on its neighbour",
        "contrast of",
        "one heading of the first order",
        "every drawing has a name",
        "the focus is visible",
        "says its trend",
        "is split in print",
    ] {
        let line = said.lines().find(|l| l.contains(fault)).unwrap_or("");
        assert!(line.starts_with("BAD"), "{fault}: {said}");
    }
}

/// What a customer is handed is one sheet of A4 in every scenario.
#[test]
fn a_sheet_to_hand_over_is_one_sheet() {
    let Some(chromium) = chromium("a_sheet_to_hand_over_is_one_sheet") else {
        return;
    };
    let folder = tempfile::tempdir().expect("scratch");
    for name in seep_tests::SCENARIOS {
        let made = folder.path().join(name);
        std::fs::create_dir_all(&made).expect("made");
        let log = replayed(name, &made);
        let (html, pdf) = (made.join("sheet.html"), made.join("sheet.pdf"));
        let path = html.display().to_string();
        let args = [
            "trip",
            "--log",
            &log,
            "--one-sheet",
            "--zone",
            "UTC",
            "--out",
            &path,
        ];
        assert_eq!(code(&seep_tests::run_as_typed(SEEP, &args)), 0);
        let done = Command::new(chromium)
            .args([
                "--headless",
                "--no-sandbox",
                "--disable-gpu",
                "--no-pdf-header-footer",
            ])
            .arg(format!(
                "--user-data-dir={}",
                made.join("profile").display()
            ))
            .arg(format!("--print-to-pdf={}", pdf.display()))
            .arg(format!("file://{path}"))
            .output()
            .expect("starts");
        assert!(
            done.status.success(),
            "{}",
            String::from_utf8_lossy(&done.stderr)
        );
        let printed = std::fs::read(&pdf).expect("printed");
        let text = String::from_utf8_lossy(&printed);
        assert!(text.contains("/Count 1"), "{name}: more than one sheet");
    }
}
