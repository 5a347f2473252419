//! Which volumes lose air, to where: mass-balanced patterns, one after the other.

use super::super::estimate::Estimate;
use super::super::stats::student_t_quantile;

/// Loss of one volume, ANR L/s.
#[derive(Debug, Clone, PartialEq)]
pub struct AirReading {
    /// Circuit, or `tank`.
    pub place: String,
    /// Axle of a circuit.
    pub axle: Option<String>,
    /// Loss; negative when it gained.
    pub loss_l_per_s: Estimate,
    /// Smallest loss worth a word, ANR L/s.
    pub floor_l_per_s: f64,
}

/// A way in which air moves on its own.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum AirPattern {
    /// Nothing moves.
    Tight,
    /// A corner loses to the outside.
    CornerLeak {
        /// The circuit.
        place: String,
    },
    /// The tank loses to the outside.
    TankLeak,
    /// A corner gains what the tank loses.
    FillValvePassing {
        /// The circuit.
        place: String,
    },
    /// One corner gains what the other corner of its axle loses.
    CrossLeak {
        /// The circuit that loses.
        from: String,
        /// The circuit that gains.
        to: String,
    },
}

/// A pattern found, and what speaks against its rivals.
#[derive(Debug, Clone, PartialEq)]
pub struct RankedPattern {
    /// The pattern.
    pub pattern: AirPattern,
    /// Flow of the pattern, ANR L/s, from all volumes it touches.
    pub flow_l_per_s: Estimate,
    /// Share of the likelihood among all patterns, this one included.
    pub probability: f64,
    /// The other patterns by likelihood, best first, with their shares.
    pub rivals: Vec<(AirPattern, f64)>,
}

/// Log-likelihood that a pattern must gain to be believed: odds of about
/// 1 : 3 000 against chance, since many volumes and nights are looked at.
const BELIEVED: f64 = 8.0;

/// At most this many patterns are named; more than that is no diagnosis.
const MOST: usize = 4;

/// Explain the losses of all volumes by as few patterns as needed.
///
/// Each pattern is a direction in the space of losses (a passing fill valve is
/// minus one at the corner and plus one at the tank); its flow is the weighted
/// least-squares projection, never below zero; its likelihood is Gaussian with
/// the losses' own errors, widened to Student's t. Patterns are added while
/// the log-likelihood gains more than a fixed bar.
#[must_use]
pub fn explain_air(readings: &[AirReading]) -> Vec<RankedPattern> {
    let sigma: Vec<f64> = readings.iter().map(|r| widened(&r.loss_l_per_s)).collect();
    let mut rest: Vec<f64> = readings.iter().map(|r| r.loss_l_per_s.value).collect();
    let mut found: Vec<RankedPattern> = Vec::new();
    while found.len() < MOST {
        let mut scored: Vec<(AirPattern, Projection)> = patterns(readings)
            .into_iter()
            .filter(|p| found.iter().all(|f| f.pattern != *p))
            .filter_map(|p| project(&p, readings, &rest, &sigma).map(|s| (p, s)))
            .collect();
        scored.sort_by(|a, b| b.1.gain.total_cmp(&a.1.gain));
        let Some((best, projection)) = scored.first().cloned() else {
            break;
        };
        let floor = floor_of(&best, readings);
        if projection.gain < BELIEVED || projection.flow < floor {
            break;
        }
        for (value, weight) in rest.iter_mut().zip(direction(&best, readings)) {
            *value -= weight * projection.flow;
        }
        found.push(ranked(best, projection, &scored));
    }
    found
}

#[derive(Debug, Clone, Copy)]
struct Projection {
    flow: f64,
    se: f64,
    degrees_of_freedom: f64,
    gain: f64,
}

fn ranked(
    best: AirPattern,
    projection: Projection,
    scored: &[(AirPattern, Projection)],
) -> RankedPattern {
    // `Tight` has gain 0 by definition.
    let total: f64 = 1.0_f64.mul_add(
        (-projection.gain).exp(),
        scored
            .iter()
            .map(|s| (s.1.gain - projection.gain).exp())
            .sum::<f64>(),
    );
    let share = |gain: f64| (gain - projection.gain).exp() / total;
    let mut rivals: Vec<(AirPattern, f64)> = scored[1..]
        .iter()
        .map(|(p, s)| (p.clone(), share(s.gain)))
        .collect();
    rivals.push((AirPattern::Tight, share(0.0)));
    rivals.sort_by(|a, b| b.1.total_cmp(&a.1));
    rivals.truncate(3);
    RankedPattern {
        pattern: best,
        flow_l_per_s: Estimate {
            value: projection.flow,
            se: projection.se,
            degrees_of_freedom: projection.degrees_of_freedom,
        },
        probability: 1.0 / total,
        rivals,
    }
}

/// A Gaussian error with the same 95 % interval as the estimate.
fn widened(e: &Estimate) -> f64 {
    let t = student_t_quantile(0.975, e.degrees_of_freedom.max(1.0));
    (e.se * t / 1.959_964).max(f64::MIN_POSITIVE)
}

