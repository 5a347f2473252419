//! Permutation, correction and mixture.

use super::data::GEYSER;
use super::*;

/// Holm 1979 as R's p.adjust gives it (computed by hand).
#[test]
fn holm_steps_down() {
    let got = holm(&[0.01, 0.02, 0.03, 0.04, 0.05]);
    for (g, want) in got.iter().zip([0.05, 0.08, 0.09, 0.09, 0.09]) {
        close(*g, want, 1e-12);
    }
    assert_eq!(holm(&[0.9, 0.8]), vec![1.0, 1.0]);
    assert!(holm(&[]).is_empty());
}

/// The counted and the drawn test must agree; both must be near Student's t for
/// normal-looking data.
#[test]
fn permutation_counts_and_draws_alike() {
    let a = [5.1, 4.9, 6.2, 5.8, 6.1, 5.5, 5.3, 6.4];
    let b = [4.2, 5.0, 4.4, 5.6, 4.8, 4.1, 5.2, 4.6];
    let counted = permutation_p(&a, &b, 0, 1).expect("groups");
    // 12870 groupings are counted; one more value in each makes 48620, drawn.
    let more_a: Vec<f64> = a.iter().copied().chain([5.6]).collect();
    let more_b: Vec<f64> = b.iter().copied().chain([4.7]).collect();
    let drawn = permutation_p(&more_a, &more_b, 20_000, 7).expect("groups");
    assert!(counted > 0.001 && counted < 0.02, "{counted}");
    assert!(drawn > 0.0005 && drawn < counted, "{drawn}");
    let same = permutation_p(&more_a, &more_b, 20_000, 7).expect("groups");
    assert!((drawn - same).abs() < 1e-300, "a seed must repeat");
    assert!(permutation_p(&[], &b, 10, 1).is_none());
    // Identical groups: every grouping is as extreme.
    close(
        permutation_p(&[1.0; 4], &[1.0; 4], 10, 1).expect("groups"),
        1.0,
        1e-15,
    );
}

/// Old Faithful waiting times as two normals. Published (Benaglia et al. 2009,
/// J. Stat. Softw. 32(6), from memory): shares 0.360885 and 0.639115, means
/// 54.614856 and 80.091067, deviations 5.871219 and 5.867735, log-likelihood
/// -1034.002. BIC computed with numpy.
#[test]
fn waiting_times_at_the_geyser() {
    let minutes: Vec<f64> = GEYSER.iter().map(|m| f64::from(*m)).collect();
    assert!((mean(&minutes).expect("272") - 70.897).abs() < 5e-4);
    assert!((sd(&minutes).expect("272") - 13.595).abs() < 5e-4);
    let m = two_normals(&minutes, 0.0).expect("272");
    assert!(m.converged);
    close(m.parts[0].share, 0.360_885, 5e-6);
    close(m.parts[1].share, 0.639_115, 5e-6);
    close(m.parts[0].mean, 54.614_856, 1e-6);
    close(m.parts[1].mean, 80.091_067, 1e-6);
    close(m.parts[0].sd, 5.871_219, 2e-6);
    close(m.parts[1].sd, 5.867_735, 2e-6);
    close(m.log_likelihood, -1034.002, 1e-6);
    close(m.bic_two, 2_096.032_510, 1e-8);
    close(m.bic_one, 2_201.789_205, 1e-8);
    assert!(m.prefers_two(10.0));
    assert!(m.upper_probability[0] > 0.99 && m.upper_probability[1] < 0.01);
}

/// One normal population (quantiles of a normal) must not be split.
#[test]
fn one_population_stays_one() {
    let values: Vec<f64> = (1..60)
        .map(|i| normal_quantile(f64::from(i) / 60.0))
        .collect();
    let m = two_normals(&values, 0.0).expect("59");
    assert!(!m.prefers_two(0.0), "{} {}", m.bic_one, m.bic_two);
    assert!(two_normals(&[1.0; 20], 0.0).is_none());
    assert!(two_normals(&[1.0, 2.0], 0.0).is_none());
}

/// A few values of one population, rounded so that they bunch, are not called
/// two populations when the rounding is told. Simulated, seeded.
#[test]
fn few_rounded_values_are_rarely_split() {
    let mut rng = SplitMix64::new(3);
    let mut split = 0;
    for _ in 0..500 {
        let values: Vec<f64> = (0..8).map(|_| 0.5 * (2.0 * rng.normal()).round()).collect();
        let mixture = two_normals(&values, 0.5 / 12.0_f64.sqrt());
        split += i32::from(mixture.is_some_and(|m| m.prefers_two(10.0)));
    }
    assert!(split <= 5, "{split} of 500");
}

/// Mouse data of Efron and Tibshirani, An Introduction to the Bootstrap (1993),
/// table 2.1: survival in days, treated and control. Their one-sided level from
/// 1000 shuffles is 0.132 (all from memory); counted both ways it is twice that.
#[test]
fn survival_of_sixteen_mice() {
    let treated = [94.0, 197.0, 16.0, 38.0, 99.0, 141.0, 23.0];
    let control = [52.0, 104.0, 146.0, 10.0, 51.0, 30.0, 40.0, 27.0, 46.0];
    let gain = mean(&treated).expect("seven") - mean(&control).expect("nine");
    assert!((gain - 30.63).abs() < 5e-3);
    let p = permutation_p(&treated, &control, 0, 1).expect("groups");
    // Three standard errors of a share of 0.132 in 1000 shuffles are 0.032.
    assert!((p / 2.0 - 0.132).abs() < 0.032, "{p}");
}

/// What is not a number proves nothing.
#[test]
fn values_that_are_no_numbers_claim_nothing() {
    assert!(permutation_p(&[1.0, f64::NAN], &[2.0, 3.0], 10, 1).is_none());
    assert!(permutation_p(&[1.0, 2.0], &[f64::INFINITY], 10, 1).is_none());
    let corrected = holm(&[0.001, f64::NAN, 0.02]);
    close(corrected[0], 0.003, 1e-12);
    assert!(corrected[1].is_nan());
    close(corrected[2], 0.04, 1e-12);
    assert!(two_normals(&[1.0, 2.0, 3.0, f64::NAN, 5.0, 6.0], 0.0).is_none());
}
