//! How the paths of a circuit change over the log.

use super::comparable::{Comparable, FEWEST};
use super::drives::{by_drive, level};
use super::{ComparedMoves, Direction, Move, change, path_conductance};
use crate::analysis::estimate::Estimate;
use crate::analysis::stats::{mann_kendall, mean, median, theil_sen};

/// Moves of one circuit and direction, and how their conductance drifts.
#[derive(Debug, Clone, PartialEq)]
pub struct MoveTrend {
    /// Circuit.
    pub place: String,
    /// Up or down.
    pub direction: Direction,
    /// Moves compared: all measured ones; without heights those of the commonest kind.
    pub moves: usize,
    /// True when the heights of all moves are known; without them the volume is
    /// taken as constant, and conductances hold for comparing like moves only.
    pub by_height: bool,
    /// Conductance: of the moves that tell it, each by its own error; of moves that
    /// only bound it from below where no other is there, L/(s·bar).
    pub conductance: Estimate,
    /// The path passes at least this.
    pub at_least: bool,
    /// Median conductance of all moves compared, L/(s·bar).
    pub median_conductance: f64,
    /// Median of the first and of the last third of the moves, like for like,
    /// L/(s·bar).
    pub first_last_third: (f64, f64),
    /// Time of the reference move with the conductance of the first and of the last
    /// third; `None` where the rig allows no such move.
    pub reference_time_s: Option<(TimeInterval, TimeInterval)>,
    /// Median over drives of the logarithm of the conductance, each drive one witness, with
    /// what weeks of a sound path differ by.
    pub ln_level: Option<Estimate>,
    /// Logarithm of the conductance of the last third over that of the first, like
    /// for like; `None` with too few moves.
    pub ln_change: Option<Estimate>,
    /// The same without regard to what other circuits did beside it: a path without
    /// heights that lifts the car further seems to have lost conductance here.
    pub ln_pace_change: Option<Estimate>,
    /// Drift of the conductance, percent a day, with its 95 % interval: Theil–Sen over
    /// drives. `None` with fewer than five drives.
    pub drift_percent_per_day: Option<(f64, f64, f64)>,
    /// Two-sided p value of the trend (Mann–Kendall over drives).
    pub trend_p: Option<f64>,
    /// Median scatter of one conductance around the trend, as a fraction.
    pub scatter: f64,
}

/// A time with its 95 % interval, s.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TimeInterval {
    /// Best value.
    pub seconds: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end; infinite where the conductance may be nothing.
    pub high: f64,
}

/// Fewer drives show none either: of four even a perfect order is chance once in twelve.
const FEWEST_DRIVES: usize = 5;

/// Two weeks of a sound path differ by this beside the scatter of their drives:
/// air that is 12 K warmer on average flows 2 % slower (√(T/T₀)), and no
/// thermometer stands in the line. One standard deviation of the logarithm.
///
/// **Source**: ISO 6358-1 for the root of temperatures; 12 K: common practice.
const ALIKE: f64 = 0.02;

/// The same where the air moved is told from the pressure alone.
pub(crate) const ALIKE_BLIND: f64 = 0.1;

/// Smaller steps of the pressure are not told apart, kPa.
const LEAST_STEP_KPA: f64 = 1.0;

impl TimeInterval {
    /// Of a conductance known to within `share`: `t/(1 ± share)`.
    fn of(seconds: f64, share: f64) -> Self {
        TimeInterval {
            seconds,
            low: seconds / (1.0 + share),
            high: if share < 1.0 {
                seconds / (1.0 - share)
            } else {
                f64::INFINITY
            },
        }
    }
}

impl MoveTrend {
    /// Standard error of the median conductance, as a fraction: that of a mean
    /// times √(π/2).
    ///
    /// **Source**: median of a normal sample (from memory).
    #[must_use]
    pub fn median_error(&self) -> f64 {
        1.25 * self.scatter / (self.moves.max(1) as f64).sqrt()
    }
}

