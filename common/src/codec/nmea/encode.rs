//! Writing sentences as a small microcontroller would send them.

use crate::time::WallMs;

use super::sentence::checksum;
use super::tag::SECONDS_BELOW;

/// Longest sentence the standard allows: 82 characters with `$` and CR LF.
const MOST_CHARACTERS: usize = 82;

/// What cannot be written as a sentence.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum EncodeError {
    /// A name or talker holds characters that sentences are built of.
    #[error("`{text}` cannot stand in a sentence: use printable ASCII without , * $ ! \\ ^ ~")]
    Reserved {
        /// The text.
        text: String,
    },
    /// One measurement alone needs more than 82 characters.
    #[error("a sentence of {characters} characters is longer than the {MOST_CHARACTERS} allowed")]
    TooLong {
        /// Characters with `$` and line end.
        characters: usize,
    },
    /// Not a number.
    #[error("the value of `{name}` is not finite; leave it empty to say that there is no reading")]
    NotFinite {
        /// Transducer.
        name: String,
    },
    /// Milliseconds this early would be read back as seconds.
    #[error("time {unix_ms} ms is before March 1973 and cannot be told from seconds")]
    TooEarly {
        /// The time.
        unix_ms: WallMs,
    },
}

/// One measurement to send.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct XdrReading<'a> {
    /// Type letter, such as `P`.
    pub kind: char,
    /// The value, or `None` for *no reading*.
    pub value: Option<f64>,
    /// Digits after the point.
    pub decimals: usize,
    /// Unit letter, such as `B`; `None` for a switch.
    pub unit: Option<char>,
    /// Name of the transducer.
    pub name: &'a str,
}

/// Append readings as XDR sentences of at most 82 characters, as many as needed,
/// each after a TAG block with the time if one is given. Returns how many.
///
/// # Errors
/// [`EncodeError`]; then nothing was appended.
///
/// ```
/// use seep_common::codec::nmea::{XdrReading, append_xdr};
/// let tank = XdrReading { kind: 'P', value: Some(8.01325), decimals: 6, unit: Some('B'), name: "TANK" };
/// let ambient = XdrReading { kind: 'C', value: Some(20.0), decimals: 1, unit: Some('C'), name: "AMB" };
/// let mut wire = Vec::new();
/// append_xdr(&mut wire, "YX", None, &[tank, ambient]).unwrap();
/// assert_eq!(wire, b"$YXXDR,P,8.013250,B,TANK,C,20.0,C,AMB*0C\r\n");
/// ```
pub fn append_xdr(
    out: &mut Vec<u8>,
    talker: &str,
    tag_ms: Option<WallMs>,
    readings: &[XdrReading<'_>],
) -> Result<usize, EncodeError> {
    let start = out.len();
    let mut sentences = 0;
    let mut body = format!("{talker}XDR");
    for reading in readings {
        let group = group_of(reading)?;
        let address = talker.len() + 3;
        if body.len() > address && characters(body.len() + group.len()) > MOST_CHARACTERS {
            finish(out, start, tag_ms, &body)?;
            sentences += 1;
            body.truncate(address);
        }
        body.push_str(&group);
    }
    if body.len() > talker.len() + 3 {
        finish(out, start, tag_ms, &body)?;
        sentences += 1;
    }
    Ok(sentences)
}

/// Append a sentence, taking back everything since `start` when that fails.
fn finish(
    out: &mut Vec<u8>,
    start: usize,
    tag_ms: Option<WallMs>,
    body: &str,
) -> Result<(), EncodeError> {
    append_sentence(out, tag_ms, body).inspect_err(|_| out.truncate(start))
}

fn group_of(reading: &XdrReading<'_>) -> Result<String, EncodeError> {
    let name = reading.name;
    if !name.bytes().all(|b| is_field_byte(b) && b != b',') {
        return Err(EncodeError::Reserved {
            text: name.to_string(),
        });
    }
    let value = match reading.value {
        None => String::new(),
        Some(value) if value.is_finite() => format!("{value:.*}", reading.decimals),
        Some(_) => {
            return Err(EncodeError::NotFinite {
                name: name.to_string(),
            });
        }
    };
    let unit = reading.unit.map(String::from).unwrap_or_default();
    Ok(format!(",{},{value},{unit},{name}", reading.kind))
}

/// Append any sentence: TAG block if a time is given, `$`, body, checksum, CR LF.
///
/// # Errors
/// [`EncodeError`] when the body is too long or holds reserved characters, or the
/// time is before March 1973.
pub fn append_sentence(
    out: &mut Vec<u8>,
    tag_ms: Option<WallMs>,
    body: &str,
) -> Result<(), EncodeError> {
    if !body.bytes().all(is_field_byte) {
        return Err(EncodeError::Reserved {
            text: body.to_string(),
        });
    }
    let characters = characters(body.len());
    if characters > MOST_CHARACTERS {
        return Err(EncodeError::TooLong { characters });
    }
    if let Some(unix_ms) = tag_ms {
        if unix_ms.0 < SECONDS_BELOW {
            return Err(EncodeError::TooEarly { unix_ms });
        }
        let block = format!("c:{unix_ms}");
        let sum = checksum(block.as_bytes());
        out.extend_from_slice(format!("\\{block}*{sum:02X}\\").as_bytes());
    }
    let sum = checksum(body.as_bytes());
    out.extend_from_slice(format!("${body}*{sum:02X}\r\n").as_bytes());
    Ok(())
}

/// Characters of a whole sentence: `$`, body, `*hh`, CR LF.
fn characters(body: usize) -> usize {
    body + 6
}

/// Printable ASCII that has no special meaning in a sentence.
fn is_field_byte(byte: u8) -> bool {
    matches!(byte, b' '..=b'~') && !matches!(byte, b'*' | b'$' | b'!' | b'\\' | b'^' | b'~')
}
