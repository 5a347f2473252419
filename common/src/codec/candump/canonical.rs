//! The form in which `candump -l` writes a data frame of a classic bus, read
//! without detours: nearly every line of a log is one, and a full bus has
//! thousands of them a second.
//!
//! Whatever is not exactly of this form is `None` here and goes to the parser
//! of every form, which gives the same frame and all the reasons.

use super::hex::NIBBLE;
use crate::codec::can::{
    CanFrame, FrameKind, InterfaceName, MAX_CLASSIC_BYTES, MAX_EXTENDED_ID, MAX_STANDARD_ID,
};

/// `(seconds.micros) `: ten and six digits.
pub(in crate::codec) const STAMP_BYTES: usize = 20;

/// Read a line of that form into `frame`, which is copied nowhere; false, and
/// the frame is of no use, where it has another form. The interface that stands
/// in the frame is expected again.
#[inline]
pub(super) fn canonical(line: &[u8], frame: &mut CanFrame) -> bool {
    read(line, frame).is_some()
}

#[inline]
fn read(line: &[u8], frame: &mut CanFrame) -> Option<()> {
    let (stamp, rest) = line.split_first_chunk::<STAMP_BYTES>()?;
    let t_us = micros(stamp)?;
    let (interface, text) = interface(rest, frame.interface)?;
    let (digits, extended) = if text.get(3) == Some(&b'#') {
        (3, false)
    } else if text.get(8) == Some(&b'#') {
        (8, true)
    } else {
        return None;
    };
    let id = number(&text[..digits])?;
    let most = if extended {
        MAX_EXTENDED_ID
    } else {
        MAX_STANDARD_ID
    };
    let (pairs, odd) = text[digits + 1..].as_chunks::<2>();
    if id > most || pairs.len() > MAX_CLASSIC_BYTES || !odd.is_empty() {
        return None;
    }
    *frame = CanFrame::empty(id, extended, FrameKind::Data);
    frame.t_us = t_us;
    frame.interface = interface;
    let (payload, len) = frame.payload_mut();
    let mut bad = 0;
    for (i, [high, low]) in pairs.iter().enumerate() {
        let (high, low) = (NIBBLE[usize::from(*high)], NIBBLE[usize::from(*low)]);
        bad |= high | low;
        payload[i] = high << 4 | low;
    }
    *len = pairs.len() as u8;
    (bad <= 15).then_some(())
}

/// The name before the next space and what follows it.
#[inline]
fn interface(text: &[u8], expected: InterfaceName) -> Option<(InterfaceName, &[u8])> {
    if let Some(rest) = without_name(text, expected) {
        return Some((expected, rest));
    }
    let space = text.iter().position(|&b| b == b' ')?;
    Some((InterfaceName::new(&text[..space])?, &text[space + 1..]))
}

/// What follows a name and a space, if the text starts with them. Compared byte by
/// byte: a name of four bytes is not worth a call.
#[inline]
pub(in crate::codec) fn without_name(text: &[u8], name: InterfaceName) -> Option<&[u8]> {
    let name = name.as_bytes();
    let (start, [b' ', rest @ ..]) = text.split_at_checked(name.len())? else {
        return None;
    };
    (0..name.len()).all(|i| start[i] == name[i]).then_some(rest)
}

/// Microseconds of `(1436509052.249713) `.
#[inline]
pub(in crate::codec) fn micros(stamp: &[u8; STAMP_BYTES]) -> Option<i64> {
    if (stamp[0], stamp[11], stamp[18], stamp[19]) != (b'(', b'.', b')', b' ') {
        return None;
    }
    let digit = |at: usize| u64::from(stamp[at].wrapping_sub(b'0'));
    let high = eight_digits(stamp[1..9].try_into().ok()?)?;
    let (ninth, tenth) = (digit(9), digit(10));
    if ninth > 9 || tenth > 9 {
        return None;
    }
    // The six digits of the fraction with two zeros before them.
    let mut fraction: [u8; 8] = stamp[10..18].try_into().ok()?;
    (fraction[0], fraction[1]) = (b'0', b'0');
    let fraction = eight_digits(fraction)?;
    // Sixteen digits stay far below the largest number.
    Some(((high * 100 + ninth * 10 + tenth) * 1_000_000 + fraction) as i64)
}

/// Value of eight decimal digits, taken together in one word.
#[inline]
fn eight_digits(text: [u8; 8]) -> Option<u64> {
    let word = u64::from_le_bytes(text);
    if !all_digits(word) {
        return None;
    }
    // Neighbours are joined to numbers of two, four and eight digits.
    let ones = word & 0x0F0F_0F0F_0F0F_0F0F;
    let twos = (ones * 10 + (ones >> 8)) & 0x00FF_00FF_00FF_00FF;
    let fours = (twos * 100 + (twos >> 16)) & 0x0000_FFFF_0000_FFFF;
    Some((fours * 10_000 + (fours >> 32)) & 0xFFFF_FFFF)
}

