//! Compressor duty: share of known time it ran, in sliding windows.

mod switching;
mod timeline;

pub use switching::{Edge, SwitchedRun, Switching, Typical};
pub use timeline::Timeline;

/// Duty over one window.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WindowDuty {
    /// Start of the window, log time ms.
    pub from_ms: i64,
    /// Length asked for, s.
    pub window_s: f64,
    /// Running time inside, s.
    pub on_s: f64,
    /// Time inside in which the compressor's state is known, s.
    pub known_s: f64,
    /// Starts and stops inside, of which each is known only to a reading.
    pub edges: usize,
}

impl WindowDuty {
    /// Duty: running time over known time, percent; `None` when nothing is known.
    #[must_use]
    pub fn percent(&self) -> Option<f64> {
        (self.known_s > 0.0).then(|| 100.0 * self.on_s / self.known_s)
    }

    /// Duty that is certain: running time over the whole window, percent, as if the
    /// compressor stood still whenever its state is not known.
    ///
    /// ```
    /// use seep_report::analysis::duty::Timeline;
    /// // 150 s of running in the 300 s that are known of 600 s.
    /// let window = Timeline::new(&[(0, 150_000)], &[(0, 300_000)]).window(0, 600_000);
    /// assert_eq!(window.percent(), Some(50.0));
    /// assert_eq!(window.least_percent(), 25.0);
    /// ```
    #[must_use]
    pub fn least_percent(&self) -> f64 {
        100.0 * self.on_s / self.window_s
    }

    /// Half width of the duty's 95 % interval, percentage points, when each
    /// start and stop is known only to lie within `silence_s` before its first
    /// word.
    ///
    /// Lateness is evenly spread over the silence, variance s²/12; late starts
    /// and late stops cancel in the mean, their spread does not:
    /// 1.96·s·√(edges/12) over the known time.
    ///
    /// ```
    /// use seep_report::analysis::duty::Timeline;
    /// let timeline = Timeline::new(&[(100_000, 200_000)], &[(0, 1_000_000)]);
    /// let window = timeline.window(0, 1_000_000);
    /// // 1.96 * 10 s * sqrt(2 / 12) = 8.0 s of 1000 s.
    /// assert!((window.half_width(10.0).unwrap() - 0.80).abs() < 0.001);
    /// ```
    #[must_use]
    pub fn half_width(&self, silence_s: f64) -> Option<f64> {
        let seconds = 1.96 * silence_s * (self.edges as f64 / 12.0).sqrt();
        (self.known_s > 0.0).then(|| 100.0 * seconds / self.known_s)
    }

    /// Share of the window in which the state is known, 0 to 1.
    #[must_use]
    pub fn coverage(&self) -> f64 {
        self.known_s / self.window_s
    }
}

/// A window counts for the worst duty only when at least this share is known:
/// a few known seconds in ten minutes would make any duty look like 100 %.
pub const LEAST_COVERAGE: f64 = 0.8;

/// The window of a length with the highest duty, among those with at least
/// 80 % known time.
///
/// Duty after IEC 60034-1, type S3: running time over cycle time; unknown time
/// leaves numerator and denominator. Between two neighbouring starts of the window at
/// which an edge of a run or of the known time enters or leaves it, running and known
/// time are straight lines, and their ratio rises or falls throughout. So only those
/// starts are tried, and those at which exactly 80 % become known: the result is
/// exact, to a millisecond.
///
/// **Units**: `window_s` s.
///
/// ```
/// use seep_report::analysis::duty::{Timeline, worst_window};
/// // 90 s in each 600 s is 15 %, watched from the first rest on.
/// let runs: Vec<(i64, i64)> = (0..6).map(|i| (i * 600_000, i * 600_000 + 90_000)).collect();
/// let timeline = Timeline::new(&runs, &[(-510_000, 3_600_000)]);
/// let worst = worst_window(&timeline, 600.0).unwrap();
/// assert!((worst.percent().unwrap() - 15.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn worst_window(timeline: &Timeline, window_s: f64) -> Option<WindowDuty> {
    let window_ms = (window_s * 1000.0).round() as i64;
    let edges = timeline.runs().iter().chain(timeline.known());
    let mut starts: Vec<i64> = edges
        .flat_map(|e| [e.0, e.1, e.0 - window_ms, e.1 - window_ms])
        .collect();
    starts.sort_unstable();
    starts.dedup();
    let barely = barely_known(timeline, &starts, window_ms);
    starts.extend(barely);
    starts
        .into_iter()
        .map(|from_ms| timeline.window(from_ms, window_ms))
        .filter(|w| w.coverage() >= LEAST_COVERAGE)
        .fold(None, |best: Option<WindowDuty>, w| match best {
            Some(b) if b.percent() >= w.percent() => Some(b),
            _ => Some(w),
        })
}

