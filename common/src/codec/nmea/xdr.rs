//! XDR: transducer measurements.

use super::sentence::Sentence;

/// One measurement of an XDR sentence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Transducer<'a> {
    /// Type letter: `P` pressure, `C` temperature, `D` displacement, `U` voltage,
    /// `I` current, `S` switch, `G` generic and others. `None` when not one letter.
    pub kind: Option<char>,
    /// The value; `None` when the field is empty (no reading) or not a number.
    pub value: Option<f64>,
    /// The value field as sent, to tell *no reading* from *not a number*.
    pub text: &'a str,
    /// Unit letter; `None` for an empty field (switch, generic).
    pub unit: Option<char>,
    /// Name of the transducer.
    pub name: &'a str,
}

/// Label of the unit that a type and a unit letter of XDR name.
///
/// | Type | Units |
/// |---|---|
/// | `P` pressure | `B` bar, `P` pascal |
/// | `C` temperature | `C` Celsius, `K` kelvin, `F` Fahrenheit (not in the standard, seen in use) |
/// | `D` displacement | `M` metre |
/// | `U` voltage | `V` volt |
/// | `I` current | `A` ampere |
/// | `S` switch | none: 0 or 1 |
///
/// `G` generic has no unit: the rig must name it.
///
/// **Source**: NMEA 0183 XDR, transducer type table (from memory, text not seen).
///
/// ```
/// use seep_common::codec::nmea::unit_label;
/// assert_eq!(unit_label('P', Some('B')), Some("bar"));
/// assert_eq!(unit_label('P', Some('C')), None);
/// assert_eq!(unit_label('S', None), Some("0/1"));
/// ```
#[must_use]
pub fn unit_label(kind: char, unit: Option<char>) -> Option<&'static str> {
    Some(match (kind, unit) {
        ('P', Some('B')) => "bar",
        ('P', Some('P')) => "pa",
        ('C', Some('C')) => "degc",
        ('C', Some('K')) => "k",
        ('C', Some('F')) => "degf",
        ('D', Some('M')) => "m",
        ('U', Some('V')) => "v",
        ('I', Some('A')) => "a",
        ('S', None) => "0/1",
        _ => return None,
    })
}

/// The measurements of an XDR sentence, in order.
///
/// A last group of fewer than four fields is not a measurement; see
/// [`Transducers::leftover`].
///
/// ```
/// use seep_common::codec::nmea::{Item, Lexer, transducers};
/// let mut lexer = Lexer::new();
/// lexer.push(b"$YXXDR,P,8.013250,B,TANK,C,,C,AMB*10\r\n", &mut |item| {
///     if let Item::Sentence(sentence) = item {
///         let all: Vec<_> = transducers(&sentence).collect();
///         assert_eq!((all[0].name, all[0].value), ("TANK", Some(8.01325)));
///         assert_eq!((all[1].name, all[1].value), ("AMB", None));
///     }
/// });
/// # assert_eq!(lexer.counts().sentences, 1);
/// ```
#[must_use]
pub fn transducers<'a>(sentence: &Sentence<'a>) -> Transducers<'a> {
    let is_xdr = sentence.formatter() == "XDR";
    Transducers {
        fields: is_xdr.then(|| sentence.fields()),
        leftover: 0,
    }
}

/// Iterator over the measurements of one sentence.
#[derive(Debug, Clone)]
pub struct Transducers<'a> {
    fields: Option<std::str::Split<'a, char>>,
    leftover: usize,
}

impl Transducers<'_> {
    /// Fields at the end that do not make a full group of four; known once the
    /// iterator has ended.
    #[must_use]
    pub fn leftover(&self) -> usize {
        self.leftover
    }
}

impl<'a> Iterator for Transducers<'a> {
    type Item = Transducer<'a>;

    fn next(&mut self) -> Option<Transducer<'a>> {
        let fields = self.fields.as_mut()?;
        let mut group = [""; 4];
        for (count, slot) in group.iter_mut().enumerate() {
            let Some(field) = fields.next() else {
                self.leftover = count;
                self.fields = None;
                return None;
            };
            *slot = field.trim_ascii();
        }
        let [kind, text, unit, name] = group;
        Some(Transducer {
            kind: one_char(kind),
            value: number(text),
            text,
            unit: one_char(unit),
            name,
        })
    }
}

fn one_char(field: &str) -> Option<char> {
    let mut chars = field.chars();
    chars.next().filter(|_| chars.next().is_none())
}

/// A decimal number as NMEA 0183 writes it: digits, sign and point only.
fn number(text: &str) -> Option<f64> {
    text.bytes()
        .all(|b| b.is_ascii_digit() || matches!(b, b'.' | b'-' | b'+'))
        .then(|| text.parse().ok())
        .flatten()
        .filter(|value: &f64| value.is_finite())
}
