//! Bytes to readings.

use crate::inputs::{BOX, BUS, can_decoder, file, frames, nmea_decoder, rig, sentences};
use divan::counter::{BytesCount, ItemsCount};
use divan::{Bencher, black_box};
use seep_common::codec::candump::LineReader;
use seep_common::codec::nmea::{Item, Lexer};
use seep_common::time::BootMs;

/// Lines of a candump log to frames; items are frames.
#[divan::bench]
fn candump_lines(bencher: Bencher) {
    let log = file(BUS);
    let count = frames(&mut LineReader::new(), &log, &mut |_| {});
    bencher
        .counter(BytesCount::of_slice(&log))
        .counter(ItemsCount::new(count))
        .bench(|| {
            frames(&mut LineReader::new(), black_box(&log), &mut |frame| {
                black_box(frame);
            })
        });
}

/// Lines of a candump log to readings; items are frames.
#[divan::bench]
fn candump_readings(bencher: Bencher) {
    let log = file(BUS);
    let decoder = can_decoder(&rig());
    let count = frames(&mut LineReader::new(), &log, &mut |_| {});
    bencher
        .counter(BytesCount::of_slice(&log))
        .counter(ItemsCount::new(count))
        .with_inputs(|| decoder.clone())
        .bench_refs(|decoder| {
            frames(&mut LineReader::new(), black_box(&log), &mut |frame| {
                decoder.decode(frame, BootMs(frame.t_us / 1000), &mut |sample| {
                    black_box(sample);
                });
            })
        });
}

/// Bytes of a serial line to sentences with a right checksum; items are sentences.
#[divan::bench]
fn nmea_sentences(bencher: Bencher) {
    let log = file(BOX);
    let mut lexer = Lexer::new();
    lexer.push(&log, &mut |_| {});
    bencher
        .counter(BytesCount::of_slice(&log))
        .counter(ItemsCount::new(lexer.counts().sentences))
        .bench(|| {
            Lexer::new().push(black_box(&log), &mut |item: Item| {
                black_box(item);
            });
        });
}

/// Bytes of a serial line to readings; items are readings.
#[divan::bench]
fn nmea_readings(bencher: Bencher) {
    let log = file(BOX);
    let decoder = nmea_decoder(&rig());
    let mut count = 0_u64;
    sentences(&mut decoder.clone(), &log, &mut |_| count += 1);
    bencher
        .counter(BytesCount::of_slice(&log))
        .counter(ItemsCount::new(count))
        .with_inputs(|| decoder.clone())
        .bench_refs(|decoder| {
            sentences(decoder, black_box(&log), &mut |sample| {
                black_box(sample);
            });
        });
}
