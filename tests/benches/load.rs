//! The log to columns.

use crate::inputs::trip;
use divan::Bencher;
use divan::counter::ItemsCount;
use seep_common::store::Reader;
use seep_common::time::LogMs;

/// Everything but the rows: sessions, channels, events, gaps, counters.
#[divan::bench]
fn open(bencher: Bencher) {
    let log = trip();
    bencher.bench_local(|| log.open());
}

/// All rows to plain columns; items are rows.
#[divan::bench]
fn columns(bencher: Bencher) {
    let reader = Reader::open(&trip().path).expect("a sound log");
    let names = trip().open().channel_names();
    let read = || {
        reader
            .columns(&names, LogMs::MIN, LogMs::MAX)
            .expect("read")
    };
    bencher
        .counter(ItemsCount::new(read().t_ms.len()))
        .bench_local(read);
}

/// All rows to the frame of a session; items are rows.
#[divan::bench]
fn frames(bencher: Bencher) {
    let recording = trip().open();
    let read = || -> usize {
        let sessions = recording.sessions.iter();
        sessions
            .map(|s| recording.frame(s).expect("read").len())
            .sum()
    };
    bencher.counter(ItemsCount::new(read())).bench_local(read);
}
