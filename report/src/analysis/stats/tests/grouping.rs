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
    let m = two_normals(&minutes).expect("272");
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
    let m = two_normals(&values).expect("59");
    assert!(!m.prefers_two(0.0), "{} {}", m.bic_one, m.bic_two);
    assert!(two_normals(&[1.0; 20]).is_none());
    assert!(two_normals(&[1.0, 2.0]).is_none());
}
