use super::*;
use proptest::prelude::*;

mod change;
mod data;
mod grouping;
mod nile;

pub(super) fn close(got: f64, want: f64, relative: f64) {
    assert!(
        (got - want).abs() <= relative * want.abs(),
        "got {got}, want {want}"
    );
}

/// GUM (JCGM 100:2008) annex H.2: five simultaneous readings of voltage,
/// current and phase. Readings from memory; their means, r, R, X and Z are
/// published, uncertainties to three digits from memory.
#[test]
fn gum_h2_impedance() {
    let volt = [5.007, 4.994, 5.005, 4.990, 4.999];
    let ampere = [19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3];
    let radian = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433];
    let columns = [&volt[..], &ampere[..], &radian[..]];
    let means = columns.map(|c| mean(c).expect("five readings"));
    close(means[0], 4.9990, 1e-12);
    close(means[1], 19.6610e-3, 1e-12);
    close(means[2], 1.044_46, 1e-12);
    let u = columns.map(|c| sd(c).expect("five") / 5.0_f64.sqrt());
    let r = |i: usize, j: usize| correlation(columns[i], columns[j]).expect("spread");
    for (i, j, want) in [(0, 1, -0.36), (0, 2, 0.86), (1, 2, -0.65)] {
        assert!((r(i, j) - want).abs() < 0.006, "{i} {j}: {}", r(i, j));
    }
    let covariance = nalgebra::DMatrix::from_fn(3, 3, |i, j| r(i, j) * u[i] * u[j]);
    let resistance = propagate(&means, &covariance, |v| v[0] / v[1] * v[2].cos());
    let reactance = propagate(&means, &covariance, |v| v[0] / v[1] * v[2].sin());
    let impedance = propagate(&means, &covariance, |v| v[0] / v[1]);
    for (got, value, error) in [
        (resistance, 127.732, 0.071),
        (reactance, 219.847, 0.295),
        (impedance, 254.260, 0.236),
    ] {
        assert!((got.value - value).abs() < 6e-4, "{got:?}");
        assert!((got.standard_error - error).abs() < 6e-4, "{got:?}");
    }
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

proptest! {
    #[test]
    fn generator_stays_below(seed: u64, below in 1_usize..1000) {
        let mut rng = SplitMix64::new(seed);
        prop_assert!((0..100).all(|_| rng.below(below) < below));
    }
}
