//! How far the rests of one volume scatter, over what the model expects of them.
//!
//! The model adds up every disturbance that a rest may have. How many of them a car
//! really has, its rests show by how well they agree: those within reach of the heat of
//! a drive and those beyond it each by themselves, since most disturbances are large in
//! the one kind and spent in the other.

use super::posterior::Estimated;

/// Something counts as so many rests: the model beside those of a car, and the other
/// volumes beside those of one. **Source**: judgement.
const COUNTS_AS: f64 = 4.0;

/// A rest's own error is at least this share of its variance: what all rests of a
/// volume share is known no better.
const LEAST_OWN_SHARE: f64 = 0.1;

/// Heat that a drive leaves is gone after this time, s: the slowest of its time constants
/// in the model.
const HEAT_GONE_S: f64 = 18_000.0;

/// A rest as the model sees it before its like have spoken.
#[derive(Debug, Clone, Copy)]
pub(super) struct RestError {
    /// Conductance less what named leaks predict.
    pub(super) residual: f64,
    /// Standard error of the model.
    pub(super) model_se: f64,
    pub(super) duration_s: f64,
}

/// The rests of one volume.
pub(super) struct VolumeRests {
    pub(super) rests: Vec<RestError>,
    /// Conductance of all of them together by the model.
    pub(super) pooled: Option<Estimated>,
    /// Standard error that is common to all of them and that nobody modelled.
    pub(super) unmodelled_se: f64,
    /// What a sound volume of its kind may lose, one standard deviation; `None` of one
    /// that has a fault.
    pub(super) seep: Option<f64>,
}

/// Sum of the squares of standardised distances, and the number of rests.
#[derive(Debug, Clone, Copy, Default)]
struct Squares {
    sum: f64,
    n: f64,
}

impl Squares {
    fn and(self, other: Self) -> Self {
        Self {
            sum: self.sum + other.sum,
            n: self.n + other.n,
        }
    }

    /// Mean square, of which `expected` counts as [`COUNTS_AS`] rests.
    fn mean(self, expected: f64) -> f64 {
        (self.sum + COUNTS_AS * expected) / (self.n + COUNTS_AS)
    }
}

/// Standard deviation of the logarithm of the factor on what rests share: that of the sizes
/// of families of errors.
const SIZE_SD: f64 = 1.2;

/// A sound volume further from zero than this counts as this far: it may leak.
const FARTHEST_OFF: f64 = 2.5;

/// Error of one volume's rests in two parts: what all of them share, and the own one, with the
/// factors by which they differ from what the model expects.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Scatter {
    shared_se: f64,
    unmodelled_se: f64,
    shared_factor: f64,
    /// Of rests within reach of the heat of a drive, and beyond.
    factors: [f64; 2],
}

/// Errors of the rests of all volumes of a car.
///
/// Equation: `k² = (Σz² + n₀·k₀²)/(n + n₀)` over the rests of one volume and kind,
/// `z = (c − centre)/own` at most three robust standard deviations (a rest that leaks
/// is none of the errors), `own² = se² − shared²`. `k₀²` is the same of the other volumes
/// for that kind, and of them that of all else in the car, and of that the 1 of the model:
/// what disturbs one volume of a car disturbs the others as well. The tails count: weather
/// without a thermometer has long ones. What the rests of a volume share shows in how far
/// the sound volumes of the car are from losing nothing.
///
/// **Units**: those of the conductances. **Domain**: standard errors above 0.
pub(super) fn of_car(volumes: &[VolumeRests]) -> Vec<Scatter> {
    let squares: Vec<[Squares; 2]> = volumes.iter().map(VolumeRests::squares).collect();
    let sum = |wanted: &dyn Fn(usize, usize) -> bool| {
        let all = squares.iter().enumerate().flat_map(|(v, kinds)| {
            let wanted = kinds.iter().enumerate().filter(move |(k, _)| wanted(v, *k));
            wanted.map(|(_, s)| *s)
        });
        all.fold(Squares::default(), Squares::and)
    };
    let factor = |volume: usize, kind: usize| {
        let of_car = sum(&|v, k| (v, k) != (volume, kind)).mean(1.0);
        let of_kind = sum(&|v, k| v != volume && k == kind).mean(of_car);
        squares[volume][kind].mean(of_kind).sqrt()
    };
    let parts: Vec<PooledError> = volumes.iter().map(VolumeRests::parts).collect();
    let off_zero = volumes.iter().zip(&parts).enumerate();
    let off_zero = off_zero.filter_map(|(v, (rests, parts))| {
        // Most of what a pooled value rests on is the longest rests.
        rests.off_zero(parts, factor(v, 1))
    });
    let off_zero = off_zero.fold(Squares::default(), |all, z| {
        all.and(Squares { sum: z * z, n: 1.0 })
    });
    let shared_factor = shared_factor(off_zero);
    let scatter = |(v, rests): (usize, &VolumeRests)| Scatter {
        shared_se: parts[v].shared_se,
        unmodelled_se: rests.unmodelled_se,
        shared_factor,
        factors: [factor(v, 0), factor(v, 1)],
    };
    volumes.iter().enumerate().map(scatter).collect()
}

