//! SAE J1939: what an identifier says, and which raw values are not readings.
//!
//! ```text
//! bit 28..26   25   24   23..16   15..8   7..0
//!     priority EDP  DP   PF       PS      source address
//! ```
//! PF below 240 (PDU1): PS is the destination, not part of the parameter group.
//! PF from 240 (PDU2): PS belongs to the parameter group number (PGN).
//!
//! **Source**: SAE J1939-21 for the identifier (as given in the documentation of
//! the crates j1939 0.3.0 and obd2-core); SAE J1939-71 for the special values (the
//! reserved bands from memory, text not seen).

use super::can::MAX_EXTENDED_ID;

/// First PF of the PDU2 format.
const PDU2_FROM: u8 = 240;

/// Parameter group number of a 29 bit identifier.
///
/// ```
/// use seep_common::codec::j1939::pgn_of;
/// assert_eq!(pgn_of(0x18FE_58FE), 65_112);
/// assert_eq!(pgn_of(0x0CD2_2F00), 53_760); // the destination 2F is no part of it
/// ```
#[must_use]
#[inline]
pub fn pgn_of(can_id: u32) -> u32 {
    can_id >> 8 & pgn_mask(can_id) >> 8
}

/// Mask that leaves the bits of an identifier which name its parameter group:
/// for filters in the kernel and for comparing.
///
/// ```
/// use seep_common::codec::j1939::pgn_mask;
/// assert_eq!(pgn_mask(0x18FE_58FE), 0x03FF_FF00);
/// assert_eq!(pgn_mask(0x0CD2_2F00), 0x03FF_0000);
/// ```
#[must_use]
#[inline]
pub fn pgn_mask(can_id: u32) -> u32 {
    let mask = MAX_EXTENDED_ID & !(7 << 26) & !0xFF;
    if (can_id >> 16) as u8 >= PDU2_FROM {
        mask
    } else {
        mask & !0xFF00
    }
}

/// A raw value that is no reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum SpecialValue {
    /// Meaning fixed by the parameter itself.
    ParameterSpecific,
    /// Kept for later use by the standard.
    Reserved,
    /// The sender's sensor is faulty.
    Error,
    /// The sender does not have this quantity.
    NotAvailable,
}

