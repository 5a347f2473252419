//! Time axes with ticks at round local times.

use jiff::{Timestamp, tz::TimeZone};

/// Milliseconds in a day.
const DAY_MS: i64 = 86_400_000;

/// Steps between ticks, ms; beyond the last one, whole multiples of it.
const STEPS_MS: [i64; 22] = [
    1_000,
    2_000,
    5_000,
    10_000,
    30_000,
    60_000,
    120_000,
    300_000,
    600_000,
    1_800_000,
    3_600_000,
    7_200_000,
    10_800_000,
    21_600_000,
    43_200_000,
    DAY_MS,
    2 * DAY_MS,
    3 * DAY_MS,
    4 * DAY_MS,
    7 * DAY_MS,
    14 * DAY_MS,
    28 * DAY_MS,
];

/// Offset from UTC, from a moment on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct OffsetFrom {
    /// From here on, Unix ms.
    pub(crate) from_unix_ms: i64,
    /// Local time minus UTC, ms.
    pub(crate) offset_ms: i64,
}

/// A labelled moment.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct TimeTick {
    /// When, Unix ms.
    pub(crate) t_unix_ms: i64,
    /// What to print.
    pub(crate) label: String,
}

/// The offsets of `zone` that hold between two moments, in order.
pub(crate) fn offsets(from_unix_ms: i64, to_unix_ms: i64, zone: &TimeZone) -> Vec<OffsetFrom> {
    let Ok(start) = Timestamp::from_millisecond(from_unix_ms) else {
        return vec![OffsetFrom {
            from_unix_ms,
            offset_ms: 0,
        }];
    };
    let first = OffsetFrom {
        from_unix_ms,
        offset_ms: i64::from(zone.to_offset(start).seconds()) * 1000,
    };
    let later = zone.following(start).map(|t| OffsetFrom {
        from_unix_ms: t.timestamp().as_millisecond(),
        offset_ms: i64::from(t.offset().seconds()) * 1000,
    });
    std::iter::once(first)
        .chain(later.take_while(|o| o.from_unix_ms < to_unix_ms))
        .collect()
}

/// At most `wanted` + 1 ticks at round local times.
pub(crate) fn ticks(
    from_unix_ms: i64,
    to_unix_ms: i64,
    zone: &TimeZone,
    wanted: usize,
) -> Vec<TimeTick> {
    let step = step_for(to_unix_ms - from_unix_ms, wanted);
    let mut out: Vec<TimeTick> = Vec::new();
    let offsets = offsets(from_unix_ms, to_unix_ms, zone);
    for (i, o) in offsets.iter().enumerate() {
        let end = offsets
            .get(i + 1)
            .map_or(to_unix_ms + 1, |n| n.from_unix_ms);
        let first_local = (o.from_unix_ms + o.offset_ms).div_euclid(step) * step;
        let mut t = first_local - o.offset_ms;
        while t < end && out.len() < 200 {
            if t >= o.from_unix_ms {
                out.push(TimeTick {
                    t_unix_ms: t,
                    label: label(t, zone, step),
                });
            }
            t += step;
        }
    }
    out
}

fn step_for(span_ms: i64, wanted: usize) -> i64 {
    let wanted = i64::try_from(wanted.max(1)).unwrap_or(1);
    let longest = STEPS_MS[STEPS_MS.len() - 1];
    STEPS_MS
        .into_iter()
        .find(|step| span_ms / step <= wanted)
        .unwrap_or_else(|| (span_ms / wanted / longest + 1) * longest)
}

/// `14 Mar` at midnight and for steps of a day, else the time of day.
fn label(t_unix_ms: i64, zone: &TimeZone, step_ms: i64) -> String {
    let Ok(t) = Timestamp::from_millisecond(t_unix_ms) else {
        return String::new();
    };
    let local = t.to_zoned_datetime(zone.clone());
    let midnight = local.hour() == 0 && local.minute() == 0 && local.second() == 0;
    let shape = match step_ms {
        s if s >= DAY_MS || midnight => "%-d %b",
        s if s < 60_000 => "%H:%M:%S",
        _ => "%H:%M",
    };
    local.strftime(shape).to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ms(text: &str) -> i64 {
        let t: Timestamp = text.parse().expect("a time");
        t.as_millisecond()
    }

    fn labels(from: &str, to: &str, zone: &str, wanted: usize) -> Vec<String> {
        let zone = TimeZone::get(zone).expect("bundled");
        ticks(ms(from), ms(to), &zone, wanted)
            .into_iter()
            .map(|t| t.label)
            .collect()
    }

    #[test]
    fn ticks_fall_on_local_hours_even_at_odd_offsets() {
        // Nepal is 5 h 45 min ahead of UTC (IANA time zone database).
        let got = labels(
            "2026-03-14T00:00:00Z",
            "2026-03-14T04:00:00Z",
            "Asia/Kathmandu",
            4,
        );
        assert_eq!(got, ["06:00", "07:00", "08:00", "09:00"]);
    }

    #[test]
    fn midnight_shows_the_date() {
        let got = labels("2026-03-14T18:00:00Z", "2026-03-15T06:00:00Z", "UTC", 4);
        assert_eq!(got, ["18:00", "21:00", "15 Mar", "03:00", "06:00"]);
    }

    #[test]
    fn midnights_stay_midnights_across_a_change_of_offset() {
        let got = labels(
            "2026-10-23T00:00:00Z",
            "2026-10-27T12:00:00Z",
            "Europe/Berlin",
            5,
        );
        assert_eq!(got, ["24 Oct", "25 Oct", "26 Oct", "27 Oct"]);
    }

    #[test]
    fn very_long_spans_keep_few_ticks() {
        let got = labels("2020-01-01T00:00:00Z", "2030-01-01T00:00:00Z", "UTC", 5);
        assert!((3..=6).contains(&got.len()), "{got:?}");
    }
}
