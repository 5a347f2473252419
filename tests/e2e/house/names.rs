//! Names of types: each stands for one thing in its package.

use super::{PACKAGES, package};
use regex_lite::Regex;
use std::collections::{BTreeMap, BTreeSet};

/// Names of types that several modules define, with those modules.
fn repeated<'a>(
    modules: impl Iterator<Item = (String, &'a str)>,
) -> BTreeMap<String, BTreeSet<String>> {
    let defined = Regex::new(r"(?m)^(?:pub(?:\([^)]*\))? )?(?:struct|enum|trait|type|union) (\w+)")
        .expect("a pattern");
    let mut places: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for (path, code) in modules {
        for name in defined.captures_iter(code) {
            let at = places.entry(name[1].to_string()).or_default();
            at.insert(path.clone());
        }
    }
    places.retain(|_, at| at.len() > 1);
    places
}

#[test]
fn a_type_name_occurs_once_in_its_package() {
    for name in PACKAGES {
        let modules = package(name);
        let found = repeated(modules.iter().map(|m| (m.path.join("::"), m.code.as_str())));
        println!("{name}: {} repeated type names", found.len());
        assert!(found.is_empty(), "{name}: {found:#?}");
    }
}

#[test]
fn a_repeated_name_would_be_found() {
    let modules = [
        ("a", "pub(crate) struct Line<'a> {\n}\nenum Other {\n}\n"),
        ("b::c", "pub enum Line {\n}\n"),
        ("d", "fn f() {}\n// struct Other\nuse a::Line;\n"),
    ];
    let found = repeated(modules.into_iter().map(|(p, c)| (p.to_string(), c)));
    let names: Vec<_> = found.keys().map(String::as_str).collect();
    assert_eq!(names, ["Line"]);
}
