//! Air that goes to and fro between two corners: what one loses, the other gains.

use super::super::estimate::Estimate;
use super::super::leak::LeakFit;

/// A leak from one corner into the other, rest by rest.
#[derive(Debug, Clone, PartialEq)]
pub struct Mirrored {
    /// The circuit that loses more often.
    pub from: String,
    /// The circuit that gains it.
    pub to: String,
    /// Flow in the rests that show it, ANR L/s.
    pub flow_l_per_s: Estimate,
    /// Rests that show it.
    pub rests: usize,
    /// Probability against chance.
    pub probability: f64,
}

/// Standard errors from which on a loss or a gain is beyond doubt.
const CLEAR_Z: f64 = 4.0;

/// Rests needed in which one clearly loses and the other clearly gains.
const FEWEST: usize = 4;

/// For each rest in which one loses and the other does not gain, this many must
/// show that it does.
const TO_ONE: usize = 4;

/// Share of what one loses that the other must gain.
const GAINED: f64 = 0.4;

/// Do two corners of an axle pass air to each other? It flows towards the lower
/// pressure, so over many rests it may cancel, or follow whatever the pressures
/// follow; rest by rest it does not hide. What both have in common, a
/// temperature that is off, moves both the same way and is not taken for it.
///
/// The probability is `1/(1 + exp(−½Σz²))` of the gains, by their own errors.
/// **Source**: conservation of air; thresholds common practice, no source.
#[must_use]
pub fn mirrored(one: &str, other: &str, fits: &[LeakFit]) -> Option<Mirrored> {
    let pairs: Vec<(Estimate, Estimate)> = of(one, fits)
        .filter_map(|a| Some((a, of(other, fits).find(|b| together(a, b))?)))
        .map(|(a, b)| (a.loss_l_per_s, b.loss_l_per_s))
        .collect();
    by_pairs(one, other, &pairs)
}

fn by_pairs(one: &str, other: &str, pairs: &[(Estimate, Estimate)]) -> Option<Mirrored> {
    let (mut flow, mut total, mut strength, mut losing) = (0.0, 0.0, 0.0, 0.0);
    let (mut shown, mut contrary) = (0, 0);
    for (a, b) in pairs {
        let (loser, gainer) = if a.value > b.value { (a, b) } else { (b, a) };
        if loser.value < CLEAR_Z * loser.se {
            continue;
        }
        if gainer.value < -CLEAR_Z * gainer.se && -gainer.value > GAINED * loser.value {
            shown += 1;
            let variance = loser.se.powi(2) + gainer.se.powi(2);
            flow += 0.5 * (loser.value - gainer.value) / variance;
            total += variance.recip();
            strength += 0.5 * (gainer.value / gainer.se).powi(2);
            losing += a.value.signum() / variance;
        } else if -gainer.value + 2.0 * gainer.se < GAINED * loser.value {
            contrary += 1;
        }
    }
    if shown < FEWEST || shown < TO_ONE * contrary {
        return None;
    }
    let (from, to) = if losing >= 0.0 {
        (one, other)
    } else {
        (other, one)
    };
    Some(Mirrored {
        from: from.into(),
        to: to.into(),
        flow_l_per_s: Estimate {
            value: flow / total,
            // Half the difference has a quarter of the variance of the sum.
            se: 0.5 * total.recip().sqrt(),
            degrees_of_freedom: (shown - 1) as f64,
        },
        rests: shown,
        probability: 1.0 / (1.0 + (-strength).exp()),
    })
}

fn of<'a>(place: &'a str, fits: &'a [LeakFit]) -> impl Iterator<Item = &'a LeakFit> {
    fits.iter()
        .filter(move |f| f.place == place && !f.lower_bound)
}

/// Both rest over nearly the same time.
fn together(a: &LeakFit, b: &LeakFit) -> bool {
    let both = a.t_s.1.min(b.t_s.1) - a.t_s.0.max(b.t_s.0);
    let either = a.t_s.1.max(b.t_s.1) - a.t_s.0.min(b.t_s.0);
    both > 0.8 * either
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Invented: losses of both corners in 10⁻⁵ L/s, errors of 10⁻⁶.
    fn pairs(losses: &[(f64, f64)]) -> Vec<(Estimate, Estimate)> {
        let loss = |value: f64| Estimate {
            value: 1e-5 * value,
            se: 1e-6,
            degrees_of_freedom: 50.0,
        };
        losses.iter().map(|(a, b)| (loss(*a), loss(*b))).collect()
    }

    /// By hand: flows of 2, 2, 2, 2 and, the other way, 4.
    #[test]
    fn to_and_fro_is_one_leak_and_its_flow_the_mean_without_sign() {
        let to_and_fro = [
            (2.0, -2.0),
            (2.2, -1.8),
            (-4.0, 4.0),
            (2.0, -2.0),
            (2.0, -2.0),
        ];
        let found = by_pairs("front_left", "front_right", &pairs(&to_and_fro)).expect("found");
        assert_eq!((found.from.as_str(), found.rests), ("front_left", 5));
        assert!((found.flow_l_per_s.value - 2.4e-5).abs() < 1e-12);
        // Variance of half a difference, over five.
        let se = 1e-6 * (0.5_f64 / 5.0).sqrt();
        assert!((found.flow_l_per_s.se / se - 1.0).abs() < 1e-9);
        assert!(found.probability > 0.999);
    }

    #[test]
    fn a_corner_that_leaks_alone_is_not_mirrored() {
        let alone = [(2.0, 0.1), (2.0, -0.1), (2.1, 0.0), (2.0, 0.0), (1.9, 0.0)];
        assert_eq!(by_pairs("a", "b", &pairs(&alone)), None);
        // A few rests in which the other happens to gain do not make it one.
        let mixed = [&alone[..], &[(2.0, -2.0); 8][..]].concat();
        assert_eq!(by_pairs("a", "b", &pairs(&mixed)), None);
    }

    /// A temperature that is off moves both alike.
    #[test]
    fn both_losing_or_both_gaining_is_not_mirrored() {
        let alike = [
            (2.0, 2.0),
            (-2.0, -2.0),
            (3.0, 2.5),
            (-1.0, -1.5),
            (2.0, 1.0),
        ];
        assert_eq!(by_pairs("a", "b", &pairs(&alike)), None);
    }
}
