//! What the page promises.

use seep_report::model::{Cell, Column, Plot, Report, Section, Table};
use seep_report::render::{Format, RenderOptions, render};

use crate::invented;

fn page(report: &Report) -> String {
    render(report, Format::Html, &RenderOptions::default())
}

#[test]
fn loads_nothing_from_anywhere() {
    let page = page(&invented::report());
    let body = page.replace("http-equiv", "");
    for outside in [
        "http", "//www", "url(//", "@import", "src=", "<link", "<img", "<iframe", "fetch(",
        "XMLHttp",
    ] {
        assert!(!body.contains(outside), "{outside}");
    }
    assert_eq!(
        body.matches("url(").count(),
        1,
        "only the hatching inside the page"
    );
    assert!(page.contains("default-src 'none'"));
    assert!(!page.contains("unsafe-inline"));
}

#[test]
fn a_fortnight_fits_two_megabytes() {
    let page = page(&invented::report());
    assert!(page.len() < 2_000_000, "{} bytes", page.len());
    assert!(include_str!("../../src/render/html/zoom.js").len() < 15_000);
}

#[test]
fn the_same_report_gives_the_same_page() {
    assert!(page(&invented::report()) == page(&invented::report()));
}

/// Every text that a log or a rig can set, set to something hostile.
fn hostile() -> Report {
    let evil = "</script><script>alert(1)</script>\" onload=\"x\u{2028}&";
    let mut report = invented::report();
    report.made_from.vehicle = evil.into();
    report.made_from.log_file = evil.into();
    report.made_from.log_sha256 = evil.into();
    report.verdict.sentence = evil.into();
    report.notes.push(evil.into());
    let finding = &mut report.findings[0];
    finding.place = evil.into();
    finding.sentence = evil.into();
    finding.evidence[0].label = evil.into();
    finding.candidates[0].name = evil.into();
    for plot in report.sections.iter_mut().flat_map(|s| &mut s.plots) {
        match plot {
            Plot::Time(p) => {
                p.id = evil.into();
                p.panels[0].traces[0].name = evil.into();
                p.marks[0].place = evil.into();
                p.gaps[0].cause = evil.into();
            }
            Plot::Fit(p) => p.title = evil.into(),
            Plot::Bars(p) => p.bars[0].label = evil.into(),
            Plot::Trend(p) => p.steps[0].label = evil.into(),
            Plot::Intervals(p) => {
                p.rows[0].label = evil.into();
                p.rows[0].remark = evil.into();
            }
        }
    }
    let mut table = Table::new(evil, evil, vec![Column::text(evil)]);
    table.push(vec![Cell::text(evil)]);
    table.push(vec![Cell::missing(evil)]);
    let mut section = Section::new(evil, evil);
    section.tables.push(table);
    report.sections.push(section);
    report.health.gaps[0].cause = evil.into();
    report.health.counters[1].place = evil.into();
    report
}

#[test]
fn text_from_a_log_stays_text() {
    let plain = page(&invented::report());
    let page = page(&hostile());
    assert!(!page.contains("<script>alert"));
    assert!(!page.contains("onload=\""));
    assert_eq!(
        page.matches("<script").count(),
        plain.matches("<script").count()
    );
    assert_eq!(
        page.matches("</script").count(),
        plain.matches("</script").count()
    );
    assert!(
        page.contains("&lt;script&gt;alert(1)"),
        "it is still shown, as text"
    );
}

#[test]
fn the_data_block_is_json_with_every_trace() {
    let page = page(&hostile());
    let start = page
        .find("<script type=\"application/json\">")
        .expect("the data");
    let rest = &page[start + 32..];
    let text = &rest[..rest.find("</script>").expect("its end")];
    let data: serde_json::Value = serde_json::from_str(text).expect("JSON");
    assert_eq!(
        data["panels"][0]["traces"]
            .as_array()
            .expect("traces")
            .len(),
        5
    );
    assert_eq!(data["gaps"].as_array().expect("gaps").len(), 3);
    let name = data["panels"][0]["traces"][0]["name"]
        .as_str()
        .expect("a name");
    assert!(name.contains("<script>alert(1)"));
}

/// No line crosses a gap: between the end of one stroke and the start of the
/// next lies at least the gap.
#[test]
fn lines_stop_at_gaps() {
    let page = page(&invented::report());
    let width = 1000.0 / (14.0 * 24.0);
    let (from, to) = (100.0 * width, 106.0 * width);
    let path = page
        .split("<path class=\"trace t0\" d=\"")
        .nth(2)
        .expect("a drawn trace");
    let path = &path[..path.find('"').expect("its end")];
    let strokes = path.split('M').skip(1);
    let xs = |stroke: &str| -> Vec<f64> {
        let points = stroke.replace("h0", "");
        points
            .split('L')
            .map(|p| p.split(' ').next().expect("x").parse().expect("number"))
            .collect()
    };
    let mut strokes_seen = 0;
    for stroke in strokes {
        let xs = xs(stroke);
        strokes_seen += 1;
        let crosses = xs[0] < from && *xs.last().expect("a point") > to;
        assert!(!crosses, "a stroke from {} to {:?}", xs[0], xs.last());
    }
    assert!(
        strokes_seen >= 4,
        "three gaps make four strokes, not {strokes_seen}"
    );
}

#[test]
fn headings_captions_and_labels_are_there() {
    let page = page(&invented::report());
    for must in [
        "<html lang=\"en\">",
        "<main id=\"answer\"",
        "<nav aria-label=",
        "<header>",
        "<footer>",
        "scope=\"col\"",
        "scope=\"row\"",
        "<figcaption>",
        "<caption class=\"hidden\">",
        "<p class=\"caption\" aria-hidden=\"true\">",
        "role=\"img\" aria-label=",
        "<details>",
    ] {
        assert!(page.contains(must), "{must}");
    }
    let figures = page.matches("<figure ").count();
    assert_eq!(figures, 5);
    assert_eq!(page.matches("<figcaption>").count(), figures);
    assert_eq!(page.matches("<summary>").count(), figures);
    assert_eq!(page.matches("<h1>").count(), 1);
}

/// Headings go down one step at a time, every data table has a caption, and
/// every heading cell says whether it heads a column or a row.
#[test]
fn the_outline_has_no_holes_and_tables_name_their_cells() {
    let page = page(&invented::report());
    let levels: Vec<u32> = page
        .match_indices("<h")
        .filter_map(|(at, _)| page[at + 2..].chars().next()?.to_digit(10))
        .collect();
    assert_eq!(levels.first(), Some(&1));
    for pair in levels.windows(2) {
        assert!(pair[1] <= pair[0] + 1, "{levels:?}");
    }
    assert_eq!(
        page.matches("<table").count(),
        page.matches("<caption").count()
    );
    assert_eq!(
        page.matches("<th ").count() + page.matches("<th>").count(),
        page.matches("scope=\"").count()
    );
}

#[test]
fn identifiers_are_unique() {
    let page = page(&invented::report());
    let mut ids: Vec<&str> = page
        .split(" id=\"")
        .skip(1)
        .map(|rest| &rest[..rest.find('"').expect("closed")])
        .collect();
    let all = ids.len();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), all);
}
