//! Plays the board on a PC with the invented inputs of `host/main.cpp`, as fast
//! as they are taken: what it prints must be what the sketch prints.
//!
//!     play SECONDS

use seep_board::{Board, Names, Scale};
use std::collections::VecDeque;
use std::io::Write;

const NAMES: Names<4, 5> = Names {
    board: "seep-board 1.0.0",
    analogue: ["TANK", "FRONT", "REAR", "SUPPLY"],
    switches: [
        "FRONT_FILL",
        "FRONT_DUMP",
        "REAR_FILL",
        "REAR_DUMP",
        "COMPRESSOR",
    ],
    temperature: Some("AIR"),
};

/// As in `seep_board/settings.h`.
const SCALE: Scale = Scale {
    reference_100uv: 50_000,
    highest_count: 1023,
    moved_100uv: 100,
};

/// As in `host/Wire.h`: 0x1410 counts of 1/256 °C.
const TEMPERATURE_0_01C: i32 = (0x1410 * 100 + 128) / 256;

/// Room of the sketch's outbox, bytes.
const OUTBOX: usize = 512;

fn ramp(now_ms: u32, (from_s, to_s): (u32, u32), (from, to): (i32, i32)) -> i32 {
    let passed_ms = now_ms as i32 - from_s as i32 * 1000;
    let whole_ms = (to_s - from_s) as i32 * 1000;
    from + (to - from) * passed_ms.clamp(0, whole_ms) / whole_ms
}

fn main() -> std::io::Result<()> {
    let seconds: u32 = std::env::args()
        .nth(1)
        .and_then(|word| word.parse().ok())
        .unwrap_or(600);
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    let mut waiting: VecDeque<u8> = VecDeque::new();
    let mut noise: u32 = 1;
    let mut room_bytes = 0.0;
    let mut board = Board::start(NAMES, SCALE, 0, &mut |bytes| put(&mut waiting, bytes));
    for now_ms in 1..=seconds * 1000 {
        room_bytes = f64::min(room_bytes + 38_400.0 / 10_000.0, 63.0);
        let middles = [
            600 + ramp(now_ms, (60, 120), (0, 180)) + ramp(now_ms, (200, 206), (0, -30)),
            380 + ramp(now_ms, (200, 206), (0, 60)),
            410 + ramp(now_ms, (400, 404), (0, -70)),
            590,
        ];
        let counts = middles.map(|middle| {
            noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (middle + (noise >> 16) as i32 % 3 - 1) as u16
        });
        let between = |from_s: u32, to_s: u32| now_ms >= from_s * 1000 && now_ms < to_s * 1000;
        let on = [
            between(200, 206),
            false,
            (500_000..500_005).contains(&now_ms),
            between(400, 404),
            between(60, 120),
        ];
        board.sample(&counts, &on);
        while room_bytes > 0.0 && pump(&mut waiting, &mut room_bytes, &mut out)? {}
        if board.is_due(now_ms) {
            board.step(now_ms, &mut || Some(TEMPERATURE_0_01C), &mut |bytes| {
                put(&mut waiting, bytes)
            });
        }
    }
    out.write_all(waiting.make_contiguous())?;
    out.flush()
}

/// All of a sentence or none.
fn put(waiting: &mut VecDeque<u8>, bytes: &[u8]) -> bool {
    let fits = waiting.len() + bytes.len() <= OUTBOX;
    if fits {
        waiting.extend(bytes);
    }
    fits
}

/// One byte onto the line; false when none waits or the line is full.
fn pump(
    waiting: &mut VecDeque<u8>,
    room_bytes: &mut f64,
    out: &mut impl Write,
) -> std::io::Result<bool> {
    if *room_bytes < 1.0 {
        return Ok(false);
    }
    let Some(byte) = waiting.pop_front() else {
        return Ok(false);
    };
    *room_bytes -= 1.0;
    out.write_all(&[byte])?;
    Ok(true)
}