/// Whether each byte of a word is `0` to `9`: its high half is 3, and stays so
/// when 6 is added.
#[inline]
fn all_digits(word: u64) -> bool {
    let high = |w: u64| w & 0xF0F0_F0F0_F0F0_F0F0;
    let threes = 0x3030_3030_3030_3030;
    high(word) == threes && high(word.wrapping_add(0x0606_0606_0606_0606)) == threes
}

/// A hexadecimal number of at most eight digits.
#[inline]
fn number(text: &[u8]) -> Option<u32> {
    let (mut value, mut bad) = (0u32, 0u8);
    for &digit in text {
        let nibble = NIBBLE[usize::from(digit)];
        bad |= nibble;
        value = value << 4 | u32::from(nibble & 15);
    }
    (bad <= 15).then_some(value)
}

#[cfg(test)]
mod tests {
    use super::super::parse::any_form;
    use crate::codec::can::{CanFrame, FrameKind};
    use proptest::prelude::*;

    /// The frame of a line; what stood in it before must not matter.
    fn canonical(line: &[u8]) -> Option<CanFrame> {
        let mut before = CanFrame::error_report(5, &[7; 64]).expect("fits");
        before.t_us = -1;
        let mut frame = before;
        let own = super::canonical(line, &mut frame).then_some(frame);
        let mut other = CanFrame::empty(0, false, FrameKind::Remote);
        other.interface = frame.interface;
        assert_eq!(super::canonical(line, &mut other), own.is_some());
        assert!(own.is_none_or(|frame| frame == other));
        own
    }

    #[test]
    fn a_plain_data_frame_is_of_this_form() {
        for line in [
            "(1436509052.249713) can0 18FE58FE#03147B13C518FFFF",
            "(1436509052.249713) can0 123#",
            "(1436509052.249713) vcan12 7ff#aB",
        ] {
            let frame = canonical(line.as_bytes());
            assert!(frame.is_some(), "{line}");
            assert_eq!(frame, any_form(line.as_bytes()).ok(), "{line}");
        }
    }

    #[test]
    fn every_other_form_is_left_to_the_other_parser() {
        for rest in [
            "can0 123#R4",
            "can0 123##1112233",
            "can0 20000040#00",
            "can0 123#1122 R",
            "can0 123#11.22",
            "can0 123#1122_A",
            "can0 123#11\r",
            "can0 800#11",
            "can0 123#112",
            "can0 123#112233445566778899",
            "can0 12G#11",
            "  can0 123#11",
        ] {
            let line = format!("(1436509052.249713) {rest}");
            assert_eq!(canonical(line.as_bytes()), None, "{line}");
        }
        assert_eq!(canonical(b"(143650905.249713) can0 123#11"), None);
        assert_eq!(canonical(b"(1436509052.24971) can0 123#11"), None);
    }

    #[test]
    fn each_digit_of_the_time_counts_and_nothing_else_is_one() {
        let line = *b"(1436509052.249713) can0 123#11";
        for at in (1..11).chain(12..18) {
            for byte in 0..=255 {
                let mut line = line;
                line[at] = byte;
                let wanted = any_form(&line).ok().filter(|_| byte.is_ascii_digit());
                assert_eq!(canonical(&line), wanted, "{at}, {byte}");
            }
        }
    }

    proptest! {
        #[test]
        fn what_it_reads_the_other_parser_reads_alike(
            line in r"[(]?[0-9]{9,11}[.][0-9]{5,7}[)] [a-z ]{0,4}[0-9]? ([0-9A-Fa-f]{3}|[0-3][0-9A-Fa-f]{7})#[0-9A-Fa-f_.R#]{0,18}[ R\r]{0,2}",
        ) {
            if let Some(frame) = canonical(line.as_bytes()) {
                prop_assert_eq!(Ok(frame), any_form(line.as_bytes()));
            }
        }

        #[test]
        fn plain_lines_agree(
            t in 1_000_000_000_i64..9_999_999_999, micros in 0..1_000_000, id in 0..=0x7FF_u32,
            data in prop::collection::vec(any::<u8>(), 0..=8),
        ) {
            let hex: String = data.iter().map(|b| format!("{b:02X}")).collect();
            let line = format!("({t}.{micros:06}) can0 {id:03X}#{hex}");
            let frame = canonical(line.as_bytes());
            prop_assert!(frame.is_some());
            prop_assert_eq!(frame, any_form(line.as_bytes()).ok());
        }
    }
}
