//! Times of readings in half the room, written as differences from one to the next in a
//! third of it.

use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// Times, ms: each as its distance from one that stands for many.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Times {
    /// From which time on another one stands, and it, ms.
    bases: Vec<(usize, i64)>,
    /// Distances, ms: up to seven weeks.
    since: Vec<u32>,
}

impl Times {
    pub(super) fn push(&mut self, t_ms: i64) {
        let since = self.bases.last().and_then(|b| t_ms.checked_sub(b.1));
        let since = since.and_then(|s| u32::try_from(s).ok());
        if since.is_none() {
            self.bases.push((self.since.len(), t_ms));
        }
        self.since.push(since.unwrap_or(0));
    }

    pub(super) fn is_empty(&self) -> bool {
        self.since.is_empty()
    }

    /// All of them as they were.
    pub(super) fn iter(&self) -> impl Iterator<Item = i64> {
        let ends = self.bases.iter().skip(1).map(|b| b.0);
        let ends = ends.chain([self.since.len()]);
        self.bases.iter().zip(ends).flat_map(|(&(from, base), to)| {
            let since = self.since[from..to].iter();
            since.map(move |s| base + i64::from(*s))
        })
    }
}

impl Extend<i64> for Times {
    fn extend<I: IntoIterator<Item = i64>>(&mut self, t_ms: I) {
        t_ms.into_iter().for_each(|t| self.push(t));
    }
}

impl Serialize for Times {
    fn serialize<S: Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        let mut last: i64 = 0;
        let steps = self.iter().map(|t| {
            let step = t.wrapping_sub(last);
            last = t;
            step
        });
        let steps: Vec<i64> = steps.collect();
        steps.serialize(out)
    }
}

impl<'de> Deserialize<'de> for Times {
    fn deserialize<D: Deserializer<'de>>(input: D) -> Result<Self, D::Error> {
        let mut out = Times::default();
        let mut last: i64 = 0;
        for step in Vec::<i64>::deserialize(input)? {
            last = last.wrapping_add(step);
            out.push(last);
        }
        Ok(out)
    }
}

#[cfg(test)]
mod tests {
    use super::Times;

    #[test]
    fn every_time_comes_back() {
        for t_ms in [
            vec![],
            vec![7],
            vec![1_790_000_000_000, 1_790_000_000_020, 1_789_999_999_000],
            vec![0, 4_294_967_295, 4_294_967_296, 4_294_967_297],
            vec![i64::MIN, i64::MAX, 0, i64::MIN],
        ] {
            let mut times = Times::default();
            times.extend(t_ms.iter().copied());
            assert!(times.iter().eq(t_ms.iter().copied()), "{t_ms:?}");
            let bytes = postcard::to_stdvec(&times).expect("written");
            let back: Times = postcard::from_bytes(&bytes).expect("read");
            assert_eq!(back, times);
        }
    }
}