/// The likeliest factor on what rests share, by `n` sound volumes that are `z` from zero.
///
/// Equation: `k` maximises `−n·ln k − Σz²/(2k²) − ½(ln k/1.2)²`, as the sizes of families of
/// errors are learnt.
fn shared_factor(off_zero: Squares) -> f64 {
    let steps = (0..=120).map(|i| 0.1 * 40_f64.powf(f64::from(i) / 120.0));
    let ln_likelihood = |k: f64| {
        -off_zero.n * k.ln() - 0.5 * off_zero.sum / (k * k) - 0.5 * (k.ln() / SIZE_SD).powi(2)
    };
    let better = |a: f64, b: f64| {
        if ln_likelihood(b) > ln_likelihood(a) {
            b
        } else {
            a
        }
    };
    steps.fold(1.0, better)
}

/// The error of a pooled conductance, as the model sees it.
struct PooledError {
    /// In all rests alike.
    shared_se: f64,
    /// Of each by itself, in the mean of all.
    own_se: f64,
}

impl VolumeRests {
    /// Equation: `shared² = (s² − v/n)/(1 − 1/n)`, `s` the standard error of the pooled
    /// value, `v` the harmonic mean of the variances of the rests and `n` their number by
    /// Kish: what is each rest's own is `n` times less in their mean.
    fn parts(&self) -> PooledError {
        let weights = || self.rests.iter().map(|r| r.model_se.powi(-2));
        let (sum, squares) = weights().fold((0.0, 0.0), |(s, q), w| (s + w, q + w * w));
        let n = sum * sum / squares;
        let pooled = self.pooled.map_or(0.0, |p| p.se);
        if n.is_nan() || n <= 1.0 {
            return PooledError {
                shared_se: pooled,
                own_se: 0.0,
            };
        }
        let variance = self.rests.len() as f64 / sum;
        let shared = (pooled.powi(2) - variance / n).max(0.0) / (1.0 - 1.0 / n);
        let shared = shared.min(pooled.powi(2));
        PooledError {
            shared_se: shared.sqrt(),
            own_se: (pooled.powi(2) - shared).sqrt(),
        }
    }

    /// How far the pooled value of a sound volume is from zero, in standard deviations.
    fn off_zero(&self, parts: &PooledError, factor: f64) -> Option<f64> {
        let own = factor * parts.own_se;
        let expected = parts
            .shared_se
            .hypot(own)
            .hypot(self.unmodelled_se)
            .hypot(self.seep?);
        let z = self.pooled?.c / expected;
        Some(z.clamp(-FARTHEST_OFF, FARTHEST_OFF))
    }

    fn squares(&self) -> [Squares; 2] {
        let shared_se = self.parts().shared_se;
        let own = |r: &RestError| own(shared_se, r.model_se);
        let weighed = self.rests.iter().map(|r| (r.residual, own(r).powi(-2)));
        let Some(centre) = weighted_median(weighed.collect()) else {
            return Default::default();
        };
        [0, 1].map(|kind| {
            let here = self.rests.iter().filter(|r| kind_of(r.duration_s) == kind);
            let off = here.map(|r| (r.residual - centre).abs() / own(r));
            clipped(off.collect())
        })
    }
}