/// Trend of every circuit and direction that has measured moves. `reference` gives the
/// [reference move](super::reference_l_per_bar) of a path, L/bar, and `mate_of` the other
/// circuit of an axle, beside which a path without heights is seen.
#[must_use]
pub fn trends(
    moves: &[Move],
    reference: &dyn Fn(&str, Direction) -> Option<f64>,
    mate_of: &dyn Fn(&str) -> Option<String>,
) -> Vec<MoveTrend> {
    let mut keys: Vec<(String, Direction)> = moves
        .iter()
        .map(|m| (m.place.clone(), m.direction))
        .collect();
    keys.sort();
    keys.dedup();
    keys.into_iter()
        .filter_map(|(place, direction)| {
            let own: Vec<&Move> = moves
                .iter()
                .filter(|m| m.place == place && m.direction == direction && m.conductance > 0.0)
                .collect();
            let compared = Comparable::of(&own, moves, mate_of(&place).as_deref());
            let l_per_bar = reference(&place, direction);
            trend(place, direction, &compared, l_per_bar)
        })
        .collect()
}

fn trend(
    place: String,
    direction: Direction,
    compared: &Comparable<'_>,
    l_per_bar: Option<f64>,
) -> Option<MoveTrend> {
    let by_height = compared.by_height;
    let own = &compared.moves[..];
    let median_conductance = median(&own.iter().map(|m| m.conductance).collect::<Vec<_>>())?;
    let exact: Vec<&Move> = own.iter().copied().filter(|m| !m.at_least).collect();
    let conductance = path_conductance(if exact.is_empty() { own } else { &exact })?;
    let raw = &compared.logs;
    let enough = compared.tells_change && own.len() >= FEWEST;
    let change_of = |values: &[f64]| {
        change(&ComparedMoves {
            values,
            weights: &weights(own),
            covariates: &covariates(own, by_height),
            t_ms: &own.iter().map(|m| m.from_ms).collect::<Vec<_>>(),
        })
    };
    let changed = enough.then(|| change_of(raw)).flatten();
    // By height nothing was taken out for what other circuits did.
    let pace_changed = if by_height {
        changed.clone()
    } else {
        let pace: Vec<f64> = own.iter().map(|m| m.conductance.ln()).collect();
        (own.len() >= FEWEST).then(|| change_of(&pace)).flatten()
    };
    let logs = changed.as_ref().map_or(raw, |c| &c.like_for_like);
    let third = (own.len() / 3).max(1);
    let first = median(&logs[..third])?.exp();
    let last = median(&logs[logs.len() - third..])?.exp();
    let days: Vec<f64> = own
        .iter()
        .map(|m| m.from_ms as f64 / 86_400_000.0)
        .collect();
    let drives = by_drive(logs, &own.iter().map(|m| m.from_ms).collect::<Vec<_>>());
    let blocks: (Vec<f64>, Vec<f64>) = drives.iter().map(|d| (d.day, d.middle())).unzip();
    let enough_drives = enough && drives.len() >= FEWEST_DRIVES;
    let slope = enough_drives
        .then(|| theil_sen(&blocks.0, &blocks.1, 0.95))
        .flatten();
    let percent = |per_day: f64| 100.0 * (per_day.exp() - 1.0);
    let scatter = scatter(&days, logs, slope.as_ref().map_or(0.0, |s| s.slope));
    let alike = if by_height { ALIKE } else { ALIKE_BLIND };
    let of_path = (conductance.interval_95().1 / conductance.value - 1.0).abs();
    let share = of_path.hypot(2.0 * 1.25 * scatter / (third as f64).sqrt());
    let time = |l_per_bar: f64, c: f64| TimeInterval::of(l_per_bar / c, share);
    Some(MoveTrend {
        scatter,
        ln_level: level(&drives, alike, scatter).map(|l| l.with_known_error(alike)),
        place,
        direction,
        moves: own.len(),
        by_height,
        conductance,
        at_least: exact.is_empty(),
        median_conductance,
        first_last_third: (first, last),
        reference_time_s: l_per_bar.map(|k| (time(k, first), time(k, last))),
        ln_change: changed
            .as_ref()
            .map(|c| c.last_less_first.with_known_error(alike)),
        ln_pace_change: pace_changed.map(|c| c.last_less_first.with_known_error(alike)),
        drift_percent_per_day: slope.as_ref().map(|s| {
            (
                percent(s.slope),
                percent(s.interval.low),
                percent(s.interval.high),
            )
        }),
        trend_p: enough_drives
            .then(|| mann_kendall(&blocks.1))
            .flatten()
            .map(|mk| mk.p()),
    })
}

