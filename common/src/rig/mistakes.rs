//! Every mistake of a TOML file at once: reading goes on without the entry that
//! was wrong.

use super::error::{RigProblem, from_toml, line_of};
use serde::de::DeserializeOwned;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeArray, DeTable, DeValue, Deserializer};

/// More mistakes than this are not listed.
const MOST_MISTAKES: usize = 100;

/// What could be read, and what was wrong.
pub(crate) struct Read<T> {
    /// The content without the entries that were wrong; `None` when too little
    /// is left.
    pub content: Option<T>,
    /// Every mistake, in the order of lines.
    pub problems: Vec<RigProblem>,
    /// Lines of the tables that lost a key: what seems to be missing there may
    /// be the key that was wrong.
    pub touched_lines: Vec<usize>,
    /// An element of an array of tables was left out whole.
    pub element_lost: bool,
}

/// Reads a TOML text into `T`, which must refuse unknown fields, and lists every mistake
/// with its line. The content is `None` when the text is broken or an entry of an array
/// had to be left out; a key that only seems missing because it was misspelt is listed
/// once.
///
/// ```
/// #[derive(serde::Deserialize)]
/// #[serde(deny_unknown_fields)]
/// struct File {
///     hours: Option<f64>,
/// }
/// let (file, problems) = seep_common::rig::read_with_mistakes::<File>("hour = 3\n");
/// assert!(file.is_some_and(|f| f.hours.is_none()));
/// assert_eq!(problems[0].line, 1);
/// assert!(problems[0].remedy.contains("hours"));
/// ```
#[must_use]
pub fn read_with_mistakes<T: DeserializeOwned>(text: &str) -> (Option<T>, Vec<RigProblem>) {
    let read = read::<T>(text);
    let only_seems =
        |p: &RigProblem| p.problem == super::error::MISSING && read.touched_lines.contains(&p.line);
    let problems = read.problems.iter().filter(|p| !only_seems(p));
    (
        read.content.filter(|_| !read.element_lost),
        problems.cloned().collect(),
    )
}

/// Where something was taken away.
enum Taken {
    Key { table_starts: usize },
    Element,
}

/// Read a TOML text into `T`, which must refuse unknown fields.
pub(crate) fn read<T: DeserializeOwned>(text: &str) -> Read<T> {
    let (mut root, syntax) = DeTable::parse_recoverable(text);
    let mut out = Read {
        content: None,
        problems: syntax.iter().map(|e| from_toml(text, e)).collect(),
        touched_lines: Vec::new(),
        element_lost: false,
    };
    // What follows from broken syntax is not the writer's mistake.
    let broken = !out.problems.is_empty();
    while out.problems.len() < MOST_MISTAKES {
        let error = match T::deserialize(Deserializer::from(root.clone())) {
            Ok(content) => {
                out.content = (!broken).then_some(content);
                break;
            }
            Err(error) => error,
        };
        let problem = from_toml(text, &error);
        let taken = error
            .span()
            .and_then(|span| take_away(root.get_mut(), &span, 0));
        // A whole table that was taken away is not missing as well.
        let follows = error.message().starts_with("missing field") && out.element_lost;
        if !(follows || broken && error.message().starts_with("missing field")) {
            out.problems.push(problem);
        }
        match taken {
            Some(Taken::Key { table_starts }) => {
                out.touched_lines.push(line_of(text, table_starts));
            }
            Some(Taken::Element) => out.element_lost = true,
            None => break,
        }
    }
    out.problems.sort_by_key(|p| p.line);
    out
}

/// Take away the smallest entry at a place.
fn take_away(table: &mut DeTable<'_>, at: &Range<usize>, starts: usize) -> Option<Taken> {
    let here = table.iter().find_map(|(key, value)| {
        let is_it = key.span() == *at || value.span() == *at;
        let inside_value = !holds_tables(value.get_ref())
            && value.span().start <= at.start
            && at.end <= value.span().end;
        (is_it || inside_value).then(|| (key.get_ref().to_string(), value.get_ref().is_table()))
    });
    if let Some((name, is_table)) = here {
        table.remove(name.as_str());
        return Some(if is_table {
            Taken::Element
        } else {
            Taken::Key {
                table_starts: starts,
            }
        });
    }
    for (_, value) in table.iter_mut() {
        let starts = value.span().start;
        let found = match value.get_mut() {
            DeValue::Table(inner) => take_away(inner, at, starts),
            DeValue::Array(items) => take_from_array(items, at),
            _ => None,
        };
        if found.is_some() {
            return found;
        }
    }
    None
}

fn take_from_array<'i>(items: &mut DeArray<'i>, at: &Range<usize>) -> Option<Taken> {
    if let Some(lost) = items.iter().position(|item| item.span() == *at) {
        let kept = std::mem::replace(items, DeArray::new())
            .into_iter()
            .enumerate();
        for (_, item) in kept.filter(|(i, _)| *i != lost) {
            items.push(item);
        }
        return Some(Taken::Element);
    }
    items.iter_mut().find_map(|item| {
        let starts = item.span().start;
        match item.get_mut() {
            DeValue::Table(inner) => take_away(inner, at, starts),
            _ => None,
        }
    })
}

fn holds_tables(value: &DeValue<'_>) -> bool {
    match value {
        DeValue::Table(_) => true,
        DeValue::Array(items) => items.iter().any(|i: &Spanned<_>| i.get_ref().is_table()),
        _ => false,
    }
}
