//! The modules of a package and which of them use each other, by their text.

use regex_lite::Regex;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

/// One source file.
pub(super) struct Module {
    /// Its path in the crate; empty for the root.
    pub(super) path: Vec<String>,
    /// Its text without comments, tests and `use` of itself.
    pub(super) code: String,
}

type ModulePath = Vec<String>;
type Uses = BTreeMap<ModulePath, BTreeSet<ModulePath>>;

/// Every module under a `src` folder; files of tests are left out.
pub(super) fn modules(source: &Path) -> Vec<Module> {
    let mut found = Vec::new();
    collect(source, &[], &mut found);
    found
}

fn collect(folder: &Path, at: &[String], found: &mut Vec<Module>) {
    let mut entries: Vec<_> = fs::read_dir(folder)
        .expect("a folder of the source")
        .map(|e| e.expect("an entry").path())
        .collect();
    entries.sort();
    for entry in entries {
        let stem = entry.file_stem().expect("a name").to_string_lossy();
        let mut path = at.to_vec();
        if stem == "tests" || stem == "bin" {
            continue;
        }
        if !["mod", "lib", "main"].contains(&stem.as_ref()) {
            path.push(stem.into_owned());
        }
        if entry.is_dir() {
            collect(&entry, &path, found);
        } else if entry.extension().is_some_and(|e| e == "rs") {
            let text = fs::read_to_string(&entry).expect("a source file");
            let code = without_tests_and_comments(&text);
            found.push(Module { path, code });
        }
    }
}

fn without_tests_and_comments(text: &str) -> String {
    let text = text.split("#[cfg(test)]\nmod tests {").next().unwrap_or("");
    Regex::new(r"(?m)//.*$")
        .expect("a pattern")
        .replace_all(text, "")
        .into_owned()
}

/// Groups of modules of which each uses, by way of others, all of its group.
/// `room` shortens a path to what counts as one thing. What a parent and its
/// child use of each other does not count.
pub(super) fn circles(
    modules: &[Module],
    room: impl Fn(&[String]) -> ModulePath,
) -> Vec<Vec<String>> {
    let uses = uses(modules, room);
    let reach: BTreeMap<&ModulePath, BTreeSet<&ModulePath>> = uses
        .keys()
        .map(|from| (from, reached(&uses, from)))
        .collect();
    let mut groups = BTreeSet::new();
    for (from, there) in &reach {
        let group: Vec<String> = there
            .iter()
            .filter(|to| reach.get(*to).is_some_and(|back| back.contains(from)))
            .map(|to| to.join("::"))
            .collect();
        if !group.is_empty() {
            groups.insert(group);
        }
    }
    groups.into_iter().collect()
}

fn uses(modules: &[Module], room: impl Fn(&[String]) -> ModulePath) -> Uses {
    let known: BTreeSet<&ModulePath> = modules.iter().map(|m| &m.path).collect();
    let mut uses = Uses::new();
    for module in modules.iter().filter(|m| !m.path.is_empty()) {
        let from = room(&module.path);
        for path in paths(&module.code) {
            let Some(to) = resolve(&path, &module.path, &known) else {
                continue;
            };
            let to = room(&to);
            if !from.starts_with(&to) && !to.starts_with(&from) {
                uses.entry(from.clone()).or_default().insert(to);
            }
        }
    }
    uses
}

fn reached<'a>(uses: &'a Uses, from: &ModulePath) -> BTreeSet<&'a ModulePath> {
    let mut found = BTreeSet::new();
    let mut open: Vec<&ModulePath> = uses.get(from).into_iter().flatten().collect();
    while let Some(next) = open.pop() {
        if found.insert(next) {
            open.extend(uses.get(next).into_iter().flatten());
        }
    }
    found
}

/// Every path that the text names: those of `use`, braces unfolded, and those
/// that begin with `crate` or `super`.
fn paths(code: &str) -> Vec<Vec<String>> {
    let used = Regex::new(r"\buse\s+([^;]+);").expect("a pattern");
    let inline = Regex::new(r"\b(?:crate|super)(?:::\w+)+").expect("a pattern");
    let renamed = Regex::new(r"\bas\s+\w+").expect("a pattern");
    let mut found = Vec::new();
    for tree in used.captures_iter(code) {
        let tree = renamed.replace_all(&tree[1], "");
        let tree: String = tree.chars().filter(|c| !c.is_whitespace()).collect();
        unfold("", &tree, &mut found);
    }
    found.extend(inline.find_iter(code).map(|m| m.as_str().into()));
    found
        .iter()
        .map(|p: &String| p.split("::").map(String::from).collect())
        .collect()
}

fn unfold(before: &str, tree: &str, found: &mut Vec<String>) {
    let (mut depth, mut start) = (0, 0);
    let mut parts = Vec::new();
    for (at, c) in tree.char_indices() {
        match c {
            '{' => depth += 1,
            '}' => depth -= 1,
            ',' if depth == 0 => {
                parts.push(&tree[start..at]);
                start = at + 1;
            }
            _ => {}
        }
    }
    parts.push(&tree[start..]);
    for part in parts {
        match part.split_once('{') {
            Some((head, rest)) => unfold(
                &format!("{before}{head}"),
                rest.strip_suffix('}').unwrap_or(rest),
                found,
            ),
            None => found.push(format!("{before}{part}")),
        }
    }
}

/// The module that a path leads to, seen from another; `None` for other crates.
fn resolve(
    path: &[String],
    from: &ModulePath,
    known: &BTreeSet<&ModulePath>,
) -> Option<ModulePath> {
    let mut to = match path.first()?.as_str() {
        "crate" => path[1..].to_vec(),
        "self" => [from, &path[1..]].concat(),
        "super" => {
            let ups = path.iter().take_while(|p| *p == "super").count();
            [&from[..from.len().checked_sub(ups)?], &path[ups..]].concat()
        }
        _ => [from.as_slice(), path].concat(),
    };
    while !to.is_empty() && !known.contains(&to) {
        to.pop();
    }
    (!to.is_empty()).then_some(to)
}
