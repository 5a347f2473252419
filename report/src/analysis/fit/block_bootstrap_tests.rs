use super::super::{Exponentials, nonlinear};
use super::*;

/// An AR(1) series of variance 1.
fn noise(n: usize, r: f64, rng: &mut SplitMix64) -> Vec<f64> {
    let mut value = rng.normal();
    (0..n)
        .map(|_| {
            value = r * value + (1.0 - r * r).sqrt() * rng.normal();
            value
        })
        .collect()
}

fn straight(p: &[f64], out: &mut [f64]) {
    for (i, o) in out.iter_mut().enumerate() {
        *o = p[0] + p[1] * i as f64;
    }
}

/// Share of simulated series whose interval holds the true slope: plain,
/// corrected by the effective sample size, bootstrapped.
fn coverage(r: f64, n: usize, series: u32) -> [f64; 3] {
    let mut rng = SplitMix64::new(20_260_401);
    let mut held = [0_u32; 3];
    for seed in 0..series {
        let y: Vec<f64> = noise(n, r, &mut rng)
            .iter()
            .enumerate()
            .map(|(i, e)| 3.0 - 0.02 * i as f64 + e)
            .collect();
        let fit = nonlinear(&straight, &y, None, &[&[3.0, 0.0]]).unwrap();
        let boot = BlockBootstrap {
            draws: 200,
            block: None,
            seed: u64::from(seed),
        };
        let resampled = boot.run(&straight, &y, None, &fit).unwrap();
        assert_eq!((resampled.failed, resampled.values.len()), (0, 200));
        let intervals = [
            fit.interval(1, 0.95),
            fit.allowing_for_autocorrelation().interval(1, 0.95),
            resampled.interval(1, 0.95),
        ];
        for (count, interval) in held.iter_mut().zip(intervals) {
            *count += u32::from(interval.contains(-0.02));
        }
    }
    held.map(|h| f64::from(h) / f64::from(series))
}

/// With r = 0.7 a plain 95 % interval holds the truth in about six of ten
/// series (√((1-r)/(1+r)) = 0.42 of the right width); both corrections must
/// bring it near 95 %. Simulated, seeded.
#[test]
fn corrections_restore_the_coverage() {
    let [plain, corrected, bootstrapped] = coverage(0.7, 300, 300);
    assert!((0.5..0.72).contains(&plain), "plain {plain}");
    assert!((0.91..=0.985).contains(&corrected), "corrected {corrected}");
    assert!(bootstrapped > 0.86, "bootstrapped {bootstrapped}");
}

/// Without correlation the corrections cost little.
#[test]
fn independent_residuals_need_no_correction() {
    let [plain, corrected, bootstrapped] = coverage(0.0, 120, 300);
    for share in [plain, corrected, bootstrapped] {
        assert!((0.91..=0.985).contains(&share), "{share}");
    }
}

/// For independent residuals the bootstrap standard error is the one of the
/// formula, also with weights and a curved model.
#[test]
fn standard_errors_agree_with_the_formula() {
    let mut rng = SplitMix64::new(5);
    let t: Vec<f64> = (0..200).map(|i| 0.02 * f64::from(i)).collect();
    let model = Exponentials { t, terms: 1 };
    let mut y = vec![0.0; 200];
    model.predict(&[700.0, 0.5, 100.0], &mut y);
    let weights: Vec<f64> = (0..200).map(|i| if i < 100 { 1.0 } else { 4.0 }).collect();
    for (y, w) in y.iter_mut().zip(&weights) {
        *y += 2.0 * rng.normal() / w.sqrt();
    }
    let fit = nonlinear(&model, &y, Some(&weights), &[&[600.0, 0.4, 150.0]]).unwrap();
    let boot = BlockBootstrap {
        draws: 400,
        block: Some(1),
        seed: 3,
    };
    let resampled = boot.run(&model, &y, Some(&weights), &fit).unwrap();
    for parameter in 0..3 {
        let ratio = resampled.standard_error(parameter).unwrap() / fit.standard_errors[parameter];
        assert!((0.87..1.13).contains(&ratio), "{parameter}: {ratio}");
    }
    let half_life = resampled.interval_of(|v| std::f64::consts::LN_2 / v[1], 0.95);
    assert!(
        half_life.contains(std::f64::consts::LN_2 / 0.5),
        "{half_life:?}"
    );
}

#[test]
fn blocks_follow_the_correlation_and_seeds_repeat() {
    let mut rng = SplitMix64::new(9);
    let fit_of = |r: f64, rng: &mut SplitMix64| {
        let y = noise(400, r, rng);
        (nonlinear(&straight, &y, None, &[&[0.0, 0.0]]).unwrap(), y)
    };
    let (loose, _) = fit_of(0.0, &mut rng);
    let (tight, y) = fit_of(0.9, &mut rng);
    let boot = BlockBootstrap {
        draws: 20,
        ..BlockBootstrap::default()
    };
    assert!(boot.block_of(&loose) < 10);
    assert!(
        (15..=100).contains(&boot.block_of(&tight)),
        "{}",
        boot.block_of(&tight)
    );
    let once = boot.run(&straight, &y, None, &tight).unwrap();
    assert_eq!(once, boot.run(&straight, &y, None, &tight).unwrap());
    let other = BlockBootstrap { seed: 2, ..boot };
    assert_ne!(once, other.run(&straight, &y, None, &tight).unwrap());
    let whole = BlockBootstrap {
        block: Some(9_999),
        ..boot
    };
    assert_eq!(whole.block_of(&tight), 400);
}
