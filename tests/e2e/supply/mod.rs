//! What the programs stand on: licences, sources, how much, and which compiler
//! it asks for. Reads cargo's own account, without a network.

mod crates;
mod licence;

use crates::{Crates, listed, member};
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

fn root() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/.."))
}

fn toml(path: &str) -> toml::Table {
    let text = std::fs::read_to_string(root().join(path)).expect("there");
    text.parse().expect("TOML")
}

/// Texts of a list in `deny.toml`.
fn allowed(table: &str, list: &str, key: Option<&str>) -> Vec<String> {
    let deny = toml("tests/deny.toml");
    let entries = deny[table][list].as_array().expect("a list");
    let text = |entry: &toml::Value| {
        let entry = key.map_or(entry, |key| &entry[key]);
        entry.as_str().expect("text").to_string()
    };
    entries.iter().map(text).collect()
}

#[test]
fn every_licence_is_one_we_allow() {
    let licences = allowed("licenses", "allow", None);
    let excepted = allowed("licenses", "exceptions", Some("crate"));
    let crates = Crates::of_this_machine();
    let mut refused = Vec::new();
    for one in crates.foreign() {
        let allows = |name: &str| licences.iter().any(|l| l == name);
        let fine = licence::holds(&one.licence, &allows) || excepted.contains(&one.name);
        if !fine {
            refused.push(format!("{} {}: {}", one.name, one.version, one.licence));
        }
    }
    assert!(refused.is_empty(), "{refused:#?}");
    for name in excepted {
        assert!(
            crates
                .foreign()
                .any(|c| c.name == name && c.licence == "MPL-2.0"),
            "the exception for {name} is stale"
        );
    }
}

#[test]
fn everything_comes_from_the_public_registry_or_from_here() {
    for one in Crates::of_this_machine().all() {
        let here = one.source.is_empty();
        let registry = one.source == "registry+https://github.com/rust-lang/crates.io-index";
        assert!(here || registry, "{}: {}", one.name, one.source);
        assert_eq!(here, one.name.starts_with("seep-"), "{}", one.name);
    }
}

#[test]
fn two_versions_of_one_library_are_known_and_said_why() {
    let mut versions: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for (name, version) in listed("seep-tests", "normal,build") {
        versions.entry(name).or_default().insert(version);
    }
    let double: BTreeSet<String> = versions
        .into_iter()
        .filter(|(_, v)| v.len() > 1)
        .flat_map(|(name, v)| {
            v.into_iter()
                .rev()
                .skip(1)
                .map(move |v| format!("{name}@{v}"))
        })
        .collect();
    let known: BTreeSet<String> = allowed("bans", "skip", Some("crate")).into_iter().collect();
    let new: Vec<_> = double.difference(&known).collect();
    assert!(new.is_empty(), "not in deny.toml: {new:?}");
}

/// The figure that DEVELOPERS.md states, and what a recorder has no use for.
#[test]
fn the_recorder_stands_on_no_more_than_is_stated() {
    let crates: BTreeSet<_> = listed("seep-daemon", "normal")
        .into_iter()
        .filter(|(name, _)| !name.starts_with("seep-"))
        .collect();
    let text = std::fs::read_to_string(root().join("DEVELOPERS.md")).expect("there");
    let (before, _) = text
        .split_once(" crates under the recorder")
        .expect("DEVELOPERS.md states the number");
    let stated: usize = before
        .rsplit(|c: char| !c.is_ascii_digit())
        .next()
        .and_then(|n| n.parse().ok())
        .expect("a number");
    println!(
        "{} crates under the recorder, {stated} stated",
        crates.len()
    );
    assert!(crates.len() <= stated, "{} > {stated}", crates.len());
    assert!(
        crates.len() + 5 >= stated,
        "{stated} is out of date: {}",
        crates.len()
    );
    for unwanted in [
        "polars",
        "arrow",
        "reqwest",
        "hyper",
        "rustls",
        "openssl-sys",
        "libudev-sys",
    ] {
        let there = crates.iter().any(|(name, _)| name == unwanted);
        assert!(!there, "{unwanted} under the recorder");
    }
}

/// No library states a newer compiler than we do. What a library does not state
/// is not proven by this, nor is that ours builds with that compiler: for that,
/// clippy's `incompatible_msrv` looks at the standard library's part, and the
/// rest is only known for the compiler at hand.
#[test]
fn nothing_asks_for_a_newer_compiler_than_we_state() {
    let crates = Crates::of_this_machine();
    for name in [
        "seep-common",
        "seep-daemon",
        "seep-sample-logs",
        "seep-report",
        "seep-tests",
    ] {
        let ours = member(&crates, name).rust_version.expect("stated");
        let (mut unstated, mut newest) = (0, (0, 0, 0));
        let below = listed(name, "normal,build,dev");
        for (name_below, version) in &below {
            let asked = crates.find(name_below, version).rust_version;
            unstated += usize::from(asked.is_none());
            newest = newest.max(asked.unwrap_or_default());
            assert!(
                asked <= Some(ours),
                "{name} states {ours:?}, {name_below} {version} asks for {asked:?}"
            );
        }
        println!(
            "{name}: {ours:?} stated, {newest:?} asked for at most, by {} of {} libraries unstated",
            unstated,
            below.len()
        );
    }
    let lints = toml("Cargo.toml");
    let lint = &lints["workspace"]["lints"]["clippy"]["incompatible_msrv"];
    assert_eq!(lint.as_str(), Some("warn"), "CI turns warnings into errors");
}

#[test]
fn the_papers_state_the_same_compilers() {
    let crates = Crates::of_this_machine();
    let words = |name: &str| {
        let (major, minor, _) = member(&crates, name).rust_version.expect("stated");
        format!("{major}.{minor}")
    };
    let (whole, recorder) = (words("seep-report"), words("seep-daemon"));
    let says = |path: &str, what: &str| {
        let text = std::fs::read_to_string(root().join(path)).expect("there");
        assert!(text.contains(what), "{path} does not say `{what}`");
    };
    says(
        "README.md",
        &format!("Rust {whole} or later (the recorder alone: {recorder})"),
    );
    says("tests/run", &format!("Rust ({whole} or later)"));
    says("tests/truth/run", &format!("Rust ({whole} or later)"));
}

/// What is built by our words is what was tested: every build, run and install
/// in a document or a script keeps to `Cargo.lock`.
#[test]
fn every_documented_build_keeps_to_the_lock_file() {
    let listed = std::process::Command::new("git")
        .args(["ls-files", "-z"])
        .current_dir(root())
        .output();
    let Ok(listed) = listed.as_ref().map(|l| String::from_utf8_lossy(&l.stdout)) else {
        eprintln!("SKIPPED LOUDLY: every_documented_build_keeps_to_the_lock_file: git is missing");
        return;
    };
    let mut builds = 0;
    let mut loose = Vec::new();
    for name in listed
        .split('\0')
        .filter(|n| !n.is_empty() && !n.ends_with(".rs"))
    {
        let Ok(text) = std::fs::read_to_string(root().join(name)) else {
            continue;
        };
        for (i, line) in text.lines().enumerate() {
            for verb in ["build", "run", "install"] {
                let command = format!("cargo {verb} ");
                for (at, _) in line.match_indices(&command) {
                    builds += 1;
                    let rest = &line[at + command.len()..];
                    if !rest.contains("--locked") {
                        loose.push(format!("{name}:{}: {line}", i + 1));
                    }
                }
            }
        }
    }
    assert!(builds >= 8 || listed.is_empty(), "only {builds} were found");
    assert!(loose.is_empty(), "without --locked: {loose:#?}");
}
