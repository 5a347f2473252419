//! Public items: each is named somewhere outside its own definition and tests.

use super::modules::{Module, modules};
use super::{PACKAGES, package};
use regex_lite::Regex;
use std::collections::BTreeMap;
use std::path::PathBuf;

/// Callers of the packages that are no tests: the truth bench, the speed benches.
const OTHER_CALLERS: [&str; 3] = ["tests/truth", "tests/benches", "report/examples"];

/// Named by nobody but a lint or a test, and kept all the same: the package, the
/// name, why.
const KEPT: [(&str, &str, &str); 0] = [];

/// Public items of a package, by name, with the modules that define them.
fn public_items(modules: &[Module]) -> BTreeMap<String, Vec<String>> {
    let item = Regex::new(
        r"(?m)^ *pub (?:const |async |unsafe )*(?:fn|struct|enum|const|static|trait|type) (\w+)",
    )
    .expect("a pattern");
    let mut found: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for module in modules {
        for name in item.captures_iter(&module.code) {
            let at = found.entry(name[1].to_string()).or_default();
            at.push(module.path.join("::"));
        }
    }
    found
}

/// How often each word stands in the code, re-exports left out.
fn words(modules: &[Module]) -> BTreeMap<String, usize> {
    let export = Regex::new(r"pub(?:\([^)]*\))? use [^;]*;").expect("a pattern");
    let word = Regex::new(r"\w+").expect("a pattern");
    let mut counts = BTreeMap::new();
    for module in modules {
        for found in word.find_iter(&export.replace_all(&module.code, "")) {
            *counts.entry(found.as_str().to_string()).or_insert(0) += 1;
        }
    }
    counts
}

/// Public items that no code names but their definitions.
fn without_caller<'a>(
    items: &'a BTreeMap<String, Vec<String>>,
    words: &BTreeMap<String, usize>,
) -> Vec<(&'a str, &'a [String])> {
    items
        .iter()
        .filter(|(name, at)| words.get(*name).copied().unwrap_or(0) <= at.len())
        .map(|(name, at)| (name.as_str(), at.as_slice()))
        .collect()
}

#[test]
fn a_public_item_has_a_caller_outside_tests() {
    let root = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("..");
    let mut code: Vec<Module> = PACKAGES.iter().flat_map(|name| package(name)).collect();
    for folder in OTHER_CALLERS {
        let found = modules(&root.join(folder));
        assert!(!found.is_empty(), "{folder} is empty");
        code.extend(found);
    }
    let words = words(&code);
    for name in ["common", "daemon", "report"] {
        let items = public_items(&package(name));
        println!("{name}: {} names of public items", items.len());
        assert!(items.len() > 30, "{name}: {}", items.len());
        let found = without_caller(&items, &words);
        let kept = |item: &str| KEPT.iter().any(|k| (k.0, k.1) == (name, item));
        let dead: Vec<_> = found.iter().filter(|(item, _)| !kept(item)).collect();
        assert!(dead.is_empty(), "{name}: delete or call: {dead:#?}");
        for (_, item, why) in KEPT.iter().filter(|k| k.0 == name) {
            let needed = found.iter().any(|(n, _)| n == item);
            assert!(needed, "{item} has a caller now, strike it ({why})");
        }
    }
}

#[test]
fn an_item_without_caller_would_be_found() {
    let module = |path: &str, code: &str| Module {
        path: vec![path.into()],
        code: code.into(),
    };
    let code = [
        module("a", "pub fn used() {}\n    pub const fn lost() {}\n"),
        module(
            "b",
            "pub use a::lost;\nfn f() { used() }\npub struct Twice;\n",
        ),
        module("c", "pub struct Twice;\nfn private() {}\n"),
    ];
    let items = public_items(&code);
    let found = without_caller(&items, &words(&code));
    let names: Vec<_> = found.iter().map(|(n, _)| *n).collect();
    assert_eq!(names, ["Twice", "lost"]);
}
