//! Text and traces can be told from the paper, light and dark.
//!
//! **Source**: W3C Web Content Accessibility Guidelines 2.2, definitions of
//! relative luminance and contrast ratio; success criterion 1.4.3 asks 4.5:1.

const STYLE: &str = include_str!("../../src/render/html/page.css");

fn channel(hex: &str) -> f64 {
    let c = f64::from(u8::from_str_radix(hex, 16).expect("two digits")) / 255.0;
    if c <= 0.040_45 {
        c / 12.92
    } else {
        ((c + 0.055) / 1.055).powf(2.4)
    }
}

fn luminance(colour: &str) -> f64 {
    0.2126 * channel(&colour[1..3])
        + 0.7152 * channel(&colour[3..5])
        + 0.0722 * channel(&colour[5..7])
}

fn contrast(a: &str, b: &str) -> f64 {
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

/// Name and colour of every variable in the n-th block of variables.
fn colours(block: usize) -> Vec<(String, String)> {
    let text = STYLE.split(":root {").nth(block + 1).expect("a block");
    let text = &text[..text.find('}').expect("its end")];
    text.lines()
        .filter_map(|line| line.trim().strip_prefix("--")?.split_once(": "))
        .map(|(name, colour)| (name.to_string(), colour.trim_end_matches(';').to_string()))
        .collect()
}

/// Black on white is 21:1 by definition; #767676 on white is the well-known
/// edge of 4.5:1 (from memory).
#[test]
fn the_formula_agrees_with_known_pairs() {
    assert!((contrast("#000000", "#ffffff") - 21.0).abs() < 1e-9);
    assert!((contrast("#767676", "#ffffff") - 4.54).abs() < 0.01);
}

#[test]
fn every_colour_stands_out_from_the_paper() {
    for block in [0, 1] {
        let all = colours(block);
        assert_eq!(all.len(), 22, "block {block}");
        let find = |name: &str| &all.iter().find(|c| c.0 == name).expect(name).1;
        for (name, colour) in &all {
            if ["paper", "sheet", "line"].contains(&name.as_str()) {
                continue;
            }
            for ground in ["paper", "sheet"] {
                let ratio = contrast(colour, find(ground));
                assert!(
                    ratio >= 4.5,
                    "{name} on {ground} in block {block}: {ratio:.2}"
                );
            }
        }
    }
}

/// Whoever knows the colour of a place must not take an event for it.
#[test]
fn no_event_has_the_colour_of_a_place() {
    for block in [0, 1] {
        let all = colours(block);
        for event in ["fill", "dump", "run", "data"] {
            let of = |name: &str| &all.iter().find(|c| c.0 == name).expect(name).1;
            let place = (0..8).find(|i| of(&format!("t{i}")) == of(event));
            assert_eq!(place, None, "{event} in block {block}");
        }
    }
}
