use super::super::{Exponentials, nonlinear};
use super::*;

fn close(got: f64, want: f64, relative: f64) {
    assert!(
        (got - want).abs() <= relative * want.abs(),
        "got {got}, want {want}"
    );
}

const OXYGEN: ([f64; 6], [f64; 6]) = (
    [1.0, 2.0, 3.0, 5.0, 7.0, 10.0],
    [109.0, 149.0, 149.0, 191.0, 213.0, 224.0],
);

fn rise(x: &[f64]) -> impl Curve {
    move |p: &[f64], out: &mut [f64]| {
        for (x, o) in x.iter().zip(out) {
            *o = p[0] * (1.0 - (-p[1] * x).exp());
        }
    }
}

/// NIST StRD BoxBOD (Bates and Watts A1.4); profile limits computed with scipy
/// 1.17.1 by the same definition.
#[test]
fn oxygen_demand() {
    let (x, y) = OXYGEN;
    let model = rise(&x);
    let fit = nonlinear(&model, &y, None, &[&[100.0, 0.75]]).unwrap();
    let a = profile_interval(&model, &y, None, &fit, 0, 0.95).unwrap();
    close(a.low, 180.967_004_673_5, 1e-7);
    close(a.high, 258.567_777_107_1, 1e-7);
    let k = profile_interval(&model, &y, None, &fit, 1, 0.95).unwrap();
    close(k.low, 0.302_589_622_693, 1e-7);
    close(k.high, 1.073_053_204_951, 1e-7);
    // Common factors of the weights change nothing.
    let weighted = nonlinear(&model, &y, Some(&[4.0; 6]), &[&[100.0, 0.75]]).unwrap();
    let same = profile_interval(&model, &y, Some(&[4.0; 6]), &weighted, 1, 0.95).unwrap();
    close(same.low, k.low, 1e-9);
}

/// Puromycin, treated (R datasets, from memory). R prints the confint() of this
/// fit as 197.30212848 to 229.29006490 and 0.04692517 to 0.08615995 (from
/// memory; it interpolates its profile, so five digits); more digits computed
/// with scipy 1.17.1.
#[test]
fn puromycin_as_r_prints_it() {
    let x = [
        0.02, 0.02, 0.06, 0.06, 0.11, 0.11, 0.22, 0.22, 0.56, 0.56, 1.1, 1.1,
    ];
    let y = [
        76.0, 47.0, 97.0, 107.0, 123.0, 139.0, 159.0, 152.0, 191.0, 201.0, 207.0, 200.0,
    ];
    let model = |p: &[f64], out: &mut [f64]| {
        for (x, o) in x.iter().zip(out) {
            *o = p[0] * x / (p[1] + x);
        }
    };
    let fit = nonlinear(&model, &y, None, &[&[200.0, 0.1]]).unwrap();
    let v = profile_interval(&model, &y, None, &fit, 0, 0.95).unwrap();
    close(v.low, 197.302_128_48, 1e-5);
    close(v.high, 229.290_064_90, 1e-5);
    close(v.low, 197.301_932_900_3, 1e-8);
    let k = profile_interval(&model, &y, None, &fit, 1, 0.95).unwrap();
    close(k.low, 0.046_925_17, 2e-4);
    close(k.high, 0.086_159_95, 1e-4);
    close(k.high, 0.086_156_913_427, 1e-7);
}

/// R's Loblolly seed 329 with a free level; computed with scipy 1.17.1.
#[test]
fn growth_of_a_pine() {
    let t = [3.0, 5.0, 10.0, 15.0, 20.0, 25.0];
    let y = [3.93, 9.34, 26.08, 37.79, 48.31, 56.43];
    let model = Exponentials {
        t: t.to_vec(),
        terms: 1,
    };
    let fit = nonlinear(&model, &y, None, &[&[-100.0, 0.05, 90.0]]).unwrap();
    let limits = [
        (-145.446_424_32, -86.209_429_42),
        (0.022_767_579_578, 0.058_010_661_396),
        (75.332_892_212, 140.147_647_754),
    ];
    for (parameter, (low, high)) in limits.into_iter().enumerate() {
        let i = profile_interval(&model, &y, None, &fit, parameter, 0.95).unwrap();
        close(i.low, low, 1e-6);
        close(i.high, high, 1e-6);
    }
}

/// For a straight line the sum of squares is a parabola: the profile is the t
/// interval.
#[test]
fn a_parabola_gives_the_t_interval() {
    let y = [1.0, 2.2, 2.9, 4.1, 5.2, 5.8];
    let model = |p: &[f64], out: &mut [f64]| {
        for (i, o) in out.iter_mut().enumerate() {
            *o = p[0] + p[1] * i as f64;
        }
    };
    let fit = nonlinear(&model, &y, None, &[&[0.0, 0.5]]).unwrap();
    for parameter in [0, 1] {
        let i = profile_interval(&model, &y, None, &fit, parameter, 0.9).unwrap();
        let want = fit.interval(parameter, 0.9);
        close(i.low, want.low, 1e-6);
        close(i.high, want.high, 1e-6);
    }
    let one = |p: &[f64], out: &mut [f64]| out.fill(p[0]);
    let mean = nonlinear(&one, &y, None, &[&[1.0]]).unwrap();
    let i = profile_interval(&one, &y, None, &mean, 0, 0.95).unwrap();
    close(i.low, mean.interval(0, 0.95).low, 1e-6);
}

/// Four points of noise, invented, on a rise that is all but over: any faster
/// rate fits as well, and the interval says so.
#[test]
fn a_side_without_limit_is_open() {
    let (x, y) = ([5.0, 6.0, 7.0, 8.0], [9.97, 10.01, 9.99, 10.02]);
    let model = rise(&x);
    let fit = nonlinear(&model, &y, None, &[&[10.0, 0.8]]).unwrap();
    let k = profile_interval(&model, &y, None, &fit, 1, 0.95).unwrap();
    assert!(k.high.is_infinite() && k.low > 0.2 && k.low < 2.0, "{k:?}");
}

#[test]
fn data_that_do_not_belong_to_the_fit_are_refused() {
    let (x, y) = OXYGEN;
    let model = rise(&x);
    let fit = nonlinear(&model, &y, None, &[&[100.0, 0.75]]).unwrap();
    let refused = profile_interval(&model, &y[..5], None, &fit, 0, 0.95);
    assert_eq!(
        refused,
        Err(NoFit::LengthsDiffer {
            points: 5,
            other: 6
        })
    );
}

/// Without any residual the sum of squares is above its limit everywhere else.
#[test]
fn a_perfect_fit_has_no_width() {
    let level = |p: &[f64], out: &mut [f64]| out.fill(p[0]);
    let y = [8.0; 6];
    let fit = nonlinear(&level, &y, None, &[&[8.0]]).unwrap();
    let interval = profile_interval(&level, &y, None, &fit, 0, 0.95).unwrap();
    assert!(
        interval.contains(8.0) && interval.width() < 1e-12,
        "{interval:?}"
    );
}
