//! The layout of the source: which room may use what, and no circles.

mod callers;
mod modules;
mod names;

use modules::{Module, circles, modules};
use regex_lite::Regex;
use std::path::PathBuf;

/// The packages with a layout of their own.
const PACKAGES: [&str; 4] = ["common", "daemon", "report", "sample-logs"];

/// What only some files may use: the pattern, the packages in question, the
/// module paths that may use it, and what it is.
const OWNERS: [(&str, &[&str], &[&str], &str); 7] = [
    (
        r"\bclap(_\w+)?::",
        &PACKAGES,
        // Where the command line is parsed, and where its manual is made.
        &["", "cli", "run", "manual", "commands::manual"],
        "clap",
    ),
    (
        r"\b(rusqlite|libsqlite3_sys)::|\b(SELECT|INSERT|UPDATE|DELETE|CREATE TABLE) ",
        &PACKAGES,
        &["store"],
        "SQL",
    ),
    (
        r"\bpolars(_\w+)?::",
        &PACKAGES,
        &["export::parquet"],
        "polars",
    ),
    (
        r"\b(socketcan|tokio_serial|tokio_modbus)::",
        &["daemon"],
        // `doctor` asks the system about an interface, and reads nothing from it.
        &["source", "doctor::bus"],
        "sockets and serial lines",
    ),
    (
        r"\bstd::(fs|net|process|time::(Instant|SystemTime))\b|\bprintln!",
        &["common"],
        // All three only with the feature `store`.
        &["store", "text_file", "defaults::read"],
        "input and output",
    ),
    (
        r"\bDisplayUnits\b",
        &["report"],
        // Outside `render` they are handed on as an option, never used for words.
        &[
            "render",
            "run",
            "notify",
            "commands::bundle",
            "export::for_people",
        ],
        "the reader's units",
    ),
    (
        r"\bas_written\b",
        &["report"],
        // Names of logs and rigs are made safe to print in one place. `lead` and `cars` make
        // one label or a sum of others.
        &[
            "model::text",
            "render::words",
            "commands::lead",
            "commands::cars",
        ],
        "labels as they came",
    ),
];

fn package(name: &str) -> Vec<Module> {
    let source = PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("..")
        .join(name)
        .join("src");
    let found = modules(&source);
    assert!(found.len() > 20, "{name}: {} modules", found.len());
    found
}

#[test]
fn no_two_modules_use_each_other_in_a_circle() {
    for name in PACKAGES {
        let modules = package(name);
        let found = circles(&modules, <[String]>::to_vec);
        println!("{name}: {} modules, {} circles", modules.len(), found.len());
        assert!(found.is_empty(), "{name}: {found:#?}");
    }
}

#[test]
fn no_two_rooms_use_each_other_in_a_circle() {
    for name in PACKAGES {
        let found = circles(&package(name), |path| path[..1].to_vec());
        assert!(found.is_empty(), "{name}: {found:#?}");
    }
}

#[test]
fn each_library_stays_in_its_room() {
    for (pattern, packages, rooms, what) in OWNERS {
        let pattern = Regex::new(pattern).expect("a pattern");
        let (mut used, mut strayed) = (0, Vec::new());
        for name in packages {
            for module in package(name) {
                let path = module.path.join("::");
                let inside = rooms
                    .iter()
                    .any(|r| path == *r || path.starts_with(&format!("{r}::")));
                match (pattern.is_match(&module.code), inside) {
                    (true, true) => used += 1,
                    (true, false) => strayed.push(format!("{name}: {path}")),
                    _ => {}
                }
            }
        }
        assert!(used > 0, "{what} is used nowhere: the pattern is wrong");
        assert!(strayed.is_empty(), "{what} outside {rooms:?}: {strayed:#?}");
    }
}

#[test]
fn a_circle_would_be_found() {
    let module = |path: &str, code: &str| Module {
        path: path.split("::").map(String::from).collect(),
        code: code.into(),
    };
    let circle = [
        module("a::one", "use super::two::{Thing, other::Deep};"),
        module("a::two", "fn f() { crate::a::three::go() }"),
        module("a::three", "use crate::{b, a::one as first};"),
        module("b", "fn f() {}"),
    ];
    assert_eq!(
        circles(&circle, <[String]>::to_vec),
        [["a::one", "a::three", "a::two"]]
    );
    let straight = [
        module("a", "mod one; pub use one::Thing;"),
        module("a::one", "use super::Other; use crate::b::Thing;"),
        module("b", "use crate::c;"),
        module("c", ""),
    ];
    assert!(circles(&straight, <[String]>::to_vec).is_empty());
}