/// Squares of distances, each at most three robust standard deviations.
fn clipped(off: Vec<f64>) -> Squares {
    let middle = super::plan::median(off.clone()).filter(|m| m.is_finite());
    let Some(middle) = middle else {
        return Squares::default();
    };
    let most = 3.0 * middle / 0.6745;
    Squares {
        sum: off.iter().map(|z| z.min(most).powi(2)).sum(),
        n: off.len() as f64,
    }
}

/// The value with half of the weight on either side.
fn weighted_median(mut pairs: Vec<(f64, f64)>) -> Option<f64> {
    pairs.retain(|(_, weight)| weight.is_finite());
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
    let half = 0.5 * pairs.iter().map(|p| p.1).sum::<f64>();
    let mut below = 0.0;
    let middle = pairs.iter().find(|(_, weight)| {
        below += weight;
        below >= half
    });
    middle.map(|p| p.0)
}

fn kind_of(duration_s: f64) -> usize {
    usize::from(duration_s > HEAT_GONE_S)
}

fn own(shared_se: f64, model_se: f64) -> f64 {
    let variance = model_se * model_se;
    let own = variance - shared_se * shared_se;
    own.max(LEAST_OWN_SHARE * variance).sqrt()
}

impl Scatter {
    /// Standard error of one rest with what nobody modelled, given that of the model and
    /// its length.
    pub(super) fn standard_error(&self, model_se: f64, duration_s: f64) -> f64 {
        let own = own(self.shared_se, model_se);
        let shared = (model_se * model_se - own * own).max(0.0).sqrt();
        let shared = self.shared_factor * shared.hypot(self.unmodelled_se);
        shared.hypot(self.factors[kind_of(duration_s)] * own)
    }
}

#[cfg(test)]
mod tests {
    use super::super::posterior::Estimated;
    use super::{RestError, Scatter, VolumeRests, of_car};

    const NIGHT_S: f64 = 30_000.0;
    const NOON_S: f64 = 5_000.0;

    fn volume(scores: &[(f64, f64)], pooled_se: f64) -> VolumeRests {
        let rest = |(residual, duration_s): &(f64, f64)| RestError {
            residual: *residual,
            model_se: 1.0,
            duration_s: *duration_s,
        };
        VolumeRests {
            rests: scores.iter().map(rest).collect(),
            pooled: Some(Estimated {
                c: 0.0,
                se: pooled_se,
            }),
            unmodelled_se: 0.0,
            seep: None,
        }
    }

    /// Normal scores of 24 rests, times `sd`: invented, without chance.
    fn rests(sd: f64, duration_s: f64) -> Vec<(f64, f64)> {
        use statrs::distribution::{ContinuousCDF, Normal};
        let normal = Normal::new(0.0, sd).unwrap();
        let score = |i: i32| normal.inverse_cdf((f64::from(i) + 0.5) / 24.0);
        (0..24).map(|i| (score(i), duration_s)).collect()
    }

    fn alone(scores: &[(f64, f64)], pooled_se: f64) -> Scatter {
        of_car(&[volume(scores, pooled_se)])[0]
    }

    #[test]
    fn rests_that_agree_better_than_expected_are_known_better() {
        let of = |sd: f64| alone(&rests(sd, NIGHT_S), 0.0).standard_error(1.0, NIGHT_S);
        assert!((of(1.0) - 1.0).abs() < 0.05, "{}", of(1.0));
        // √((22.9/4 + 4)/28) and √((22.9·4 + 4)/28), 22.9 the squares of the scores.
        assert!((of(0.5) - 0.598).abs() < 0.03, "{}", of(0.5));
        assert!((of(2.0) - 1.86).abs() < 0.03, "{}", of(2.0));
    }

    #[test]
    fn what_all_rests_share_does_not_shrink_with_their_scatter() {
        let alike = alone(&rests(1e-3, NIGHT_S), 0.8);
        assert!(alike.standard_error(1.0, NIGHT_S) > 0.8);
        assert!(alike.standard_error(1.0, NIGHT_S) < 0.9);
    }

