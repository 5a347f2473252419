use super::*;

mod data;
mod grouping;
mod nile;

pub(super) fn close(got: f64, want: f64, relative: f64) {
    assert!(
        (got - want).abs() <= relative * want.abs(),
        "got {got}, want {want}"
    );
}

/// First outputs of SplitMix64 for seed 1234567 as printed by several
/// implementations (from memory).
#[test]
fn generator_gives_its_published_numbers() {
    let mut rng = SplitMix64::new(1_234_567);
    let got: Vec<u64> = (0..5).map(|_| rng.next_u64()).collect();
    assert_eq!(
        got,
        [
            6_457_827_717_110_365_317,
            3_203_168_211_198_807_973,
            9_817_491_932_198_370_423,
            4_593_380_528_125_082_431,
            16_408_922_859_458_223_821
        ]
    );
}