/// Moves count by what their own error leaves of them.
fn weights(own: &[&Move]) -> Vec<f64> {
    let relative = |m: &&Move| (m.conductance_se / m.conductance).max(1e-3);
    own.iter().map(|m| relative(m).powi(-2)).collect()
}

/// What makes conductances differ whatever the path does. Where the height is
/// known the air moved is known, and nothing does. Without it only the air
/// behind the change of pressure counts, and how much that is of all depends on
/// whether the springs work or stick, on the size of the move and on the
/// pressures it began and ended at.
fn covariates(own: &[&Move], by_height: bool) -> Vec<Vec<f64>> {
    if by_height {
        return Vec::new();
    }
    let of = |f: &dyn Fn(&Move) -> f64| own.iter().map(|m| f(m)).collect::<Vec<f64>>();
    let driving = of(&|m| f64::from(u8::from(m.driving == Some(true))));
    let plain = [
        of(&|m| (m.kpa_abs.1 - m.kpa_abs.0).abs().max(LEAST_STEP_KPA).ln()),
        of(&|m| m.kpa_abs.0),
        of(&|m| m.kpa_abs.1),
    ];
    // The same on the road, where a spring that works sticks less.
    let on_the_road = plain.iter().map(|column| {
        let middle = mean(column).unwrap_or(0.0);
        let product = column.iter().zip(&driving).map(|(v, d)| (v - middle) * d);
        product.collect::<Vec<f64>>()
    });
    let on_the_road: Vec<Vec<f64>> = on_the_road.collect();
    [&[driving.clone()][..], &plain, &on_the_road].concat()
}

/// Median absolute deviation around the trend, scaled to a standard deviation.
fn scatter(days: &[f64], logs: &[f64], slope: f64) -> f64 {
    let flat: Vec<f64> = days.iter().zip(logs).map(|(d, l)| l - slope * d).collect();
    let Some(middle) = median(&flat) else {
        return 0.0;
    };
    let off: Vec<f64> = flat.iter().map(|f| (f - middle).abs()).collect();
    1.4826 * median(&off).unwrap_or(0.0)
}

#[cfg(test)]
mod tests {
    use super::super::drives::{Drive, by_drive};
    use super::*;
    use crate::analysis::stats::SplitMix64;

    /// Invented: a sound path in eight drives of five moves; each drive has its own load
    /// and warmth. Moves taken as witnesses call a trend in every second sound log, drives
    /// in one of twenty.
    #[test]
    fn a_sound_path_has_no_trend_whatever_its_drives_share() {
        let mut draw = SplitMix64::new(20_261_129);
        let rounds = 400;
        let (mut by_moves, mut by_drives) = (0, 0);
        for _ in 0..rounds {
            let logs: Vec<f64> = (0..8)
                .flat_map(|_| {
                    let shared = 0.05 * draw.normal();
                    [0; 5].map(|_| shared + 0.01 * draw.normal())
                })
                .collect();
            let t_ms: Vec<i64> = (0..40)
                .map(|i| i / 5 * 86_400_000 + i % 5 * 60_000)
                .collect();
            let called = |v: &[f64]| mann_kendall(v).is_some_and(|mk| mk.p() < 0.05);
            let drives = by_drive(&logs, &t_ms);
            let middles: Vec<f64> = drives.iter().map(Drive::middle).collect();
            by_moves += usize::from(called(&logs));
            by_drives += usize::from(called(&middles));
        }
        assert!(by_moves > rounds / 4, "{by_moves} of {rounds}");
        assert!(by_drives < rounds / 12, "{by_drives} of {rounds}");
    }
}
