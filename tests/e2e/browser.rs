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

fn page(command: &[&str], log: &str, folder: &Path) -> PathBuf {
    let out = folder.join(format!("{}.html", command[0]));
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
    let pages = [
        page(&["trip"], &log, folder.path()),
        page(&["proof", "--plan", &plan], &log, folder.path()),
        page(&["verify"], &log, folder.path()),
    ];
    let done = look(chromium, folder.path(), &pages);
    let said = String::from_utf8_lossy(&done.stdout).into_owned();
    let errors = String::from_utf8_lossy(&done.stderr).into_owned();
    assert!(done.status.success(), "{said}{errors}");
    // Four looks and the rest at each of three pages: nothing was left out.
    assert!(said.matches("ok   ").count() >= 75, "{said}");
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
    let text = format!(
        "<!doctype html><html><head><style>button{{outline:none!important}}</style></head><body>\
         <h1>x</h1><h1>y</h1>{words}<p style=\"color:#999;background:#fff\">too pale to read</p>\
         <div style=\"width:3000px\">wide</div><button>press</button><svg width=9 height=9></svg>\
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
        "contrast of",
        "one heading of the first order",
        "every drawing has a name",
        "the focus is visible",
    ] {
        let line = said.lines().find(|l| l.contains(fault)).unwrap_or("");
        assert!(line.starts_with("BAD"), "{fault}: {said}");
    }
}
