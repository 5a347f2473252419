//! NMEA 2000: parameter groups of its own and raw values that are no reading.

use super::j1939::SpecialValue;

/// True for a parameter group of NMEA 2000: the upper end of data page 1.
///
/// **Source**: numbers in use by open decoders, 126 208 (0x1ED00) to 130 944
/// (0x1FF80); the text of the standard was not seen.
///
/// ```
/// use seep_common::codec::nmea2000::is_parameter_group;
/// assert!(is_parameter_group(130_314) && !is_parameter_group(65_112));
/// ```
#[must_use]
pub fn is_parameter_group(pgn: u32) -> bool {
    (0x1_ED00..=0x1_FFFF).contains(&pgn)
}

/// Returns what a raw value means when it is no reading: the highest number a field
/// can hold is *not available*, the next below *out of range*, told as an error, the
/// third *reserved*. With a sign the highest number is the highest positive one.
///
/// `bits` from 2; two and three bits have no reserved value, one bit no special value.
///
/// **Source**: constants of an open message library for signed and unsigned numbers of
/// 8 to 32 bits (0x7FFFFFFF not available, 0x7FFFFFFE out of range); *reserved* from
/// memory, unverified.
///
/// ```
/// use seep_common::codec::{j1939::SpecialValue, nmea2000::special_value};
/// assert_eq!(special_value(0x7FFF_FFFF, 32, true), Some(SpecialValue::NotAvailable));
/// assert_eq!(special_value(0x7FFF_FFFE, 32, true), Some(SpecialValue::Error));
/// assert_eq!(special_value(0xFFFF_FFFF, 32, true), None); // one below zero
/// assert_eq!(special_value(0xFFFF_FFFF, 32, false), Some(SpecialValue::NotAvailable));
/// ```
#[must_use]
#[inline]
pub fn special_value(raw: u64, bits: u32, signed: bool) -> Option<SpecialValue> {
    if !(2..=64).contains(&bits) {
        return None;
    }
    let highest = u64::MAX >> (64 - bits + u32::from(signed));
    match highest.checked_sub(raw)? {
        0 => Some(SpecialValue::NotAvailable),
        1 => Some(SpecialValue::Error),
        2 if bits > 3 => Some(SpecialValue::Reserved),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use SpecialValue::{Error, NotAvailable, Reserved};

    #[test]
    fn special_values_by_width_and_sign() {
        for (bits, signed, highest) in [
            (8, false, 0xFF),
            (8, true, 0x7F),
            (16, false, 0xFFFF),
            (16, true, 0x7FFF),
            (32, false, 0xFFFF_FFFF),
            (32, true, 0x7FFF_FFFF),
            (64, true, i64::MAX as u64),
            (4, false, 0xF),
        ] {
            let meaning = |below| special_value(highest - below, bits, signed);
            assert_eq!(
                [0, 1, 2, 3].map(meaning),
                [Some(NotAvailable), Some(Error), Some(Reserved), None],
                "{bits} {signed}"
            );
        }
        assert_eq!(special_value(1, 1, false), None);
        assert_eq!(special_value(1, 2, false), None, "a switch that is on");
        assert_eq!(special_value(0x80, 8, true), None, "the lowest number");
    }
}