    #[test]
    fn one_odd_rest_and_few_rests_change_little() {
        let mut odd = rests(1.0, NIGHT_S);
        odd[3].0 = 40.0;
        assert!(alone(&odd, 0.0).standard_error(1.0, NIGHT_S) < 1.15);
        assert_eq!(alone(&[], 0.3).standard_error(1.0, NIGHT_S), 1.0);
        let one = alone(&[(5.0, NIGHT_S)], 0.0).standard_error(1.0, NIGHT_S);
        assert!((one - (4.0_f64 / 5.0).sqrt()).abs() < 1e-12);
    }

    #[test]
    fn a_volume_with_few_rests_learns_from_the_others_of_its_car() {
        let few = [(0.2, NIGHT_S), (-0.2, NIGHT_S), (0.1, NIGHT_S)];
        let by_itself = alone(&few, 0.0).standard_error(1.0, NIGHT_S);
        let calm = std::iter::repeat_n(rests(0.4, NIGHT_S), 4);
        let all: Vec<_> = calm.map(|r| volume(&r, 0.0)).collect();
        let all: Vec<_> = all.into_iter().chain([volume(&few, 0.0)]).collect();
        let beside = of_car(&all)[4].standard_error(1.0, NIGHT_S);
        assert!(by_itself > 0.6 && beside < 0.45, "{by_itself} {beside}");
    }

    #[test]
    fn sound_volumes_near_zero_vouch_for_what_their_rests_share() {
        let shared = |c: Option<f64>| {
            let of = || VolumeRests {
                pooled: Some(Estimated {
                    c: c.unwrap_or(0.0),
                    se: 0.8,
                }),
                unmodelled_se: 0.6,
                seep: c.map(|_| 0.0),
                ..volume(&rests(1e-3, NIGHT_S), 0.8)
            };
            let car: Vec<_> = (0..5).map(|_| of()).collect();
            of_car(&car)[0].standard_error(1.0, NIGHT_S)
        };
        let unknown = shared(None);
        assert!((unknown - 0.98).abs() < 0.03, "{unknown}");
        // −5 + Σz²/k² − ln k/1.2² is zero at 0.120 for Σz² = 5·0.1², at 1.91 for 5·2².
        let (calm, restless) = (shared(Some(0.1)) / unknown, shared(Some(-2.0)) / unknown);
        assert!((calm - 0.12).abs() < 0.05, "{calm}");
        assert!((restless - 1.91).abs() < 0.06, "{restless}");
    }

    /// Ideal rests: own errors of 1 and a shared one of 0.5.
    #[test]
    fn what_rests_share_is_told_from_their_mean() {
        let pooled = (0.25_f64 + 1.0 / 24.0).sqrt();
        let mut ideal = volume(&rests(1.0, NIGHT_S), pooled);
        ideal
            .rests
            .iter_mut()
            .for_each(|r| r.model_se = 1.25_f64.sqrt());
        let parts = ideal.parts();
        assert!((parts.shared_se - 0.5).abs() < 1e-9, "{}", parts.shared_se);
        assert!((parts.own_se - 24.0_f64.powf(-0.5)).abs() < 1e-9);
    }

    #[test]
    fn calm_nights_do_not_vouch_for_the_hour_after_a_drive() {
        let both = [rests(0.3, NIGHT_S), rests(1.5, NOON_S)].concat();
        let scatter = alone(&both, 0.0);
        // √((22.9·0.3² + 4·1.97)/28): the noons say that nights may be as bad.
        let night = scatter.standard_error(1.0, NIGHT_S);
        assert!((night - 0.597).abs() < 0.03, "{night}");
        assert!(scatter.standard_error(1.0, NOON_S) > 1.3);
        // Where no short rest was seen, the nights say something of it.
        let nights = alone(&rests(0.3, NIGHT_S), 0.0);
        let noon = nights.standard_error(1.0, NOON_S);
        assert!((0.3..0.8).contains(&noon), "{noon}");
    }
}