/// What a raw unsigned value of a width means when it is not a reading.
///
/// | Width | Parameter specific | Reserved | Error | Not available |
/// |---|---|---|---|---|
/// | 2 bits | | | 2 | 3 |
/// | 4 bits | | | E | F |
/// | whole bytes: the highest byte | FB | FC, FD | FE | FF |
/// | other | | | | all ones |
///
/// One bit has no room for a special value. The two and four bit rows and the
/// byte rows are the standard's, the last row is common practice, no source.
///
/// ```
/// use seep_common::codec::j1939::{SpecialValue, special_value};
/// assert_eq!(special_value(0xFAFF, 16), None);
/// assert_eq!(special_value(0xFB00, 16), Some(SpecialValue::ParameterSpecific));
/// assert_eq!(special_value(0xFEFF, 16), Some(SpecialValue::Error));
/// assert_eq!(special_value(0xFF00, 16), Some(SpecialValue::NotAvailable));
/// assert_eq!(special_value(1, 2), None);
/// assert_eq!(special_value(3, 2), Some(SpecialValue::NotAvailable));
/// ```
#[must_use]
#[inline]
pub fn special_value(raw: u64, bits: u32) -> Option<SpecialValue> {
    match (bits, raw) {
        (0 | 1 | 65.., _) => None,
        (2, 2) | (4, 0xE) => Some(SpecialValue::Error),
        (_, _) if bits.is_multiple_of(8) => match raw >> (bits - 8) {
            0xFB => Some(SpecialValue::ParameterSpecific),
            0xFC | 0xFD => Some(SpecialValue::Reserved),
            0xFE => Some(SpecialValue::Error),
            0xFF => Some(SpecialValue::NotAvailable),
            _ => None,
        },
        _ => (raw == u64::MAX >> (64 - bits)).then_some(SpecialValue::NotAvailable),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// **Source**: identifiers computed from the field layout of SAE J1939-21;
    /// 0x0CF00400 (priority 3, PGN 61444) and 0x18EAFF00 (PGN 59904) are the usual
    /// examples of its descriptions.
    #[test]
    fn identifiers_of_the_standard_messages() {
        for (id, pgn) in [
            (0x18FE_58FE, 65_112),
            (0x18FE_59FE, 65_113),
            (0x18FE_5AFE, 65_114),
            (0x18FE_AE30, 65_198),
            (0x18FE_F521, 65_269),
            (0x18FE_F100, 65_265),
            (0x0CF0_0400, 61_444),
            (0x18EA_FF00, 59_904),
            (0x0CD2_2F00, 53_760),
            // Data page set: 16 bits would not be enough.
            (0x19FA_C321, 0x1_FAC3),
            (0x1BFE_58FE, 0x3_FE58),
        ] {
            assert_eq!(pgn_of(id), pgn, "{id:#X}");
        }
        assert_eq!(0x18FE_58FE, 419_322_110);
        assert_eq!(0x18FE_58FE | 0x8000_0000u32, 2_566_805_758);
    }

    #[test]
    fn the_two_formats_part_at_240() {
        assert_eq!(pgn_of(0x18EF_1234), 0xEF00);
        assert_eq!(pgn_of(0x18F0_1234), 0xF012);
    }

    /// **Source**: SAE J1939-71, table of transmitted signal ranges (limits of the
    /// valid range agree with the published ranges of the parameters, such as
    /// 0xFA = 250 and 0xFAFF = 64 255; reserved bands from memory).
    #[test]
    fn special_values_by_width() {
        use SpecialValue::{Error, NotAvailable, ParameterSpecific, Reserved};
        for (bits, rows) in [
            (
                2,
                vec![
                    (0, None),
                    (1, None),
                    (2, Some(Error)),
                    (3, Some(NotAvailable)),
                ],
            ),
            (
                4,
                vec![(0xD, None), (0xE, Some(Error)), (0xF, Some(NotAvailable))],
            ),
            (3, vec![(6, None), (7, Some(NotAvailable))]),
            (1, vec![(0, None), (1, None)]),
            (
                8,
                vec![
                    (0xFA, None),
                    (0xFB, Some(ParameterSpecific)),
                    (0xFC, Some(Reserved)),
                    (0xFD, Some(Reserved)),
                    (0xFE, Some(Error)),
                    (0xFF, Some(NotAvailable)),
                ],
            ),
            (
                16,
                vec![
                    (0xFAFF, None),
                    (0xFB00, Some(ParameterSpecific)),
                    (0xFBFF, Some(ParameterSpecific)),
                    (0xFC00, Some(Reserved)),
                    (0xFDFF, Some(Reserved)),
                    (0xFE00, Some(Error)),
                    (0xFEFF, Some(Error)),
                    (0xFF00, Some(NotAvailable)),
                    (0xFFFF, Some(NotAvailable)),
                ],
            ),
            (
                32,
                vec![
                    (0xFAFF_FFFF, None),
                    (0xFB00_0000, Some(ParameterSpecific)),
                    (0xFDFF_FFFF, Some(Reserved)),
                    (0xFE00_0000, Some(Error)),
                    (0xFF00_0000, Some(NotAvailable)),
                ],
            ),
            (
                64,
                vec![(u64::MAX >> 8, None), (u64::MAX, Some(NotAvailable))],
            ),
            (12, vec![(0xFFE, None), (0xFFF, Some(NotAvailable))]),
        ] {
            for (raw, meaning) in rows {
                assert_eq!(special_value(raw, bits), meaning, "{raw:#X} in {bits} bits");
            }
        }
    }

    proptest! {
        #[test]
        fn priority_source_and_destination_do_not_change_the_group(
            id in 0u32..=MAX_EXTENDED_ID, priority in 0u32..8, source in 0u32..256,
        ) {
            let other = id & 0x03FF_FF00 | priority << 26 | source;
            prop_assert_eq!(pgn_of(id), pgn_of(other));
            prop_assert_eq!(id & pgn_mask(id), other & pgn_mask(other));
        }
    }
}
