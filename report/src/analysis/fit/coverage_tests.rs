//! Do intervals hold the truth as often as they say? Simulated, seeded.

use super::line;
use crate::analysis::stats::SplitMix64;

/// Shares of lines with AR(1) noise whose slope lies in the interval: plain,
/// and allowing for autocorrelation.
fn coverage(points: u32, r: f64, lines: u32) -> [f64; 2] {
    let mut rng = SplitMix64::new(u64::from(points));
    let x: Vec<f64> = (0..points).map(f64::from).collect();
    let mut held = [0_u32; 2];
    for _ in 0..lines {
        let mut value = rng.normal();
        let y: Vec<f64> = x
            .iter()
            .map(|x| {
                value = r * value + (1.0 - r * r).sqrt() * rng.normal();
                5.0 - 0.3 * x + value
            })
            .collect();
        let fit = line(&x, &y, None).unwrap().fit;
        for (held, fit) in held
            .iter_mut()
            .zip([&fit, &fit.allowing_for_autocorrelation()])
        {
            *held += u32::from(fit.interval(1, 0.95).contains(-0.3));
        }
    }
    held.map(|h| f64::from(h) / f64::from(lines))
}

#[test]
fn independent_residuals() {
    for points in [12, 40, 200] {
        let [plain, allowed] = coverage(points, 0.0, 2_000);
        println!("{points} points: {plain:.3}, {allowed:.3}");
        assert!((0.935..=0.965).contains(&plain), "{points}: {plain}");
        assert!((0.935..=0.98).contains(&allowed), "{points}: {allowed}");
    }
}

#[test]
fn correlated_residuals() {
    // Points, lag-1 coefficient; worth 10, 11, 16, 19 and 33 points.
    for (points, r) in [(40, 0.6), (100, 0.8), (300, 0.9), (750, 0.95), (300, 0.8)] {
        let [plain, allowed] = coverage(points, r, 1_000);
        println!("{points} points, {r}: {plain:.3}, {allowed:.3}");
        assert!(plain < 0.75, "{points}, {r}: {plain}");
        assert!((0.93..=0.97).contains(&allowed), "{points}, {r}: {allowed}");
    }
}

#[test]
fn few_points_strongly_correlated_fall_short_by_a_known_amount() {
    for (points, r, least) in [(20, 0.6, 0.90), (20, 0.8, 0.88), (12, 0.8, 0.86)] {
        let [_, allowed] = coverage(points, r, 2_000);
        println!("{points} points, {r}: {allowed:.3}");
        assert!(
            (least..=0.97).contains(&allowed),
            "{points}, {r}: {allowed}"
        );
    }
}
