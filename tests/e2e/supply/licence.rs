//! Licence expressions.
//!
//! **Source**: SPDX specification, annex on licence expressions: `AND` binds
//! closer than `OR`, `WITH` belongs to the licence before it. Older manifests
//! write `/` for `OR`.

/// Whether the allowed licences fulfil an expression.
pub(super) fn holds(expression: &str, allows: &dyn Fn(&str) -> bool) -> bool {
    let spaced = expression
        .replace('/', " OR ")
        .replace('(', " ( ")
        .replace(')', " ) ");
    let words: Vec<&str> = spaced.split_whitespace().collect();
    let mut rest = &words[..];
    let value = either(&mut rest, allows);
    value && rest.is_empty()
}

fn either(rest: &mut &[&str], allows: &dyn Fn(&str) -> bool) -> bool {
    let mut value = both(rest, allows);
    while let Some(after) = rest.strip_prefix(&["OR"]) {
        *rest = after;
        value |= both(rest, allows);
    }
    value
}

fn both(rest: &mut &[&str], allows: &dyn Fn(&str) -> bool) -> bool {
    let mut value = one(rest, allows);
    while let Some(after) = rest.strip_prefix(&["AND"]) {
        *rest = after;
        value &= one(rest, allows);
    }
    value
}

fn one(rest: &mut &[&str], allows: &dyn Fn(&str) -> bool) -> bool {
    match **rest {
        ["(", ref inside @ ..] => {
            *rest = inside;
            let value = either(rest, allows);
            match rest.strip_prefix(&[")"]) {
                Some(after) => *rest = after,
                None => return false,
            }
            value
        }
        [name, "WITH", exception, ref after @ ..] => {
            *rest = after;
            allows(&format!("{name} WITH {exception}"))
        }
        [name, ref after @ ..] => {
            *rest = after;
            allows(name)
        }
        [] => false,
    }
}

#[test]
fn expressions_are_read_as_the_specification_says() {
    let allows = |name: &str| ["MIT", "Zlib", "Apache-2.0 WITH LLVM-exception"].contains(&name);
    for (expression, fine) in [
        ("MIT", true),
        ("GPL-3.0-only", false),
        ("", false),
        ("MIT OR GPL-3.0-only", true),
        ("MIT AND GPL-3.0-only", false),
        ("GPL-3.0-only OR MIT AND Zlib", true),
        ("MIT AND (GPL-3.0-only OR Zlib)", true),
        ("(MIT OR Zlib) AND GPL-3.0-only", false),
        ("GPL-3.0-only/MIT", true),
        ("Apache-2.0 WITH LLVM-exception", true),
        ("Apache-2.0", false),
        ("(MIT", false),
    ] {
        assert_eq!(holds(expression, &allows), fine, "{expression}");
    }
}
