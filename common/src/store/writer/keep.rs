//! Retention: the oldest sessions go first, never the current one, never one
//! that is protected, and what went is written down.

use super::super::StoreError;
use super::super::cause::DELETED;
use super::super::error::Doing;
use super::super::rows::{ClockState, SessionId};
use super::Writer;
use crate::time::{LogMs, WallMs};
use rusqlite::params;

/// Rows deleted in one transaction: small, so that a commit of readings never
/// waits long.
const ROWS_PER_STEP: i64 = 20_000;

/// Pages handed back to the file system in one go.
const PAGES_PER_STEP: i64 = 4_096;

/// A session that could be deleted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Oldest {
    /// Which.
    pub id: SessionId,
    /// Its first log time, ms.
    pub from_t_ms: LogMs,
    /// Its last log time, ms.
    pub end_t_ms: LogMs,
    /// The first log time of the session after it, ms.
    pub to_t_ms: LogMs,
    /// Wall time by which it had ended, ms since 1970 UTC: its own end, or that
    /// of the next session whose clock can be trusted. `None` when no date of
    /// it or after it is known.
    pub over_by_wall_ms: Option<WallMs>,
}

impl Writer {
    /// The oldest session that still has readings and may be deleted: ended,
    /// not protected, not `current`.
    ///
    /// # Errors
    /// SQLite's errors.
    pub fn oldest_deletable(&self, current: SessionId) -> Result<Option<Oldest>, StoreError> {
        let mut statement = self
            .connection
            .prepare(
                "SELECT s.id, s.start_t_ms, s.end_t_ms,
                   (SELECT n.start_t_ms FROM session n WHERE n.id > s.id ORDER BY n.id LIMIT 1) AS next_t_ms,
                   (SELECT e.end_t_ms + c.offset_ms FROM session e
                      JOIN clock c ON c.id =
                        (SELECT id FROM clock WHERE from_t_ms <= e.end_t_ms
                         ORDER BY noted_t_ms DESC, id DESC LIMIT 1)
                    WHERE e.id >= s.id AND e.id < ?1 AND c.state <> ?2
                    ORDER BY e.id LIMIT 1) AS over_by_wall_ms
                 FROM session s
                 WHERE s.id < ?1 AND s.protected = 0 AND s.end_t_ms IS NOT NULL
                   AND EXISTS (SELECT 1 FROM tick
                     WHERE t_ms >= s.start_t_ms AND t_ms <= s.end_t_ms)
                 ORDER BY s.id LIMIT 1",
            )
            .doing(&self.path, "looking for the oldest session")?;
        let mut rows = statement
            .query_map(params![current.0, ClockState::Unsynced.word()], |row| {
                Ok(Oldest {
                    id: SessionId(row.get(0)?),
                    from_t_ms: row.get(1)?,
                    end_t_ms: row.get(2)?,
                    to_t_ms: row.get(3)?,
                    over_by_wall_ms: row.get(4)?,
                })
            })
            .doing(&self.path, "looking for the oldest session")?;
        rows.next()
            .transpose()
            .doing(&self.path, "looking for the oldest session")
    }

