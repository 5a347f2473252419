//! A sentence whose checksum is right.

use crate::time::WallMs;

/// Exclusive or of all bytes: the checksum of NMEA 0183, taken over everything
/// between `$` (or `!`) and `*`.
///
/// ```
/// use seep_common::codec::nmea::checksum;
/// assert_eq!(checksum(b"GPGLL,5300.97914,N,00259.98174,E,125926,A"), 0x28);
/// ```
#[must_use]
pub fn checksum(body: &[u8]) -> u8 {
    body.iter().fold(0, |sum, byte| sum ^ byte)
}

/// A sentence whose checksum is right, borrowed from the lexer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sentence<'a> {
    pub(super) body: &'a str,
    talker_len: usize,
    address_len: usize,
    /// Time of the TAG block before it, ms since 1970-01-01 00:00 UTC.
    pub tag_ms: Option<WallMs>,
}

impl<'a> Sentence<'a> {
    /// Take the text between `$` and `*` apart; `None` when its address is not one.
    pub(super) fn new(body: &'a str, tag_ms: Option<WallMs>) -> Option<Self> {
        let address_len = body.find(',').unwrap_or(body.len());
        let address = &body.as_bytes()[..address_len];
        // Proprietary sentences have the talker `P` and a maker's code.
        let talker_len = if address.first() == Some(&b'P') { 1 } else { 2 };
        let plain = address.iter().all(u8::is_ascii_alphanumeric);
        (plain && address_len > talker_len).then_some(Sentence {
            body,
            talker_len,
            address_len,
            tag_ms,
        })
    }

    /// What it says, such as `XDR` or `ZDA`.
    #[must_use]
    pub fn formatter(&self) -> &'a str {
        &self.body[self.talker_len..self.address_len]
    }

    /// The data fields after the address; empty fields are empty strings.
    pub fn fields(&self) -> std::str::Split<'a, char> {
        let rest = self.body.get(self.address_len + 1..);
        let mut fields = rest.unwrap_or_default().split(',');
        if rest.is_none() {
            fields.next();
        }
        fields
    }
}
