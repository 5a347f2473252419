//! Hypotheses that the model names, as patterns and conditions of the report.

use super::model::RestJudge;
use crate::analysis::diagnose::{Condition, Conditional, Dated, RankedPattern};
use crate::analysis::estimate::Estimate;
use crate::analysis::rest_model::{Date, Hypothesis, HypothesisEstimate, Rival, TwoStates};
use crate::conclusion::Conclusion;

impl RestJudge<'_> {
    fn estimate(&self, h: &HypothesisEstimate) -> Estimate {
        let tank = self.car.volumes.iter().position(|v| v.is_tank);
        let upstream = match h.hypothesis {
            Hypothesis::FillValve { volume } => tank.unwrap_or(volume),
            other => other.volume(),
        };
        self.mean_loss(upstream, h.conductance, h.standard_error)
    }

    pub(super) fn patterns(&self) -> Vec<RankedPattern> {
        let named = self
            .fit
            .named()
            .filter(|h| self.is_sized(h.hypothesis.volume()) && !self.is_superseded(h.hypothesis));
        let plain = named.filter_map(|h| {
            let (pattern, rival) = self.pattern(h.hypothesis)?;
            Some(RankedPattern {
                pattern,
                flow_l_per_s: self.estimate(h),
                probability: h.probability,
                rivals: vec![(rival, 1.0 - h.probability)],
            })
        });
        let mut out: Vec<RankedPattern> = plain.collect();
        for leak in self.losing_at_times() {
            if out.iter().all(|o| o.pattern != leak.pattern) {
                out.push(leak);
            }
        }
        let leaks: Vec<Conclusion> = out.iter().map(|o| o.pattern.clone()).collect();
        out.retain(|o| !self.is_sinking(&o.pattern, &leaks));
        out
    }

    /// Whether a passing fill valve is only the first part of a leak: a corner without a
    /// height keeps its pressure while it sinks, as if what it loses came in again.
    fn is_sinking(&self, pattern: &Conclusion, named: &[Conclusion]) -> bool {
        let Conclusion::FillValvePassing { place } = pattern else {
            return false;
        };
        let mut volumes = self.car.volumes.iter().enumerate();
        let blind = volumes.all(|(v, of)| of.name != *place || !self.shows_what_holds(v));
        let leak = Conclusion::CornerLeak {
            place: place.clone(),
        };
        blind && named.contains(&leak)
    }

    /// Whether a rest that shows no loss is one that holds. A corner without a height
    /// sinks at nearly steady pressure and shows a loss only once it stands on its stop:
    /// its quiet rests say nothing, so no condition of a leak can be told from them.
    fn shows_what_holds(&self, volume: usize) -> bool {
        self.missing(volume).is_none()
    }

    /// Corners that lose air in some rests and whose other rests say nothing: leaks.
    fn losing_at_times(&self) -> Vec<RankedPattern> {
        let blind = |volume: usize| self.is_sized(volume) && !self.shows_what_holds(volume);
        let leak = |volume: usize, flow_l_per_s: Estimate, probability: f64| RankedPattern {
            pattern: Conclusion::CornerLeak {
                place: self.place(volume),
            },
            flow_l_per_s,
            probability,
            rivals: vec![(Conclusion::Tight, 1.0 - probability)],
        };
        let by_condition = self.fit.named().filter_map(|h| {
            let volume = h.hypothesis.volume();
            let here = h.hypothesis.is_conditional() && blind(volume);
            here.then(|| leak(volume, self.estimate(h), h.probability))
        });
        let at_times = self.fit.volumes.iter().filter_map(|v| {
            let two = v.two_states.as_ref().filter(|t| t.named)?;
            let open = v.pooled + two.conductance;
            let flow = self.mean_loss(v.volume, open, v.pooled_standard_error);
            blind(v.volume).then(|| leak(v.volume, flow, sure(two)))
        });
        by_condition.chain(at_times).collect()
    }

    /// Whether readings by hand name the same leak, which tell it whole.
    fn is_superseded(&self, hypothesis: Hypothesis) -> bool {
        let here = &self.car.volumes[hypothesis.volume()];
        let by_hand = |other: Hypothesis| {
            let there = &self.car.volumes[other.volume()];
            there.by_hand && there.name == here.name
        };
        let is_leak =
            |h: Hypothesis| matches!(h, Hypothesis::Leak { .. } | Hypothesis::Growing { .. });
        let mut named = self.fit.named();
        !here.by_hand
            && is_leak(hypothesis)
            && named.any(|h| is_leak(h.hypothesis) && by_hand(h.hypothesis))
    }

    /// A pattern and what else the same readings could be.
    fn pattern(&self, hypothesis: Hypothesis) -> Option<(Conclusion, Conclusion)> {
        Some(match hypothesis {
            Hypothesis::Leak { volume } | Hypothesis::Growing { volume } => {
                let pattern = if self.car.volumes[volume].is_tank {
                    Conclusion::TankLeak
                } else {
                    Conclusion::CornerLeak {
                        place: self.place(volume),
                    }
                };
                (pattern, Conclusion::Tight)
            }
            Hypothesis::FillValve { volume } => (
                Conclusion::FillValvePassing {
                    place: self.place(volume),
                },
                Conclusion::TankLeak,
            ),
            Hypothesis::CrossLeak { volume, partner } => {
                let [high, low] = self.by_pressure(volume, partner);
                (
                    Conclusion::CrossLeak {
                        from: self.place(high),
                        to: self.place(low),
                    },
                    Conclusion::CornerLeak {
                        place: self.place(high),
                    },
                )
            }
            _ => return None,
        })
    }

    /// The two corners, that of the higher usual pressure first.
    fn by_pressure(&self, one: usize, other: usize) -> [usize; 2] {
        let usual = |v: usize| self.fit.volume(v).map_or(0.0, |v| v.reference_kpa_abs);
        if usual(one) >= usual(other) {
            [one, other]
        } else {
            [other, one]
        }
    }

    fn condition(&self, hypothesis: Hypothesis) -> Option<Condition> {
        Some(match hypothesis {
            Hypothesis::Cold { below_c, .. } => Condition::Colder(below_c),
            Hypothesis::Low { below_mm, .. } => Condition::HeightBelow(below_mm),
            Hypothesis::AfterDump { .. } => Condition::AfterDump,
            Hypothesis::Since { date, .. } => Condition::Began(self.dated(date)),
            Hypothesis::Until { date, .. } => Condition::Ended(self.dated(date)),
            _ => return None,
        })
    }

    fn dated(&self, date: Date) -> Dated {
        let wall = |t_s: f64| self.digest.wall(t_s);
        let all = [date.between_s.0, date.at_s, date.between_s.1].map(wall);
        let first_s = self.car.rests.iter().map(|r| r.start_s).reduce(f64::min);
        Dated {
            days_in: (date.at_s - first_s.unwrap_or(0.0)) / 86_400.0,
            wall: match all {
                [Some(first), Some(likeliest), Some(last)] => Some([first, likeliest, last]),
                _ => None,
            },
        }
    }

    pub(super) fn conditionals(&self) -> Vec<Conditional> {
        let by_condition = self.fit.named().filter_map(|h| {
            let condition = self.condition(h.hypothesis)?;
            let volume = h.hypothesis.volume();
            let (own, others): (Vec<&Rival>, Vec<&Rival>) =
                h.rivals.iter().partition(|r| r.hypothesis == h.hypothesis);
            let among_rivals = own.first().map_or(1.0, |r| r.share);
            let rivals = others
                .iter()
                .map(|r| (self.condition(r.hypothesis), r.share));
            Some(Conditional {
                place: self.place(volume),
                condition: Some(condition),
                open_l_per_s: self.estimate(h),
                shut_l_per_s: self.steady(volume),
                probability: h.probability.min(among_rivals),
                rivals: rivals.collect(),
                certain: None,
            })
        });
        let at_times = self.fit.volumes.iter().filter_map(|v| {
            let two = v.two_states.as_ref().filter(|t| t.named)?;
            let shut = self.mean_loss(v.volume, v.pooled, v.pooled_standard_error);
            Some(Conditional {
                place: self.place(v.volume),
                condition: None,
                open_l_per_s: self.mean_loss(
                    v.volume,
                    v.pooled + two.conductance,
                    v.pooled_standard_error,
                ),
                shut_l_per_s: shut,
                probability: sure(two),
                rivals: Vec::new(),
                certain: Some(two.leaking_and_tight),
            })
        });
        let mut out: Vec<Conditional> = by_condition.collect();
        let sized = |c: &Conditional| {
            self.digest
                .vessel(&c.place)
                .is_some_and(|v| !v.is_relative())
        };
        for c in at_times {
            if out.iter().all(|o| o.place != c.place) {
                out.push(c);
            }
        }
        // A place that readings by hand tell whole has two volumes.
        let volumes = self.car.volumes.iter().enumerate();
        let told: Vec<&str> = volumes
            .filter(|(v, _)| self.shows_what_holds(*v))
            .map(|(_, volume)| volume.name.as_str())
            .collect();
        out.retain(|c| sized(c) && told.contains(&c.place.as_str()));
        out
    }

    /// The steady leak of a volume, named or not.
    fn steady(&self, volume: usize) -> Estimate {
        let leak = Hypothesis::Leak { volume };
        let found = self.fit.hypotheses.iter().find(|h| h.hypothesis == leak);
        found.map_or_else(|| self.mean_loss(volume, 0.0, 0.0), |h| self.estimate(h))
    }
}

/// Probability that two states are two.
fn sure(two: &TwoStates) -> f64 {
    1.0 - (-two.gain_nats).exp().min(1.0)
}
