//! What the readings behind a silence can tell.

use super::super::input::ModelRest;
use super::open::SHORTEST_S;

/// A silence longer than this may hide a move, s.
const LONG_S: f64 = 900.0;

/// Behind it only readings before the pressure moved by this count, kPa, …
const MOVED_KPA: f64 = 2.5;

/// … or by so many standard deviations of a reading, …
const MOVED_SD: f64 = 6.0;

/// … or the height by this, mm.
const MOVED_MM: f64 = 2.5;

/// More air than before the silence by this share is a fill that nobody saw, …
const UNSEEN_FILL: f64 = 0.03;

/// … and by this share where the volume is not known, since a load may have changed.
const UNSEEN_FILL_WITHOUT_HEIGHT: f64 = 0.10;

/// Means that say how much air there was before the silence.
const MEANS_BEFORE: usize = 4;

/// Means that a rest needs.
const FEWEST_MEANS: usize = 4;

/// Leaves out what a rest cannot know behind its longest silence. `None` where too
/// little is left.
///
/// At power-on many cars level within seconds: what was read before the pressure or
/// the height moved belongs to the night, what follows does not.
pub(super) fn mend(mut rest: ModelRest) -> Option<ModelRest> {
    if rest.longest_silence_s > LONG_S
        && let Some(behind) = behind_longest_silence(&rest.t_s)
    {
        let keep = usable_behind(&rest, behind);
        if keep < rest.t_s.len() {
            truncate(&mut rest, keep);
        }
    }
    let length_s = rest.t_s.last()? - rest.t_s.first()?;
    (rest.t_s.len() >= FEWEST_MEANS && length_s >= SHORTEST_S).then_some(rest)
}

/// Index of the first mean behind the longest silence, if that is a long one.
fn behind_longest_silence(t_s: &[f64]) -> Option<usize> {
    let silence = |i: &usize| t_s[*i] - t_s[*i - 1];
    let longest = (1..t_s.len()).max_by(|a, b| silence(a).total_cmp(&silence(b)).then(b.cmp(a)))?;
    (silence(&longest) > LONG_S).then_some(longest)
}

/// Number of means that count.
fn usable_behind(rest: &ModelRest, behind: usize) -> usize {
    let ln_air = |i: &usize| (rest.kpa_abs[*i] * rest.volume_l[*i] / rest.kelvin[*i]).ln();
    let before: Vec<f64> = (behind.saturating_sub(MEANS_BEFORE)..behind)
        .map(|i| ln_air(&i))
        .collect();
    let before = super::super::super::stats::median(&before).unwrap_or(f64::INFINITY);
    let fixed_volume = rest.creep.is_empty();
    let limit = if fixed_volume || !rest.height_mm.is_empty() {
        UNSEEN_FILL
    } else {
        UNSEEN_FILL_WITHOUT_HEIGHT
    };
    if ln_air(&behind) - before > limit {
        return behind;
    }
    let moved_kpa = MOVED_KPA.max(MOVED_SD * rest.reading_sd_kpa);
    let moved = |i: &usize| {
        let height = |i: usize| rest.height_mm.get(i).copied().unwrap_or(0.0);
        (rest.kpa_abs[*i] - rest.kpa_abs[behind]).abs() >= moved_kpa
            || (height(*i) - height(behind)).abs() >= MOVED_MM
    };
    (behind..rest.t_s.len())
        .find(moved)
        .unwrap_or(rest.t_s.len())
}

/// Keeps the first means of a rest.
fn truncate(rest: &mut ModelRest, keep: usize) {
    let columns = [
        &mut rest.t_s,
        &mut rest.kpa_abs,
        &mut rest.outside_kpa_abs,
        &mut rest.volume_l,
        &mut rest.height_mm,
        &mut rest.slope_l_per_mm,
        &mut rest.kelvin,
        &mut rest.ln_variance,
        &mut rest.ln_count,
    ];
    let families = [&mut rest.lag_k, &mut rest.soak, &mut rest.creep];
    let others = rest.other_k.iter_mut().map(|o| &mut o.1);
    let pressures = rest.others_kpa_abs.iter_mut().flatten();
    columns
        .into_iter()
        .chain(families.into_iter().flatten())
        .chain(others)
        .chain(pressures)
        .for_each(|column| column.truncate(keep));
    rest.end_s = rest.t_s.last().copied().unwrap_or(rest.start_s);
    let silences = rest.t_s.windows(2).map(|w| w[1] - w[0]);
    rest.longest_silence_s = silences.fold(0.0, f64::max);
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Hourly means of a tank with a silence from 4 h to 12 h.
    fn rest(kpa_abs: [f64; 8]) -> ModelRest {
        let t_s: Vec<f64> = [0, 1, 2, 3, 4, 12, 13, 14]
            .iter()
            .map(|h| f64::from(*h) * 600.0)
            .collect();
        let n = t_s.len();
        ModelRest {
            volume: 0,
            park: 0,
            start_s: 0.0,
            end_s: t_s[n - 1],
            longest_silence_s: 4_800.0,
            t_s,
            kpa_abs: kpa_abs.to_vec(),
            outside_kpa_abs: vec![100.0; n],
            gauge: true,
            volume_l: vec![20.0; n],
            height_mm: Vec::new(),
            slope_l_per_mm: Vec::new(),
            kelvin: vec![290.0; n],
            ln_variance: vec![1e-6; n],
            ln_count: vec![1e-6; n],
            noise_per_count: 1.0,
            reading_sd_kpa: 0.1,
            lag_k: Vec::new(),
            other_k: vec![("ambient".into(), vec![0.0; n])],
            soak: vec![vec![0.0; n]],
            creep: Vec::new(),
            others_kpa_abs: vec![None, Some(vec![1.0; n])],
            last_move: None,
            levelled_s: None,
            barometer_silence_s: None,
        }
    }

    #[test]
    fn only_what_was_read_before_anything_moved_counts() {
        let night = mend(rest([
            900.0, 900.0, 899.0, 899.0, 898.0, 890.0, 890.0, 940.0,
        ]))
        .expect("left");
        assert_eq!((night.t_s.len(), night.end_s), (7, 7_800.0));
        assert!(night.soak[0].len() == 7 && night.other_k[0].1.len() == 7);
        assert_eq!(night.others_kpa_abs[1].as_ref().map(Vec::len), Some(7));
    }

    #[test]
    fn more_air_than_before_is_a_fill_nobody_saw() {
        let filled = mend(rest([
            900.0, 900.0, 899.0, 899.0, 898.0, 950.0, 950.0, 950.0,
        ]))
        .expect("left");
        assert_eq!((filled.t_s.len(), filled.longest_silence_s), (5, 600.0));
    }

    #[test]
    fn nothing_is_left_out_of_a_quiet_one() {
        let quiet = rest([900.0; 8]);
        assert_eq!(mend(quiet.clone()), Some(quiet));
    }
}
