//! One frame to one log line.

use super::parse::ERROR_FLAG;
use crate::codec::can::{CanFrame, Direction, FrameKind};

const HEX: &[u8; 16] = b"0123456789ABCDEF";

/// Append the frame as one line with its line feed.
///
/// ```
/// use seep_common::codec::{can::CanFrame, candump};
/// let mut frame = CanFrame::new(0x18FE_58FE, true, &[3, 0x14]).unwrap();
/// frame.t_us = 1_436_509_052_249_713;
/// let mut log = Vec::new();
/// candump::append_line(&frame, &mut log);
/// assert_eq!(log, b"(1436509052.249713) can0 18FE58FE#0314\n");
/// ```
pub fn append_line(frame: &CanFrame, out: &mut Vec<u8>) {
    append_time(frame.t_us, out);
    out.extend_from_slice(frame.interface.as_bytes());
    out.push(b' ');
    match (frame.kind, frame.extended) {
        (FrameKind::Error, _) => append_hex(frame.id | ERROR_FLAG, 8, out),
        (_, true) => append_hex(frame.id, 8, out),
        (_, false) => append_hex(frame.id, 3, out),
    }
    out.push(b'#');
    if frame.kind == FrameKind::Remote {
        out.push(b'R');
        if frame.length() > 0 {
            append_hex(u32::from(frame.length()), 1, out);
        }
    } else if let Some(flags) = frame.fd_flags {
        out.push(b'#');
        append_hex(u32::from(flags), 1, out);
    }
    for &byte in frame.data() {
        append_hex(u32::from(byte), 2, out);
    }
    match frame.direction {
        Direction::Unknown => {}
        Direction::Received => out.extend_from_slice(b" R"),
        Direction::Sent => out.extend_from_slice(b" T"),
    }
    out.push(b'\n');
}

/// `(%010d.%06d) `.
fn append_time(t_us: i64, out: &mut Vec<u8>) {
    out.push(b'(');
    if t_us < 0 {
        out.push(b'-');
    }
    let t_us = t_us.unsigned_abs();
    append_decimal(t_us / 1_000_000, 10, out);
    out.push(b'.');
    append_decimal(t_us % 1_000_000, 6, out);
    out.extend_from_slice(b") ");
}

fn append_decimal(mut value: u64, width: usize, out: &mut Vec<u8>) {
    let start = out.len();
    while value > 0 || out.len() - start < width {
        out.push(b'0' + (value % 10) as u8);
        value /= 10;
    }
    out[start..].reverse();
}

fn append_hex(value: u32, digits: u32, out: &mut Vec<u8>) {
    for place in (0..digits).rev() {
        out.push(HEX[(value >> (4 * place) & 15) as usize]);
    }
}