/// The window of a length with the most running time, however much of it is known:
/// what a claim that a rating was exceeded rests on. `None` without a run.
///
/// Running time is a straight line between two neighbouring starts of the window at
/// which an end of a run enters or leaves it, so only those are tried.
///
/// **Units**: `window_s` s, above 0.
///
/// ```
/// use seep_report::analysis::duty::{Timeline, busiest_window};
/// let timeline = Timeline::new(&[(0, 60_000), (500_000, 560_000)], &[(0, 560_000)]);
/// assert!((busiest_window(&timeline, 600.0).unwrap().least_percent() - 20.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn busiest_window(timeline: &Timeline, window_s: f64) -> Option<WindowDuty> {
    let window_ms = (window_s * 1000.0).round() as i64;
    let starts = timeline.runs().iter().flat_map(|r| [r.0, r.1 - window_ms]);
    starts
        .map(|from_ms| timeline.window(from_ms, window_ms))
        .max_by(|a, b| a.on_s.total_cmp(&b.on_s))
}

/// Starts between neighbouring `starts` at which the share known crosses
/// [`LEAST_COVERAGE`], on the side where it is reached.
fn barely_known(timeline: &Timeline, starts: &[i64], window_ms: i64) -> Vec<i64> {
    let needed = (LEAST_COVERAGE * window_ms as f64).ceil();
    let known = |from_ms: i64| 1000.0 * timeline.window(from_ms, window_ms).known_s;
    let between = |pair: &[i64]| {
        let (from, to) = (known(pair[0]), known(pair[1]));
        let crosses = (from < needed) != (to < needed);
        let share = (needed - from) / (to - from);
        let at = pair[0] as f64 + share * (pair[1] - pair[0]) as f64;
        // Rounding may miss the millisecond by one.
        let around = (at - 1.0) as i64..=(at + 1.0) as i64;
        crosses.then_some(around)
    };
    starts.windows(2).filter_map(between).flatten().collect()
}

/// Duty over everything known.
#[must_use]
pub fn whole(timeline: &Timeline) -> Option<WindowDuty> {
    let first = timeline.known().first()?.0;
    let last = timeline.known().last()?.1;
    Some(timeline.window(first, last - first))
}

/// Runs and how long they were.
#[derive(Debug, Clone, PartialEq)]
pub struct RunStatistics {
    /// Runs, those of which only a part was seen included.
    pub runs: usize,
    /// Runs per hour of known time.
    pub starts_per_hour: f64,
    /// Running time, h.
    pub on_h: f64,
    /// Longest run, s.
    pub longest_run_s: Option<f64>,
}

/// Statistics of the runs on a timeline; `None` where nothing is known of it.
#[must_use]
pub fn run_statistics(timeline: &Timeline) -> Option<RunStatistics> {
    let known_h: f64 = timeline.known().iter().map(|k| hours(k.1 - k.0)).sum();
    let lengths: Vec<f64> = timeline
        .runs()
        .iter()
        .map(|r| (r.1 - r.0) as f64 / 1000.0)
        .collect();
    (known_h > 0.0).then(|| RunStatistics {
        runs: lengths.len(),
        starts_per_hour: lengths.len() as f64 / known_h,
        on_h: lengths.iter().sum::<f64>().max(0.0) / 3600.0,
        longest_run_s: lengths.iter().copied().max_by(f64::total_cmp),
    })
}

