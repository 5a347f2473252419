//! The form in which `candump -l` writes a data frame of a classic bus, read
//! without detours: nearly every line of a log is one, and a full bus has
//! thousands of them a second.
//!
//! Whatever is not exactly of this form is `None` here and goes to the parser
//! of every form, which gives the same frame and all the reasons.

use super::parse::NIBBLE;
use crate::codec::can::{
    CanFrame, FrameKind, InterfaceName, MAX_CLASSIC_BYTES, MAX_EXTENDED_ID, MAX_STANDARD_ID,
};

/// `(seconds.micros) `: ten and six digits.
const STAMP_BYTES: usize = 20;

/// The frame of a line of that form.
#[inline]
pub(super) fn canonical(line: &[u8]) -> Option<CanFrame> {
    let (stamp, rest) = line.split_first_chunk::<STAMP_BYTES>()?;
    let t_us = micros(stamp)?;
    let space = rest.iter().position(|&b| b == b' ')?;
    let (interface, text) = (&rest[..space], &rest[space + 1..]);
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
    let data = &text[digits + 1..];
    if id > most || data.len() > 2 * MAX_CLASSIC_BYTES || data.len() % 2 != 0 {
        return None;
    }
    let mut frame = CanFrame::empty(id, extended, FrameKind::Data);
    frame.t_us = t_us;
    frame.interface = InterfaceName::new(interface)?;
    let (payload, len) = frame.payload_mut();
    let mut bad = 0;
    for (byte, pair) in payload.iter_mut().zip(data.chunks_exact(2)) {
        let (high, low) = (NIBBLE[usize::from(pair[0])], NIBBLE[usize::from(pair[1])]);
        bad |= high | low;
        *byte = high << 4 | low;
    }
    *len = (data.len() / 2) as u8;
    (bad <= 15).then_some(frame)
}

/// Microseconds of `(1436509052.249713) `.
#[inline]
fn micros(stamp: &[u8; STAMP_BYTES]) -> Option<i64> {
    if (stamp[0], stamp[11], stamp[18], stamp[19]) != (b'(', b'.', b')', b' ') {
        return None;
    }
    let mut value = 0i64;
    let mut good = true;
    for &digit in stamp[1..11].iter().chain(&stamp[12..18]) {
        good &= digit.is_ascii_digit();
        // Sixteen digits stay far below the largest number.
        value = value * 10 + i64::from(digit & 15);
    }
    good.then_some(value)
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
    use super::canonical;
    use proptest::prelude::*;

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
