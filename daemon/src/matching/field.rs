//! A field of a payload: where its bits are and how they make a number.

/// Bits of a payload that make a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Field {
    /// Place of the lowest bit (little-endian) or of the highest (big-endian), in
    /// the order in which bits follow each other there: 0 to 63.
    pub(super) place: u8,
    /// Number of bits, 8 to 32.
    pub bits: u8,
    /// Highest byte first (`@0` in a DBC file).
    pub big_endian: bool,
    /// Two's complement.
    pub signed: bool,
}

impl Field {
    /// Every field on a byte or nibble edge of a payload of so many bytes,
    /// 8 to 32 bits long; from byte `from` on.
    pub(super) fn all(from: u8, length: u8) -> Vec<Field> {
        let mut out = Vec::new();
        for big_endian in [false, true] {
            for place in (from * 8..length * 8).step_by(4) {
                for bits in (8..=32).step_by(4) {
                    let within_a_byte = place % 8 == 0 && bits == 8;
                    if place + bits > length * 8 || (big_endian && within_a_byte) {
                        continue;
                    }
                    for signed in [false, true] {
                        out.push(Field {
                            place,
                            bits,
                            big_endian,
                            signed,
                        });
                    }
                }
            }
        }
        out
    }

    /// The start bit as a DBC file counts it: of the lowest bit (`@1`) or, in
    /// big-endian fields, of the highest one (`@0`), byte · 8 + bit.
    #[must_use]
    pub fn start_bit(self) -> u32 {
        let place = u32::from(self.place);
        if self.big_endian {
            place - place % 8 + (7 - place % 8)
        } else {
            place
        }
    }

    /// The number in a payload.
    #[inline]
    pub(super) fn value(self, bytes: &[u8; 8]) -> f64 {
        let (place, bits) = (u32::from(self.place), u32::from(self.bits));
        let raw = if self.big_endian {
            u64::from_be_bytes(*bytes) >> (64 - place - bits)
        } else {
            u64::from_le_bytes(*bytes) >> place
        } & (u64::MAX >> (64 - bits));
        if self.signed {
            let unused = 64 - bits;
            ((raw << unused) as i64 >> unused) as f64
        } else {
            raw as f64
        }
    }

    /// The bits it takes, as byte · 8 + bit.
    pub(super) fn bit_mask(self) -> u64 {
        let ones = u64::MAX >> (64 - u32::from(self.bits));
        if self.big_endian {
            let first = 64 - u32::from(self.place) - u32::from(self.bits);
            (ones << first).swap_bytes()
        } else {
            ones << self.place
        }
    }

    /// Whether the field starts and ends on byte edges.
    pub(super) fn is_whole_bytes(self) -> bool {
        self.place.is_multiple_of(8) && self.bits.is_multiple_of(8)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use seep_common::codec::dbc::{Database, Extracted};

    #[test]
    fn each_field_is_fetched_as_a_bus_database_fetches_it() {
        let bytes = [0x12, 0x34, 0x56, 0x78, 0x9A, 0xBC, 0xDE, 0xF0];
        let fields = Field::all(0, 8);
        let mut text = String::from("BO_ 291 Frame: 8 Vector__XXX\n");
        for (i, field) in fields.iter().enumerate() {
            let order = u8::from(!field.big_endian);
            let sign = if field.signed { '-' } else { '+' };
            text += &format!(
                " SG_ S{i} : {}|{}@{order}{sign} (1,0) [0|0] \"\" Vector__XXX\n",
                field.start_bit(),
                field.bits
            );
        }
        let database = Database::parse("fields", &text).expect("a database");
        for (i, field) in fields.iter().enumerate() {
            let found = database.find(&format!("Frame.S{i}")).expect("there");
            let expected = Extracted::Value(field.value(&bytes));
            assert_eq!(found.signal.extract(&bytes), expected, "{field:?}");
        }
    }

    #[test]
    fn the_mask_has_just_the_bits_that_matter() {
        for field in Field::all(0, 8).into_iter().filter(|f| !f.signed) {
            let mask = field.bit_mask();
            assert_eq!(mask.count_ones(), u32::from(field.bits));
            assert_eq!(field.value(&(!mask).to_le_bytes()), 0.0, "{field:?}");
        }
    }

    #[test]
    fn signed_fields_have_a_sign() {
        let field = Field {
            place: 8,
            bits: 8,
            big_endian: false,
            signed: true,
        };
        assert_eq!(field.value(&[0, 0xFE, 0, 0, 0, 0, 0, 0]), -2.0);
    }
}