fn hours(ms: i64) -> f64 {
    ms as f64 / 3_600_000.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn minutes(m: f64) -> i64 {
        (m * 60_000.0) as i64
    }

    /// IEC 60034-1 S3: duty = N/(N+R); 25 % of a 10 min cycle is 2.5 min on,
    /// 7.5 min off (formula and figures as printed in secondary texts).
    #[test]
    fn s3_quarter_duty() {
        let runs: Vec<_> = (0..5)
            .map(|i| {
                let at = minutes(10.0) * i;
                (at, at + minutes(2.5))
            })
            .collect();
        let t = Timeline::new(&runs, &[(0, minutes(50.0))]);
        // Watched from the rest before the first run on, no window has more.
        let watched = Timeline::new(&runs, &[(minutes(-7.5), minutes(50.0))]);
        let worst = worst_window(&watched, 600.0).expect("known");
        assert!((worst.percent().expect("known") - 25.0).abs() < 1e-9);
        let all = whole(&t).expect("known");
        assert!((all.percent().expect("known") - 25.0).abs() < 1e-9);
        let statistics = run_statistics(&t).expect("known");
        assert_eq!(statistics.runs, 5);
        assert_eq!(statistics.longest_run_s, Some(150.0));
        assert_eq!(run_statistics(&Timeline::default()), None);
    }

    /// DOE / Compressed Air Challenge: 8 min on, 48 min off is 14.2 % printed
    /// (14.2857); 7.5 min of 30 is 25 %.
    #[test]
    fn doe_examples() {
        let t = Timeline::new(&[(0, minutes(8.0))], &[(0, minutes(56.0))]);
        let all = whole(&t).and_then(|w| w.percent()).expect("known");
        assert!((all - 14.285_714).abs() < 1e-5);
        let t = Timeline::new(&[(0, minutes(7.5))], &[(0, minutes(30.0))]);
        let all = whole(&t).and_then(|w| w.percent()).expect("known");
        assert!((all - 25.0).abs() < 1e-9);
    }

    #[test]
    fn a_window_counts_only_the_part_inside() {
        let t = Timeline::new(&[(0, 100_000)], &[(0, 1_000_000)]);
        let w = t.window(50_000, 100_000);
        assert!((w.on_s - 50.0).abs() < 1e-9);
        assert!((w.percent().expect("known") - 50.0).abs() < 1e-9);
    }

    /// Every window to the second, tried by hand; invented timelines.
    #[test]
    fn no_window_is_worse_than_the_worst() {
        let second = |s: i64| 1000 * s;
        let spans = |raw: &[(i64, i64)]| -> Vec<(i64, i64)> {
            raw.iter().map(|r| (second(r.0), second(r.1))).collect()
        };
        for (runs, known) in [
            (vec![(380, 480)], vec![(0, 490)]),
            (
                vec![(40, 90), (130, 210), (330, 350)],
                vec![(0, 150), (190, 400), (430, 900)],
            ),
            (vec![(1380, 1480)], vec![(0, 1500)]),
            (vec![(700, 760)], vec![(0, 300), (310, 320), (500, 1200)]),
        ] {
            let t = Timeline::new(&spans(&runs), &spans(&known));
            let every = (-600..1600).map(|s| t.window(second(s), 600_000));
            let allowed = every.filter(|w| w.coverage() >= LEAST_COVERAGE);
            let most = allowed.filter_map(|w| w.percent()).fold(0.0, f64::max);
            let worst = worst_window(&t, 600.0).and_then(|w| w.percent());
            let worst = worst.expect("known");
            assert!((worst - most).abs() < 1e-9, "{worst} {most} {runs:?}");
        }
    }

    /// Invented: three minutes of running, then the power goes and nobody knows.
    #[test]
    fn what_is_not_known_exceeds_no_rating() {
        let t = Timeline::new(&[(0, minutes(3.0))], &[(0, minutes(8.0))]);
        let busiest = busiest_window(&t, 600.0).expect("a run");
        assert!((busiest.least_percent() - 30.0).abs() < 1e-9);
        let worst = worst_window(&t, 600.0).expect("80 % is known");
        assert!(worst.percent().expect("known") > 37.0);
        assert_eq!(busiest_window(&Timeline::default(), 600.0), None);
    }

    #[test]
    fn unknown_time_leaves_both_sides_and_shows_as_coverage() {
        // Ten minutes, half of them unknown; 60 s of running in the known half.
        let t = Timeline::new(&[(0, 60_000)], &[(0, 300_000)]);
        let w = t.window(0, 600_000);
        assert!((w.percent().expect("known") - 20.0).abs() < 1e-9);
        assert!((w.coverage() - 0.5).abs() < 1e-9);
        assert!(worst_window(&t, 600.0).is_none(), "too little is known");
    }
}
