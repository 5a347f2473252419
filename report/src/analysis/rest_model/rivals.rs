//! What else the same loss could be: the other ways in which one volume may lose air.

use std::mem::{Discriminant, discriminant};

use super::hypothesis::{Hypothesis, Rival};
use super::model::Model;
use super::selection::Selection;
use super::unrest::ln_sum_exp;

impl Model<'_> {
    /// Returns the ways in which the volume of a named condition may lose air, the named one
    /// among them, each judged in its place beside all else that is named: largest share
    /// first. Empty for what is no condition.
    ///
    /// Equation: `share_k = Σ e^(ln odds) of kind k / Σ e^(ln odds) of all kinds`.
    pub(super) fn rivals(&self, named: usize, selection: &Selection) -> Option<Vec<Rival>> {
        let hypothesis = self.plan.hypotheses[named];
        if !hypothesis.is_conditional() {
            return Some(Vec::new());
        }
        let others = selection.active.iter().copied().filter(|a| *a != named);
        let mut without = Selection {
            active: others.collect(),
            ..Selection::default()
        };
        without.estimates = self.estimates(&without.active)?;
        let own = (0..self.plan.hypotheses.len()).filter(|i| {
            let other = self.plan.hypotheses[*i];
            !other.is_transfer()
                && other.volume() == hypothesis.volume()
                && !without.active.contains(i)
        });
        let judged = own.filter_map(|i| {
            let ln_odds = self.judged(i, without.estimates[i]?, &without).ln_odds;
            Some((self.plan.hypotheses[i], ln_odds))
        });
        Some(shares(&judged.collect::<Vec<_>>()))
    }
}

fn shares(judged: &[(Hypothesis, f64)]) -> Vec<Rival> {
    let all = ln_sum_exp(judged.iter().map(|j| j.1));
    let mut kinds: Vec<Discriminant<Hypothesis>> = Vec::new();
    for (hypothesis, _) in judged {
        let kind = discriminant(hypothesis);
        if !kinds.contains(&kind) {
            kinds.push(kind);
        }
    }
    let mut rivals: Vec<Rival> = kinds
        .iter()
        .filter_map(|kind| {
            let of_kind = || judged.iter().filter(|j| discriminant(&j.0) == *kind);
            let best = of_kind().max_by(|a, b| a.1.total_cmp(&b.1))?;
            Some(Rival {
                hypothesis: best.0,
                share: (ln_sum_exp(of_kind().map(|j| j.1)) - all).exp(),
            })
        })
        .collect();
    rivals.sort_by(|a, b| b.share.total_cmp(&a.share));
    rivals
}

#[cfg(test)]
mod tests {
    use super::{Hypothesis, shares};

    #[test]
    fn shares_are_odds_by_kind_and_add_up() {
        let cold = |level| Hypothesis::Cold {
            volume: 0,
            level,
            below_c: 5.0,
        };
        let leak = Hypothesis::Leak { volume: 0 };
        let ln = |x: f64| x.ln();
        let found = shares(&[(leak, ln(2.0)), (cold(0), ln(1.0)), (cold(1), ln(5.0))]);
        assert_eq!(found[0].hypothesis, cold(1));
        assert!((found[0].share - 0.75).abs() < 1e-12);
        assert_eq!(found[1].hypothesis, leak);
        assert!((found[1].share - 0.25).abs() < 1e-12);
    }
}
