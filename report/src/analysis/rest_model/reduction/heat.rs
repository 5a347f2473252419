//! Heat that drives leave behind.

use super::minutes::MINUTE_S;

/// Time constant of the rise while driving, s. Common practice, no source.
const RISE_S: f64 = 600.0;

/// Heat of drives, 0 to 1, on the minute grid, asked in time order: rises towards 1
/// with 600 s while driving and decays with `decay_s` after.
///
/// **Units**: drives in minutes from the origin.
#[derive(Debug)]
pub(super) struct DriveHeat<'a> {
    drives: &'a [(f64, f64)],
    rise: f64,
    fall: f64,
    node: f64,
    heat: f64,
}

impl<'a> DriveHeat<'a> {
    pub(super) fn new(drives: &'a [(f64, f64)], decay_s: f64) -> Self {
        DriveHeat {
            drives,
            rise: (-MINUTE_S / RISE_S).exp(),
            fall: (-MINUTE_S / decay_s).exp(),
            node: -1.0,
            heat: 0.0,
        }
    }

    /// Heat at a time not before the node of the time last asked for.
    pub(super) fn at(&mut self, minutes: f64) -> f64 {
        let low = minutes.floor().max(self.node);
        self.go_to(low);
        let next = self.after(1.0, self.drives_at(low + 1.0));
        self.heat + (minutes - low).clamp(0.0, 1.0) * (next - self.heat)
    }

    fn go_to(&mut self, node: f64) {
        while self.node < node {
            let next = self.node + 1.0;
            let driving = self.drives_at(next);
            // The last node that is like the next one.
            let like = match self.drives.first() {
                Some(drive) if driving => drive.1.floor(),
                Some(drive) => drive.0.ceil() - 1.0,
                None => node,
            };
            let to = like.clamp(next, node.max(next));
            self.heat = self.after(to - self.node, driving);
            self.node = to;
            while self.drives.first().is_some_and(|d| d.1 < self.node) {
                self.drives = &self.drives[1..];
            }
        }
    }

    fn drives_at(&self, node: f64) -> bool {
        let ahead = self.drives.iter().find(|d| d.1 >= node);
        ahead.is_some_and(|d| d.0 <= node)
    }

    fn after(&self, nodes: f64, driving: bool) -> f64 {
        if driving {
            1.0 - (1.0 - self.heat) * self.rise.powf(nodes)
        } else {
            self.heat * self.fall.powf(nodes)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn node_by_node_it_is_the_same() {
        let drives = [(3.2, 9.7), (9.9, 10.4), (50.0, 50.4), (200.0, 260.0)];
        let (rise, fall) = ((-0.1_f64).exp(), (-60.0_f64 / 900.0).exp());
        let mut expected = Vec::new();
        let mut heat = 0.0;
        for k in 0..400 {
            let k = f64::from(k);
            let driving = drives.iter().any(|d| d.0 <= k && k <= d.1);
            heat = if driving {
                1.0 - (1.0 - heat) * rise
            } else {
                heat * fall
            };
            expected.push(heat);
        }
        for step in [1_usize, 7, 60] {
            let mut asked = DriveHeat::new(&drives, 900.0);
            for k in (0..390).step_by(step) {
                let got = asked.at(k as f64 + 0.5);
                let want = (expected[k] + expected[k + 1]) / 2.0;
                assert!((got - want).abs() < 1e-12, "{step} {k}: {got} {want}");
            }
        }
        assert_eq!(DriveHeat::new(&[], 900.0).at(70.0), 0.0);
    }
}
