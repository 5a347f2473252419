//! A channel behind a first-order lag, asked in time order.

use super::minutes::{MINUTE_S, Minutes};

/// Runs a first-order lag over the minute grid of a channel: `y' = (u − y)/τ`, with
/// `y[k] = a·y[k−1] + (1 − a)·u[k]`, `a = exp(−60 s/τ)`.
///
/// Across a silence the channel is a straight line, `u = u₀ + s·k`, whose answer is
/// closed: `y[k] = u[k] − c + (y₀ − u₀ + c)·aᵏ`, `c = s·a/(1 − a)`; so a silence of
/// any length costs one step.
///
/// **Units**: those of the channel; `tau_s` s, above 0.
#[derive(Debug)]
pub(super) struct Lag<'a> {
    channel: &'a Minutes,
    decay: f64,
    /// Node reached, and the answer there.
    node: f64,
    answer: f64,
    /// Recorded minutes up to the node.
    passed: usize,
}

impl<'a> Lag<'a> {
    /// **Domain**: a channel with at least one minute.
    pub(super) fn new(channel: &'a Minutes, tau_s: f64) -> Self {
        Lag {
            channel,
            decay: (-MINUTE_S / tau_s).exp(),
            node: 0.0,
            answer: channel.at(0.0),
            passed: 0,
        }
    }

    /// Answer at a time, in minutes from the origin, not before the node of the time
    /// last asked for.
    pub(super) fn at(&mut self, minutes: f64) -> f64 {
        let low = minutes.floor().max(self.node);
        self.go_to(low);
        let next_input = self.channel.at(low + 1.0);
        let next = self.decay * self.answer + (1.0 - self.decay) * next_input;
        self.answer + (minutes - low).clamp(0.0, 1.0) * (next - self.answer)
    }

    fn go_to(&mut self, node: f64) {
        while self.node < node {
            let first = self.input(self.node + 1.0);
            // The line bends at the next recorded minute.
            let bend = if self.passed < self.channel.len() {
                self.channel.point(self.passed).0.floor()
            } else {
                f64::INFINITY
            };
            let to = bend.min(node);
            if to - self.node < 2.0 {
                self.answer = self.decay * self.answer + (1.0 - self.decay) * first;
                self.node += 1.0;
            } else {
                let last = self.input(to);
                self.answer = self.along_a_line(first, last, to - self.node);
                self.node = to;
            }
        }
    }

    /// Input at a node not before the last one asked for.
    fn input(&mut self, node: f64) -> f64 {
        while self.passed < self.channel.len() && self.channel.point(self.passed).0 <= node {
            self.passed += 1;
        }
        self.channel.on_line(self.passed, node)
    }

    /// The first node by one step, the others by the closed answer to a line.
    fn along_a_line(&self, first: f64, last: f64, steps: f64) -> f64 {
        let a = self.decay;
        let start = a * self.answer + (1.0 - a) * first;
        let rest = steps - 1.0;
        let slope = (last - first) / rest;
        let c = slope * a / (1.0 - a);
        last - c + (start - first + c) * a.powf(rest)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Node by node, by the definition.
    fn by_definition(channel: &Minutes, tau_s: f64, nodes: usize) -> Vec<f64> {
        let a = (-60.0 / tau_s).exp();
        let mut y = channel.at(0.0);
        (0..nodes)
            .map(|k| {
                y = a * y + (1.0 - a) * channel.at(k as f64);
                y
            })
            .collect()
    }

    #[test]
    fn silences_cost_one_step_and_change_nothing() {
        let mut channel = Minutes::default();
        for (m, v) in [
            (0, 20.0),
            (1, 22.0),
            (2, 21.0),
            (700, -5.0),
            (701, 4.0),
            (1_500, 30.0),
        ] {
            channel.push(m, v);
        }
        channel.close();
        for tau_s in [300.0, 8_100.0, 40_000.0] {
            let expected = by_definition(&channel, tau_s, 2_000);
            let mut lag = Lag::new(&channel, tau_s);
            for k in [
                0, 1, 2, 3, 5, 400, 699, 701, 702, 703, 1_400, 1_501, 1_502, 1_900,
            ] {
                let got = lag.at(k as f64);
                assert!(
                    (got - expected[k]).abs() < 1e-9,
                    "{tau_s} {k}: {got} {}",
                    expected[k]
                );
            }
            let half = Lag::new(&channel, tau_s).at(702.5);
            assert!((half - (expected[702] + expected[703]) / 2.0).abs() < 1e-9);
        }
    }
}
