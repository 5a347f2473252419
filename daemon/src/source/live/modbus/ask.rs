//! One question to the station and what came of it.

use super::wire::Wire;
use seep_common::codec::decode::RegisterBlock;
use seep_common::rig::RegisterTable;
use std::io;
use std::time::Duration;
use tokio_modbus::client::{Client, rtu};
use tokio_modbus::{Error, ExceptionCode, ProtocolError, Request, Response, Slave};

/// What came of a question.
#[derive(Debug)]
pub(super) enum Answer {
    /// As many registers as were asked for.
    Words(Vec<u16>),
    /// The station answered that it will not.
    Refused(ExceptionCode),
    /// Nothing, or not enough, came in time.
    Nothing,
    /// Something came that is no right answer: wrong checksum, wrong length.
    Damaged,
    /// A right answer to something else: of another station, or too late.
    Unsolicited,
    /// The line itself is gone, and why.
    LineLost(String),
}

/// Ask a station for a block of registers.
///
/// # Errors
/// Of the line, never of the station.
pub(super) async fn ask(
    wire: &Wire,
    unit: u8,
    block: RegisterBlock,
    time: Duration,
) -> io::Result<Answer> {
    // A context of its own for each question: after a timeout or a damaged
    // answer the library's would start with what was left over.
    let mut client = rtu::attach_slave(wire.clone(), Slave(unit));
    let request = match block.table {
        RegisterTable::Input => Request::ReadInputRegisters(block.first, block.count),
        RegisterTable::Holding => Request::ReadHoldingRegisters(block.first, block.count),
    };
    Ok(
        match tokio::time::timeout(time, client.call(request)).await {
            Err(_) => Answer::Nothing,
            Ok(Ok(Ok(
                Response::ReadInputRegisters(words) | Response::ReadHoldingRegisters(words),
            ))) => {
                if words.len() == usize::from(block.count) {
                    Answer::Words(words)
                } else {
                    Answer::Unsolicited
                }
            }
            Ok(Ok(Ok(_))) => Answer::Unsolicited,
            Ok(Ok(Err(code))) => Answer::Refused(code),
            Ok(Err(Error::Protocol(
                ProtocolError::HeaderMismatch { .. } | ProtocolError::FunctionCodeMismatch { .. },
            ))) => Answer::Unsolicited,
            Ok(Err(Error::Transport(e))) => match e.kind() {
                io::ErrorKind::InvalidData | io::ErrorKind::InvalidInput => Answer::Damaged,
                _ => return Err(e),
            },
        },
    )
}

/// Time on the wire of an answer with so many registers: station, function,
/// length, two bytes each, checksum; ten bits a byte.
pub(super) fn answer_ms(registers: u16, baud: u32) -> i64 {
    let bits = (5 + 2 * i64::from(registers)) * 10;
    bits * 1000 / i64::from(baud.max(1))
}

/// Silence that must separate two frames: 3.5 characters, and 1.75 ms above
/// 19200 baud.
///
/// **Source**: Modbus over Serial Line, Specification and Implementation Guide
/// V1.02, 2.5.1.1 (characters of 11 bits; from memory, text not seen).
pub(super) fn silence(baud: u32) -> Duration {
    if baud > 19_200 {
        return Duration::from_micros(1_750);
    }
    Duration::from_secs_f64(3.5 * 11.0 / f64::from(baud.max(1)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_on_the_wire() {
        assert_eq!(answer_ms(1, 9_600), 7);
        assert_eq!(answer_ms(125, 9_600), 265);
        assert_eq!(silence(9_600).as_micros(), 4_010);
        assert_eq!(silence(115_200).as_micros(), 1_750);
    }
}
