//! A station that follows a script, byte by byte.

use std::fs::File;
use std::io::{Read, Write};
use std::sync::{Arc, Mutex};

/// Checksum of Modbus RTU: CRC-16, polynomial 0xA001 reflected, start 0xFFFF, low
/// byte first.
pub(super) fn with_crc(frame: &[u8]) -> Vec<u8> {
    let crc = frame.iter().fold(0xFFFFu16, |crc, &byte| {
        (0..8).fold(crc ^ u16::from(byte), |crc, _| {
            if crc & 1 == 1 {
                crc >> 1 ^ 0xA001
            } else {
                crc >> 1
            }
        })
    });
    [frame, &crc.to_le_bytes()].concat()
}

/// An answer with these registers.
pub(super) fn words(unit: u8, function: u8, words: &[u16]) -> Vec<u8> {
    let mut frame = vec![unit, function, words.len() as u8 * 2];
    frame.extend(words.iter().flat_map(|word| word.to_be_bytes()));
    with_crc(&frame)
}

/// Every question that has arrived.
pub(super) type Asked = Arc<Mutex<Vec<Vec<u8>>>>;

/// Answer each question by the script, which gets its number from 0 and its
/// bytes. Ends with the line.
pub(super) fn serve(
    mut far_end: File,
    mut script: impl FnMut(usize, &[u8]) -> Vec<u8> + Send + 'static,
) -> Asked {
    let asked = Asked::default();
    let log = asked.clone();
    std::thread::spawn(move || {
        let mut question = [0; 8];
        for number in 0.. {
            // No one holds the near end before it is first opened, and after
            // it was closed: reading fails then, and works again later.
            while far_end.read_exact(&mut question).is_err() {
                std::thread::sleep(std::time::Duration::from_millis(1));
                if Arc::strong_count(&log) == 1 {
                    return;
                }
            }
            log.lock().expect("no fault").push(question.to_vec());
            let answer = script(number, &question);
            let _ = far_end.write_all(&answer);
        }
    });
    asked
}