    /// Space that deleting every old session would free, bytes, as estimated from
    /// the share of rows in them.
    ///
    /// # Errors
    /// SQLite's errors.
    pub fn deletable_bytes(&self, current: SessionId) -> Result<u64, StoreError> {
        let number = |sql: &str| -> Result<f64, StoreError> {
            self.connection
                .query_row(sql, [], |row| row.get::<_, i64>(0))
                .map(|n| n as f64)
                .doing(&self.path, "estimating what can be deleted")
        };
        let old: i64 = self
            .connection
            .query_row(
                "SELECT coalesce(sum((SELECT count(*) FROM tick
                   WHERE t_ms >= s.start_t_ms AND t_ms <= s.end_t_ms)), 0)
                 FROM session s
                 WHERE s.id < ?1 AND s.protected = 0 AND s.end_t_ms IS NOT NULL",
                [current.0],
                |row| row.get(0),
            )
            .doing(&self.path, "estimating what can be deleted")?;
        let all = number("SELECT count(*) FROM tick")?;
        let page = number("PRAGMA page_size")?;
        let unused = number("PRAGMA freelist_count")?;
        let used = number("PRAGMA page_count")? - unused;
        let share = if all > 0.0 { old as f64 / all } else { 0.0 };
        Ok(((used * share + unused) * page) as u64)
    }

    /// Delete the readings of a session in small transactions and give the
    /// space back; returns how many rows went. Its row and its clock stay, and
    /// a gap tells what went.
    ///
    /// # Errors
    /// SQLite's errors; what was deleted until then stays deleted.
    pub fn delete_readings(&mut self, session: Oldest) -> Result<u64, StoreError> {
        let doing = "deleting an old session";
        let span = params![session.from_t_ms, session.to_t_ms];
        self.connection
            .execute(
                "INSERT INTO gap(from_t_ms, to_t_ms, cause, what)
                 SELECT ?1, ?2, ?3, NULL WHERE NOT EXISTS
                   (SELECT 1 FROM gap WHERE from_t_ms = ?1 AND to_t_ms = ?2 AND cause = ?3)",
                params![session.from_t_ms, session.end_t_ms, DELETED],
            )
            .doing(&self.path, doing)?;
        let step = format!(
            "DELETE FROM tick WHERE t_ms IN
               (SELECT t_ms FROM tick WHERE t_ms >= ?1 AND t_ms < ?2 LIMIT {ROWS_PER_STEP})"
        );
        let mut deleted = 0;
        loop {
            let rows = self.connection.execute(&step, span);
            let rows = rows.doing(&self.path, doing)?;
            if rows == 0 {
                break;
            }
            deleted += rows as u64;
        }
        for table in ["event", "counter", "notice"] {
            let sql = format!("DELETE FROM {table} WHERE t_ms >= ?1 AND t_ms < ?2");
            self.connection
                .execute(&sql, span)
                .doing(&self.path, doing)?;
        }
        self.vacuum(doing)?;
        Ok(deleted)
    }

    /// Hand space that a deletion freed back to the file system; false when a
    /// reader is in the way: the file gets shorter only by a checkpoint, and a
    /// checkpoint ends where the oldest reader still looks.
    ///
    /// # Errors
    /// SQLite's errors.
    pub fn give_back(&mut self) -> Result<bool, StoreError> {
        let doing = "giving space back";
        self.expect_shorter();
        self.vacuum(doing)?;
        // A reader is not waited for: readings are.
        let wait = |time| self.connection.busy_timeout(time).doing(&self.path, doing);
        wait(std::time::Duration::ZERO)?;
        let busy = self
            .connection
            .query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |row| {
                row.get::<_, i64>(0)
            })
            .doing(&self.path, doing);
        wait(self.patience)?;
        Ok(busy? == 0)
    }

    fn vacuum(&mut self, doing: &'static str) -> Result<(), StoreError> {
        self.expect_shorter();
        let mut statement = self
            .connection
            .prepare(&format!("PRAGMA incremental_vacuum({PAGES_PER_STEP})"))
            .doing(&self.path, doing)?;
        loop {
            // The pragma frees one page per step of the statement.
            let mut rows = statement.query([]).doing(&self.path, doing)?;
            while rows.next().doing(&self.path, doing)?.is_some() {}
            drop(rows);
            let free: i64 = self
                .connection
                .query_row("PRAGMA freelist_count", [], |row| row.get(0))
                .doing(&self.path, doing)?;
            let automatic: i64 = self
                .connection
                .query_row("PRAGMA auto_vacuum", [], |row| row.get(0))
                .doing(&self.path, doing)?;
            // A file made without incremental vacuum keeps its free pages for itself.
            if free == 0 || automatic != 2 {
                return Ok(());
            }
        }
    }
}