fn patterns(readings: &[AirReading]) -> Vec<AirPattern> {
    let mut out = Vec::new();
    let has_tank = readings.iter().any(|r| r.place == "tank");
    let corners = || readings.iter().filter(|r| r.place != "tank");
    if has_tank {
        out.push(AirPattern::TankLeak);
    }
    for corner in corners() {
        let place = corner.place.clone();
        out.push(AirPattern::CornerLeak {
            place: place.clone(),
        });
        if has_tank {
            out.push(AirPattern::FillValvePassing { place });
        }
        for other in corners() {
            if other.place != corner.place && other.axle == corner.axle && other.axle.is_some() {
                out.push(AirPattern::CrossLeak {
                    from: corner.place.clone(),
                    to: other.place.clone(),
                });
            }
        }
    }
    out
}

fn direction(pattern: &AirPattern, readings: &[AirReading]) -> Vec<f64> {
    let at = |place: &str| -> f64 {
        match pattern {
            AirPattern::Tight => 0.0,
            AirPattern::CornerLeak { place: p } if p.as_str() == place => 1.0,
            AirPattern::TankLeak if place == "tank" => 1.0,
            AirPattern::FillValvePassing { .. } if place == "tank" => 1.0,
            AirPattern::FillValvePassing { place: p } if p == place => -1.0,
            AirPattern::CrossLeak { from, .. } if from == place => 1.0,
            AirPattern::CrossLeak { to, .. } if to == place => -1.0,
            _ => 0.0,
        }
    };
    readings.iter().map(|r| at(&r.place)).collect()
}

fn project(
    pattern: &AirPattern,
    readings: &[AirReading],
    rest: &[f64],
    sigma: &[f64],
) -> Option<Projection> {
    let d = direction(pattern, readings);
    let weight: f64 = d.iter().zip(sigma).map(|(d, s)| (d / s).powi(2)).sum();
    if weight <= 0.0 {
        return None;
    }
    let along: f64 = d
        .iter()
        .zip(rest)
        .zip(sigma)
        .map(|((d, r), s)| d * r / (s * s))
        .sum();
    let flow = (along / weight).max(0.0);
    // Drop of χ²/2 against nothing moving: both sides of a two-sided pattern
    // count, so one that only one side confirms gains less than the one-sided
    // pattern does.
    let gain = flow * flow * weight / 2.0;
    let degrees = d
        .iter()
        .zip(readings)
        .filter(|(d, _)| **d != 0.0)
        .map(|(_, r)| r.loss_l_per_s.degrees_of_freedom)
        .fold(f64::INFINITY, f64::min);
    Some(Projection {
        flow,
        se: weight.sqrt().recip(),
        degrees_of_freedom: degrees,
        gain,
    })
}

fn floor_of(pattern: &AirPattern, readings: &[AirReading]) -> f64 {
    direction(pattern, readings)
        .iter()
        .zip(readings)
        .filter(|(d, _)| **d != 0.0)
        .map(|(_, r)| r.floor_l_per_s)
        .fold(f64::INFINITY, f64::min)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reading(place: &str, value: f64, se: f64) -> AirReading {
        AirReading {
            place: place.into(),
            axle: Some(place.split('_').next().unwrap_or("").into()),
            loss_l_per_s: Estimate {
                value,
                se,
                degrees_of_freedom: 100.0,
            },
            floor_l_per_s: 1e-6,
        }
    }

    fn car(losses: [f64; 5]) -> Vec<AirReading> {
        let places = [
            "front_left",
            "front_right",
            "rear_left",
            "rear_right",
            "tank",
        ];
        places
            .iter()
            .zip(losses)
            .map(|(p, l)| reading(p, l, 1e-5))
            .collect()
    }

    #[test]
    fn a_tight_car_has_no_pattern() {
        assert!(explain_air(&car([1e-5, -1e-5, 5e-6, 0.0, 2e-5])).is_empty());
    }

    #[test]
    fn a_corner_that_loses_alone_leaks() {
        let found = explain_air(&car([0.0, 3e-4, 0.0, 0.0, 1e-5]));
        assert_eq!(found.len(), 1);
        assert_eq!(
            found[0].pattern,
            AirPattern::CornerLeak {
                place: "front_right".into()
            }
        );
        assert!(found[0].probability > 0.99);
    }

    #[test]
    fn what_the_tank_loses_and_a_corner_gains_passes_the_fill_valve() {
        let found = explain_air(&car([0.0, 0.0, -3e-4, 0.0, 3.1e-4]));
        assert_eq!(found.len(), 1, "{found:?}");
        assert_eq!(
            found[0].pattern,
            AirPattern::FillValvePassing {
                place: "rear_left".into()
            }
        );
        assert!((found[0].flow_l_per_s.value - 3.05e-4).abs() < 1e-6);
    }

    #[test]
    fn a_tank_that_loses_alone_leaks_itself() {
        let found = explain_air(&car([0.0, 1e-5, 0.0, 0.0, 4e-4]));
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].pattern, AirPattern::TankLeak);
    }

    #[test]
    fn corners_of_one_axle_that_approach_each_other_cross_leak() {
        let found = explain_air(&car([2e-4, -2e-4, 0.0, 0.0, 0.0]));
        assert_eq!(
            found[0].pattern,
            AirPattern::CrossLeak {
                from: "front_left".into(),
                to: "front_right".into()
            }
        );
    }

    #[test]
    fn two_faults_are_both_named() {
        let found = explain_air(&car([4e-4, 0.0, 0.0, 0.0, 3e-4]));
        let patterns: Vec<_> = found.iter().map(|f| &f.pattern).collect();
        assert_eq!(found.len(), 2, "{patterns:?}");
        assert!(patterns.contains(&&AirPattern::TankLeak));
    }
}
