//! Cargo's own account of what is built.

use super::root;
use serde_json::Value;
use std::collections::BTreeSet;
use std::process::Command;

/// A version of a compiler.
pub(super) type Version = (u64, u64, u64);

/// One library, as its own manifest says.
pub(super) struct Crate {
    pub(super) name: String,
    pub(super) version: String,
    pub(super) licence: String,
    /// Empty for our own.
    pub(super) source: String,
    pub(super) rust_version: Option<Version>,
}

/// Everything that a build for this kind of machine may take in.
pub(super) struct Crates(Vec<Crate>);

impl Crates {
    pub(super) fn of_this_machine() -> Self {
        let host = host();
        let said = cargo(&[
            "metadata",
            "--format-version",
            "1",
            "--filter-platform",
            &host,
        ]);
        let all: Value = serde_json::from_str(&said).expect("JSON");
        let list = |value: &Value| value.as_array().expect("a list").clone();
        let used: BTreeSet<String> = list(&all["resolve"]["nodes"])
            .iter()
            .map(|node| text(&node["id"]))
            .collect();
        let crates: Vec<Crate> = list(&all["packages"])
            .iter()
            .filter(|p| used.contains(&text(&p["id"])))
            .map(|p| Crate {
                name: text(&p["name"]),
                version: text(&p["version"]),
                licence: text(&p["license"]),
                source: text(&p["source"]),
                rust_version: p["rust_version"].as_str().map(version),
            })
            .collect();
        assert!(crates.len() > 100, "cargo tells of {} only", crates.len());
        Crates(crates)
    }

    pub(super) fn all(&self) -> impl Iterator<Item = &Crate> {
        self.0.iter()
    }

    pub(super) fn foreign(&self) -> impl Iterator<Item = &Crate> {
        self.all().filter(|c| !c.source.is_empty())
    }

    pub(super) fn find(&self, name: &str, version: &str) -> &Crate {
        let found = self.all().find(|c| c.name == name && c.version == version);
        found.unwrap_or_else(|| panic!("cargo does not know {name} {version}"))
    }
}

/// One of our own packages.
pub(super) fn member<'a>(crates: &'a Crates, name: &str) -> &'a Crate {
    let found = crates.all().find(|c| c.name == name);
    found.expect("one of ours")
}

/// Name and version of everything under a package, itself included.
pub(super) fn listed(package: &str, edges: &str) -> BTreeSet<(String, String)> {
    let said = cargo(&["tree", "-p", package, "-e", edges, "--prefix", "none"]);
    said.lines()
        .filter_map(|line| {
            let mut words = line.split(' ');
            let name = words.next()?;
            let version = words.next()?.strip_prefix('v')?;
            Some((name.to_string(), version.to_string()))
        })
        .collect()
}

fn cargo(args: &[&str]) -> String {
    let done = Command::new(env!("CARGO"))
        .args(args)
        .args(["--locked", "--offline"])
        .current_dir(root())
        .output()
        .expect("cargo runs");
    let said = String::from_utf8_lossy(&done.stderr).into_owned();
    assert!(done.status.success(), "cargo {args:?}: {said}");
    String::from_utf8(done.stdout).expect("text")
}

/// The kind of this machine, as the compiler names it.
fn host() -> String {
    let said = Command::new(env!("CARGO"))
        .arg("-vV")
        .output()
        .expect("cargo runs");
    let said = String::from_utf8(said.stdout).expect("text");
    let line = said.lines().find_map(|l| l.strip_prefix("host: "));
    line.expect("cargo tells its host").to_string()
}

fn text(value: &Value) -> String {
    value.as_str().unwrap_or_default().to_string()
}

fn version(text: &str) -> Version {
    let mut parts = text.split('.').map(|p| p.parse().expect("a number"));
    let mut next = || parts.next().unwrap_or_default();
    (next(), next(), next())
}
