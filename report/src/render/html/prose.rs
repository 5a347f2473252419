//! Sentences in which `commands` stand between backticks.

use maud::{Markup, html};

use crate::model::Text;
use crate::render::units::DisplayUnits;
use crate::render::words;

/// A sentence with what stands between backticks set as something to type.
/// Backticks without a partner stay as they are.
pub(super) fn prose(text: &Text, units: DisplayUnits) -> Markup {
    let text = words::text(text, units);
    let parts: Vec<&str> = text.split('`').collect();
    if parts.len().is_multiple_of(2) {
        return html! { (text) };
    }
    html! {
        @for (i, part) in parts.iter().enumerate() {
            @if i % 2 == 1 { code { (part) } } @else { (part) }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn commands_are_set_apart_and_nothing_else() {
        let said = |text: &str| prose(&text.into(), DisplayUnits::default()).into_string();
        assert_eq!(
            said("See `seep leaks` for <more>."),
            "See <code>seep leaks</code> for &lt;more&gt;."
        );
        assert_eq!(said("5` long"), "5` long");
        assert_eq!(said("plain"), "plain");
    }
}
