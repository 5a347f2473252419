//! Where the bits of a signal lie, and how to fetch them.

/// Position of a signal's bits in the payload.
///
/// A DBC counts bits as `byte × 8 + bit`, bit 0 the least significant. For
/// little-endian (Intel, `@1`) signals the start is the least significant bit and
/// the signal grows upwards; for big-endian (Motorola, `@0`) ones the start is the
/// most significant bit and the signal goes down within a byte, then on in the
/// next byte from its bit 7.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Layout {
    /// First bit counted in the direction of growth: for big-endian, bit 7 of
    /// byte 0 is 0.
    start: u16,
    /// 1 to 64.
    length: u8,
    first_byte: u16,
    last_byte: u16,
    /// Right shift of the eight first bytes read as one number.
    shift: u8,
    mask: u64,
    big_endian: bool,
}

impl Layout {
    /// Bits from a DBC start bit; `None` for lengths other than 1 to 64 or a
    /// start that no frame has.
    #[must_use]
    pub(super) fn new(start_bit: u64, length: u64, big_endian: bool) -> Option<Self> {
        if !(1..=64).contains(&length) || start_bit > 14_279 {
            return None; // 1 785 bytes, the longest J1939 message
        }
        let start = if big_endian {
            start_bit - start_bit % 8 + (7 - start_bit % 8)
        } else {
            start_bit
        };
        let end = start + length - 1;
        let shift = match (end < 64, big_endian) {
            (true, false) => start,
            (true, true) => 63 - end,
            (false, _) => 0,
        };
        Some(Layout {
            start: start as u16,
            length: length as u8,
            first_byte: (start / 8) as u16,
            last_byte: (end / 8) as u16,
            shift: shift as u8,
            mask: u64::MAX >> (64 - length),
            big_endian,
        })
    }

    /// Width in bits, 1 to 64.
    #[must_use]
    pub fn length(&self) -> u32 {
        u32::from(self.length)
    }

    /// Bytes a payload needs to hold the whole signal.
    #[must_use]
    pub fn bytes_needed(&self) -> usize {
        usize::from(self.last_byte) + 1
    }

    /// The bits as an unsigned number; `None` when the payload is too short.
    #[must_use]
    #[inline]
    pub fn bits(&self, data: &[u8]) -> Option<u64> {
        if usize::from(self.last_byte) >= data.len() {
            return None;
        }
        if self.last_byte >= 8 {
            return Some(self.bits_beyond_eight(data));
        }
        let word = first_eight(data);
        let word = if self.big_endian {
            word.swap_bytes()
        } else {
            word
        };
        Some(word >> self.shift & self.mask)
    }

    /// For longer frames: the bytes touched, at most nine, in one wide number.
    fn bits_beyond_eight(&self, data: &[u8]) -> u64 {
        let (first, last) = (usize::from(self.first_byte), usize::from(self.last_byte));
        let touched = &data[first..=last];
        let within = usize::from(self.start) - first * 8;
        let length = usize::from(self.length);
        let wide = if self.big_endian {
            let number = touched
                .iter()
                .fold(0u128, |number, &byte| number << 8 | u128::from(byte));
            number >> (touched.len() * 8 - within - length)
        } else {
            let number = touched
                .iter()
                .rev()
                .fold(0u128, |number, &byte| number << 8 | u128::from(byte));
            number >> within
        };
        wide as u64 & self.mask
    }

    /// Every bit as `byte × 8 + bit`, to find overlaps.
    pub(super) fn bit_numbers(self) -> impl Iterator<Item = usize> {
        let start = usize::from(self.start);
        (start..start + usize::from(self.length)).map(move |position| {
            if self.big_endian {
                position - position % 8 + (7 - position % 8)
            } else {
                position
            }
        })
    }
}

/// The first eight bytes, little-endian, zeros where the payload is shorter.
#[inline]
fn first_eight(data: &[u8]) -> u64 {
    if let Some(eight) = data.first_chunk::<8>() {
        return u64::from_le_bytes(*eight);
    }
    let mut eight = [0; 8];
    eight[..data.len()].copy_from_slice(data);
    u64::from_le_bytes(eight)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Bit by bit, straight from the words of the format.
    fn slow(start_bit: u64, length: u64, big_endian: bool, data: &[u8]) -> Option<u64> {
        let mut value = 0u64;
        let (mut byte, mut bit) = ((start_bit / 8) as usize, start_bit % 8);
        for count in 0..length {
            let one = u64::from(data.get(byte)? >> bit & 1);
            if big_endian {
                value = value << 1 | one;
                (byte, bit) = if bit == 0 {
                    (byte + 1, 7)
                } else {
                    (byte, bit - 1)
                };
            } else {
                value |= one << count;
                (byte, bit) = if bit == 7 {
                    (byte + 1, 0)
                } else {
                    (byte, bit + 1)
                };
            }
        }
        Some(value)
    }

    #[test]
    fn known_places() {
        let data = [0x12, 0x34, 0x56, 0x78, 0x9A, 0xBC, 0xDE, 0xF0];
        let bits = |start, length, big| Layout::new(start, length, big).and_then(|l| l.bits(&data));
        assert_eq!(bits(0, 16, false), Some(0x3412));
        assert_eq!(bits(7, 16, true), Some(0x1234));
        assert_eq!(bits(4, 8, false), Some(0x41));
        assert_eq!(bits(3, 8, true), Some(0x23));
        assert_eq!(bits(0, 64, false), Some(0xF0DE_BC9A_7856_3412));
        assert_eq!(bits(7, 64, true), Some(0x1234_5678_9ABC_DEF0));
        assert_eq!(bits(56, 16, false), None, "reaches into a ninth byte");
        assert_eq!(Layout::new(0, 0, false), None);
        assert_eq!(Layout::new(0, 65, false), None);
        assert_eq!(Layout::new(u64::MAX, 1, true), None);
    }

    proptest! {
        #[test]
        fn fast_and_slow_ways_agree(
            start in 0u64..512, length in 1u64..=64, big in any::<bool>(),
            data in proptest::collection::vec(any::<u8>(), 0..=64),
        ) {
            let layout = Layout::new(start, length, big).expect("in range");
            prop_assert_eq!(layout.bits(&data), slow(start, length, big, &data));
            prop_assert_eq!(layout.bit_numbers().count() as u64, length);
        }
    }
}
