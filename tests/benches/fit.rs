//! Rests to leak rates, and everything to a judgement, of the night.

use crate::inputs::night;
use divan::Bencher;
use divan::counter::ItemsCount;
use seep_common::rig::Rig;
use seep_report::analysis::air::Vessel;
use seep_report::analysis::leak::{Prepared, plain_rest, prepare};
use seep_report::analysis::segment::Rest;
use seep_report::digest::Digest;
use seep_report::judgement::Judgement;

fn digested() -> (Digest, Rig) {
    let recording = night().open();
    let digest = Digest::build(&recording, |_| {}).expect("read");
    (digest, recording.rig)
}

/// Rests long enough for a fit, each with its volume.
fn fitted(digest: &Digest) -> Vec<(&Rest, &Vessel, Prepared)> {
    let out: Vec<_> = (digest.rests.iter())
        .filter_map(|rest| {
            let vessel = digest.vessel(&rest.place)?;
            Some((rest, vessel, prepare(rest, vessel)?))
        })
        .collect();
    assert!(!out.is_empty(), "the night has rests");
    out
}

/// Means of rests to amounts of air; items are means.
#[divan::bench]
fn amounts(bencher: Bencher) {
    let (digest, _) = digested();
    let rests = fitted(&digest);
    let means: usize = rests.iter().map(|(rest, _, _)| rest.points.len()).sum();
    bencher.counter(ItemsCount::new(means)).bench_local(|| {
        let amounts = rests.iter().map(|(rest, vessel, _)| prepare(rest, vessel));
        amounts.collect::<Vec<_>>()
    });
}

/// The plain decay of each rest with its uncertainty; items are rests.
#[divan::bench]
fn rests(bencher: Bencher) {
    let (digest, _) = digested();
    let rests = fitted(&digest);
    bencher.counter(rests.len()).bench_local(|| {
        let fit = |(rest, vessel, data): &(&Rest, &Vessel, Prepared)| {
            plain_rest(rest, data, vessel, digest.ambient_kpa_abs)
        };
        rests.iter().map(fit).collect::<Vec<_>>()
    });
}

/// Everything that is concluded, in words; items are rests.
#[divan::bench]
fn judgement(bencher: Bencher) {
    let (digest, rig) = digested();
    bencher
        .counter(digest.rests.len())
        .bench_local(|| Judgement::of(&digest, &rig));
}
