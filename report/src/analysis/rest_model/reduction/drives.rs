//! When the car was driven, by its speed or by how rough its readings are.

use super::super::super::segment::Busy;
use seep_common::tick::DRIVING_KMH;

/// Signs of driving closer together than this are one drive, ms.
const JOIN_MS: i64 = 60_000;

/// A drive begins this long before its first sign and ends this long after its
/// last, ms.
const BEFORE_MS: i64 = 2_000;
const AFTER_MS: i64 = 5_000;

/// Windows in which roughness is judged, ms.
const WINDOW_MS: i64 = 20_000;

/// Differences over more than this tell nothing of roughness, ms.
const FAR_MS: i64 = 5_000;

/// Differences needed in a window.
const FEWEST: u32 = 5;

/// Shortest stretch of rough readings that is a drive, ms.
const SHORTEST_MS: i64 = 20_000;

/// Readings of one corner channel and the mean difference between neighbours above
/// which it is rough, in its unit: 2.5 kPa or 2 mm. Common practice, no source.
#[derive(Debug, Clone, Copy)]
pub(super) struct Roughness<'a> {
    pub(super) values: &'a [f32],
    pub(super) limit: f32,
}

/// Drives by speed: readings above 3 km/h, joined over a minute.
pub(super) fn by_speed(t_ms: &[i64], kmh: &[f32]) -> Busy {
    let fast = t_ms
        .iter()
        .zip(kmh)
        .filter(|r| f64::from(*r.1) > DRIVING_KMH);
    joined(fast.map(|r| *r.0), 0)
}

/// Drives where no speed is recorded: windows of 20 s in which more than half of the
/// channels are rough.
pub(super) fn by_roughness(t_ms: &[i64], channels: &[Roughness]) -> Busy {
    let Some(&first_ms) = t_ms.first() else {
        return Busy::default();
    };
    let window = |t: i64| (t.div_euclid(WINDOW_MS) - first_ms.div_euclid(WINDOW_MS)) as usize;
    let windows = t_ms.last().map_or(0, |t| window(*t) + 1);
    let mut rough = vec![0_u16; windows];
    for channel in channels {
        let spoken = t_ms.iter().zip(channel.values).filter(|r| !r.1.is_nan());
        let mut last: Option<(i64, f32)> = None;
        let mut open = (0, 0.0_f32, 0_u32);
        let mut close = |open: (usize, f32, u32)| {
            if open.2 >= FEWEST && open.1 / open.2 as f32 > channel.limit {
                rough[open.0] += 1;
            }
        };
        for (&t, &value) in spoken {
            if let Some((before_ms, before)) = last
                && t - before_ms < FAR_MS
            {
                if open.0 != window(t) {
                    close(open);
                    open = (window(t), 0.0, 0);
                }
                open.1 += (value - before).abs();
                open.2 += 1;
            }
            last = Some((t, value));
        }
        close(open);
    }
    let is_rough = |t: &i64| 2 * usize::from(rough[window(*t)]) > channels.len();
    joined(t_ms.iter().copied().filter(is_rough), SHORTEST_MS)
}

fn joined(signs_ms: impl Iterator<Item = i64>, shortest_ms: i64) -> Busy {
    let mut spans: Vec<(i64, i64)> = Vec::new();
    for t in signs_ms {
        match spans.last_mut() {
            Some(last) if t - last.1 < JOIN_MS => last.1 = t,
            _ => spans.push((t, t)),
        }
    }
    spans.retain(|s| s.1 - s.0 > shortest_ms || shortest_ms == 0);
    Busy::new(spans.into_iter().map(|s| (s.0 - BEFORE_MS, s.1 + AFTER_MS)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stops_at_lights_do_not_end_a_drive() {
        let t: Vec<i64> = (0..400).map(|s| s * 1_000).collect();
        let kmh: Vec<f32> = (0..400)
            .map(|s| {
                if (100..150).contains(&s) || (200..210).contains(&s) {
                    40.0
                } else {
                    0.0
                }
            })
            .collect();
        assert_eq!(by_speed(&t, &kmh).spans(), [(98_000, 214_000)]);
        assert_eq!(by_speed(&[], &[]), Busy::default());
    }

    #[test]
    fn half_of_the_channels_must_be_rough() {
        let t: Vec<i64> = (0..1_200).map(|s| s * 500).collect();
        let quiet = vec![500.0_f32; t.len()];
        let road: Vec<f32> = (0..1_200_u16)
            .map(|i| {
                if (200..600).contains(&i) && i % 2 == 0 {
                    506.0
                } else {
                    500.0
                }
            })
            .collect();
        let of = |values: &[&[f32]]| {
            let channels: Vec<Roughness> = values
                .iter()
                .map(|values| Roughness { values, limit: 2.5 })
                .collect();
            by_roughness(&t, &channels)
        };
        let found = of(&[&road, &road, &quiet]);
        assert_eq!(found.spans().len(), 1);
        let (from, to) = found.spans()[0];
        assert!((95_000..105_000).contains(&from) && (295_000..310_000).contains(&to));
        assert_eq!(of(&[&road, &quiet]), Busy::default());
    }
}
