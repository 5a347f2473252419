//! Silences inside sessions that no gap row explains.

use rusqlite::Connection;

/// From and to, log time, ms.
type Span = (i64, i64);

/// The first `most` silences longer than `hole_ms` that lie inside a session and
/// that no gap row explains. One pass over ticks, gaps and sessions each.
///
/// The row before a silence starts the last tick, whose own length is far below
/// `hole_ms`. A gap row explains a silence when it covers more than half of it; a
/// row for one source explains it when nothing else was received.
///
/// # Errors
/// SQLite's errors.
pub(super) fn unexplained(
    connection: &Connection,
    hole_ms: i64,
    most: usize,
) -> rusqlite::Result<Vec<Span>> {
    let silences = spans(
        connection,
        &format!(
            "SELECT before, t_ms FROM
               (SELECT t_ms, lag(t_ms) OVER (ORDER BY t_ms) AS before FROM tick)
             WHERE t_ms - before > {hole_ms} ORDER BY before"
        ),
    )?;
    let gaps = Gaps::new(spans(
        connection,
        "SELECT from_t_ms, to_t_ms FROM gap ORDER BY from_t_ms",
    )?);
    let starts: Vec<i64> = connection
        .prepare("SELECT start_t_ms FROM session ORDER BY start_t_ms")?
        .query_map([], |row| row.get(0))?
        .collect::<rusqlite::Result<_>>()?;
    let begins_session = |(before, t_ms): Span| {
        let after = starts.partition_point(|start| *start <= before);
        starts.get(after).is_some_and(|start| *start <= t_ms)
    };
    Ok(silences
        .into_iter()
        .filter(|silence| !begins_session(*silence) && !gaps.explain(*silence))
        .take(most)
        .collect())
}

fn spans(connection: &Connection, sql: &str) -> rusqlite::Result<Vec<Span>> {
    connection
        .prepare(sql)?
        .query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?
        .collect()
}

/// Gaps by their beginning, and the latest end among each and all before it.
struct Gaps {
    spans: Vec<Span>,
    latest_end: Vec<i64>,
}

impl Gaps {
    fn new(spans: Vec<Span>) -> Self {
        let mut latest = i64::MIN;
        let ends = spans.iter().map(|span| {
            latest = latest.max(span.1);
            latest
        });
        let latest_end = ends.collect();
        Gaps { spans, latest_end }
    }

    fn explain(&self, (before, t_ms): Span) -> bool {
        let half = t_ms.saturating_sub(before) / 2;
        let until = self.spans.partition_point(|span| span.0 < t_ms);
        (0..until)
            .rev()
            .take_while(|i| self.latest_end[*i] > before)
            .any(|i| {
                let (from, to) = self.spans[i];
                to.min(t_ms).saturating_sub(from.max(before)) > half
            })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gap_explains_what_it_covers_for_the_most_part() {
        let gaps = Gaps::new(vec![(0, 1_000_000), (10, 20), (100, 160), (200, 210)]);
        assert!(gaps.explain((500, 600)), "the long one reaches far");
        let gaps = Gaps::new(vec![(10, 20), (100, 160), (200, 210)]);
        assert!(gaps.explain((100, 200)));
        assert!(!gaps.explain((100, 230)));
        assert!(!gaps.explain((300, 400)));
        assert!(!gaps.explain((-50, 5)));
    }
}
