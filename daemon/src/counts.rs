//! Everything counted, by source: each bad or dropped item leaves a number here,
//! and each number reaches the log.

use seep_common::store::Counter;
use seep_common::time::BootMs;

/// What is counted. The word goes into the log and the summary.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Count {
    /// Readings that reached a tick.
    Readings,
    /// Table rows read.
    TableRows,
    /// Lines or rows that could not be read.
    BadLines,
    /// Lines longer than any real one; skipped.
    LongLines,
    /// Last lines without an end; they may be cut anywhere, so they are not read.
    CutLines,
    /// Times that could not be read.
    BadTimes,
    /// Items before the first time in an input.
    BeforeFirstTime,
    /// Single items whose time stands apart; kept at the time of their neighbours.
    TimeGlitches,
    /// Steps back of an input's clock.
    StepsBack,
    /// Readings too late for any tick; not stored.
    Late,
    /// Fields that are no number.
    BadNumbers,
    /// Readings outside the channel's range; not stored.
    OutOfRange,
    /// The sensor says: not available.
    NotAvailable,
    /// Frames of an interface that is no source of the rig.
    OtherInterfaces,
}

impl Count {
    /// Every kind, in the order of the summary.
    pub const ALL: [Count; 14] = [
        Count::Readings,
        Count::TableRows,
        Count::BadLines,
        Count::LongLines,
        Count::CutLines,
        Count::BadTimes,
        Count::BeforeFirstTime,
        Count::TimeGlitches,
        Count::StepsBack,
        Count::Late,
        Count::BadNumbers,
        Count::OutOfRange,
        Count::NotAvailable,
        Count::OtherInterfaces,
    ];

    /// The word for it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Count::Readings => "readings",
            Count::TableRows => "table rows",
            Count::BadLines => "bad lines",
            Count::LongLines => "overlong lines",
            Count::CutLines => "cut lines",
            Count::BadTimes => "bad times",
            Count::BeforeFirstTime => "before the first time",
            Count::TimeGlitches => "time glitches",
            Count::StepsBack => "clock steps back",
            Count::Late => "too late",
            Count::BadNumbers => "bad numbers",
            Count::OutOfRange => "out of range",
            Count::NotAvailable => "not available",
            Count::OtherInterfaces => "frames of other interfaces",
        }
    }

    /// True for counts of work done, false for counts of trouble.
    #[must_use]
    pub fn is_volume(self) -> bool {
        matches!(self, Count::Readings | Count::TableRows)
    }
}

/// Counts by source, since the last time they were drained and in all.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Counts {
    fresh: Vec<[u64; Count::ALL.len()]>,
    total: Vec<[u64; Count::ALL.len()]>,
    /// What codecs count themselves: by source and name, handed over and total.
    told: std::collections::BTreeMap<(usize, &'static str), (u64, u64)>,
}

impl Counts {
    /// Nothing counted yet, for so many sources.
    #[must_use]
    pub fn new(sources: usize) -> Self {
        Counts {
            fresh: vec![[0; Count::ALL.len()]; sources],
            total: vec![[0; Count::ALL.len()]; sources],
            told: std::collections::BTreeMap::new(),
        }
    }

    /// One more of a kind.
    pub fn one(&mut self, source: usize, kind: Count) {
        self.fresh[source][kind as usize] += 1;
    }

    /// So many more of a kind.
    pub fn add(&mut self, source: usize, kind: Count, n: u64) {
        self.fresh[source][kind as usize] += n;
    }

    /// Counted in all, drained or not.
    #[must_use]
    pub fn total(&self, source: usize, kind: Count) -> u64 {
        self.total[source][kind as usize] + self.fresh[source][kind as usize]
    }

    /// Counted in all over every source.
    #[must_use]
    pub fn sum(&self, kind: Count) -> u64 {
        (0..self.fresh.len()).map(|s| self.total(s, kind)).sum()
    }

    /// Take over totals that a codec counts itself.
    pub fn tell(&mut self, source: usize, totals: impl IntoIterator<Item = (&'static str, u64)>) {
        for (name, total) in totals {
            if total > 0 {
                self.told.entry((source, name)).or_default().1 = total;
            }
        }
    }

    /// What codecs told, by name: totals over all sources.
    #[must_use]
    pub fn told(&self) -> std::collections::BTreeMap<&'static str, u64> {
        let mut out = std::collections::BTreeMap::new();
        for ((_, name), (_, total)) in &self.told {
            *out.entry(*name).or_default() += total;
        }
        out
    }

    /// What was lost or refused, in words, for the summary of a replay.
    pub(crate) fn troubles(&self) -> Vec<String> {
        let own = Count::ALL.iter().filter(|k| !k.is_volume());
        let own = own.map(|k| (self.sum(*k), k.word().to_string()));
        let of_codecs = self.told().into_iter();
        let of_codecs = of_codecs.map(|(name, n)| (n, name.replace('_', " ")));
        own.filter(|(n, _)| *n > 0)
            .chain(of_codecs.filter(|(_, name)| !Counter::is_work(name)))
            .map(|(n, name)| format!("{n} {name}"))
            .collect()
    }

    /// Rows for what was counted since the last drain.
    pub fn drain(
        &mut self,
        t_ms: BootMs,
        sources: &[seep_common::rig::Source],
    ) -> Vec<Counter<BootMs>> {
        let mut rows = Vec::new();
        for (s, source) in sources.iter().enumerate() {
            for kind in Count::ALL {
                let n = std::mem::take(&mut self.fresh[s][kind as usize]);
                if n > 0 {
                    self.total[s][kind as usize] += n;
                    rows.push(Counter {
                        t_ms,
                        name: kind.word().into(),
                        source: source.name.clone(),
                        count: i64::try_from(n).unwrap_or(i64::MAX),
                    });
                }
            }
        }
        for ((s, name), (handed_over, total)) in &mut self.told {
            let n = *total - std::mem::replace(handed_over, *total);
            if n > 0
                && let Some(source) = sources.get(*s)
            {
                rows.push(Counter {
                    t_ms,
                    name: name.replace('_', " "),
                    source: source.name.clone(),
                    count: i64::try_from(n).unwrap_or(i64::MAX),
                });
            }
        }
        rows
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use seep_common::rig::Rig;

    #[test]
    fn the_list_is_in_the_order_of_the_numbers_and_words_are_unique() {
        for (i, kind) in Count::ALL.iter().enumerate() {
            assert_eq!(i, *kind as usize);
        }
        let words: std::collections::BTreeSet<_> = Count::ALL.iter().map(|k| k.word()).collect();
        assert_eq!(words.len(), Count::ALL.len());
    }

    #[test]
    fn draining_keeps_the_total() {
        let rig = Rig::parse("[vehicle]\nname=\"x\"\n[[source]]\nname=\"box\"\nkind=\"nmea\"\n")
            .expect("valid");
        let mut counts = Counts::new(1);
        counts.add(0, Count::BadLines, 3);
        let rows = counts.drain(BootMs(7), &rig.sources);
        assert_eq!((rows.len(), rows[0].count, rows[0].t_ms), (1, 3, BootMs(7)));
        assert!(counts.drain(BootMs(8), &rig.sources).is_empty());
        counts.one(0, Count::BadLines);
        assert_eq!(counts.total(0, Count::BadLines), 4);
    }
}
