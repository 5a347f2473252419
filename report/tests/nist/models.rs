//! The models of the NIST StRD nonlinear sets, as printed in their headers.

use std::f64::consts::PI;

/// y at x with parameters b.
pub(crate) type Model = fn(&[f64], &[f64]) -> f64;

/// All 27 sets with their models.
pub(crate) const SETS: [(&str, Model); 27] = [
    ("Misra1a", |b, x| b[0] * (1.0 - (-b[1] * x[0]).exp())),
    ("Chwirut2", chwirut),
    ("Chwirut1", chwirut),
    ("Lanczos3", lanczos),
    ("Gauss1", gauss),
    ("Gauss2", gauss),
    ("DanWood", |b, x| b[0] * x[0].powf(b[1])),
    ("Misra1b", |b, x| {
        b[0] * (1.0 - (1.0 + b[1] * x[0] / 2.0).powi(-2))
    }),
    ("Kirby2", |b, x| {
        polynomial(&b[..3], x[0]) / (1.0 + x[0] * polynomial(&b[3..], x[0]))
    }),
    ("Hahn1", cubic_ratio),
    ("Nelson", |b, x| b[0] - b[1] * x[0] * (-b[2] * x[1]).exp()),
    ("MGH17", |b, x| {
        b[0] + b[1] * (-x[0] * b[3]).exp() + b[2] * (-x[0] * b[4]).exp()
    }),
    ("Lanczos1", lanczos),
    ("Lanczos2", lanczos),
    ("Gauss3", gauss),
    ("Misra1c", |b, x| {
        b[0] * (1.0 - (1.0 + 2.0 * b[1] * x[0]).powf(-0.5))
    }),
    ("Misra1d", |b, x| b[0] * b[1] * x[0] / (1.0 + b[1] * x[0])),
    ("Roszman1", |b, x| {
        b[0] - b[1] * x[0] - (b[2] / (x[0] - b[3])).atan() / PI
    }),
    ("ENSO", enso),
    ("MGH09", |b, x| {
        b[0] * (x[0] * x[0] + x[0] * b[1]) / (x[0] * x[0] + x[0] * b[2] + b[3])
    }),
    ("Thurber", cubic_ratio),
    ("BoxBOD", |b, x| b[0] * (1.0 - (-b[1] * x[0]).exp())),
    ("Rat42", |b, x| b[0] / (1.0 + (b[1] - b[2] * x[0]).exp())),
    ("MGH10", |b, x| b[0] * (b[1] / (x[0] + b[2])).exp()),
    ("Eckerle4", |b, x| {
        (b[0] / b[1]) * (-0.5 * ((x[0] - b[2]) / b[1]).powi(2)).exp()
    }),
    ("Rat43", |b, x| {
        b[0] / (1.0 + (b[1] - b[2] * x[0]).exp()).powf(1.0 / b[3])
    }),
    ("Bennett5", |b, x| b[0] * (b[1] + x[0]).powf(-1.0 / b[2])),
];

fn chwirut(b: &[f64], x: &[f64]) -> f64 {
    (-b[0] * x[0]).exp() / (b[1] + b[2] * x[0])
}

fn lanczos(b: &[f64], x: &[f64]) -> f64 {
    b.chunks(2).map(|ak| ak[0] * (-ak[1] * x[0]).exp()).sum()
}

fn gauss(b: &[f64], x: &[f64]) -> f64 {
    let peak = |b: &[f64]| b[0] * (-((x[0] - b[1]) / b[2]).powi(2)).exp();
    b[0] * (-b[1] * x[0]).exp() + peak(&b[2..5]) + peak(&b[5..8])
}

fn polynomial(b: &[f64], x: f64) -> f64 {
    b.iter().rev().fold(0.0, |sum, b| sum * x + b)
}

fn cubic_ratio(b: &[f64], x: &[f64]) -> f64 {
    polynomial(&b[..4], x[0]) / (1.0 + x[0] * polynomial(&b[4..], x[0]))
}

fn enso(b: &[f64], x: &[f64]) -> f64 {
    let wave = |period: f64, c: f64, s: f64| {
        let angle = 2.0 * PI * x[0] / period;
        c * angle.cos() + s * angle.sin()
    };
    b[0] + wave(12.0, b[1], b[2]) + wave(b[3], b[4], b[5]) + wave(b[6], b[7], b[8])
}
