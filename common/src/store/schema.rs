//! The schema of a log: every table, and the steps from older versions.

/// Application id in the file header: `SEEP` in ASCII.
pub const APPLICATION_ID: i64 = 0x5345_4550;

/// Newest schema version this program writes.
pub const SCHEMA_VERSION: i64 = 3;

/// Steps from version n to n+1; step 0 creates an empty log.
///
/// Never change a released step; add one.
pub(super) const STEPS: [&str; SCHEMA_VERSION as usize] =
    [STEP_0_CREATE, STEP_1_LIVE, STEP_2_NOTES];

/// Every table of a log with the version it came with, parents before children.
const TABLES: [(&str, i64); 10] = [
    ("rig", 1),
    ("session", 1),
    ("clock", 1),
    ("channel", 1),
    ("tick", 1),
    ("event", 1),
    ("gap", 1),
    ("counter", 1),
    ("notice", 2),
    ("note", 3),
];

/// The tables of a log of one version.
pub(super) fn tables(version: i64) -> impl Iterator<Item = &'static str> {
    TABLES.iter().filter(move |t| t.1 <= version).map(|t| t.0)
}

const STEP_0_CREATE: &str = "
-- The vehicle and its wiring as recorded, whole.
CREATE TABLE rig (
    id       INTEGER PRIMARY KEY,
    sha256   TEXT NOT NULL UNIQUE,
    toml     TEXT NOT NULL
);
-- One continuous stretch of recording. Ordered by id, never by date.
CREATE TABLE session (
    id          INTEGER PRIMARY KEY,
    boot_id     TEXT NOT NULL,
    start_t_ms  INTEGER NOT NULL,
    end_t_ms    INTEGER,            -- NULL: running, or power was lost
    end_reason  TEXT,
    program     TEXT NOT NULL,
    origin      TEXT NOT NULL,
    rig_id      INTEGER NOT NULL REFERENCES rig(id),
    protected   INTEGER NOT NULL DEFAULT 0
);
-- From from_t_ms on, wall time = t_ms + offset_ms. Rows are only added; for a
-- t_ms the row noted last among those with from_t_ms <= t_ms holds.
CREATE TABLE clock (
    id          INTEGER PRIMARY KEY,
    session_id  INTEGER NOT NULL REFERENCES session(id),
    noted_t_ms  INTEGER NOT NULL,
    from_t_ms   INTEGER NOT NULL,
    offset_ms   INTEGER NOT NULL,
    state       TEXT NOT NULL       -- synced, unsynced, stepped, as recorded
);
-- What each column of tick means: value = count * resolution, in unit.
CREATE TABLE channel (
    id          INTEGER PRIMARY KEY,
    name        TEXT NOT NULL,
    column_name TEXT NOT NULL UNIQUE,
    unit        TEXT NOT NULL,
    resolution  REAL NOT NULL,
    range_low   REAL NOT NULL,
    range_high  REAL NOT NULL,
    source      TEXT NOT NULL,
    decode      TEXT NOT NULL
);
-- One row per tick: the mean of what arrived from t_ms until the next row.
-- One column per channel is added when a session first uses it. NULL: silent.
CREATE TABLE tick (
    t_ms INTEGER PRIMARY KEY
);
-- Valves and compressors: state is 1 open/running, 0 closed/stopped.
CREATE TABLE event (
    id     INTEGER PRIMARY KEY,
    t_ms   INTEGER NOT NULL,
    kind   TEXT NOT NULL,           -- fill, dump, run
    place  TEXT NOT NULL,
    state  INTEGER NOT NULL,
    wired  INTEGER NOT NULL         -- 1 wired, 0 inferred from pressures
);
-- Stretches without data, and why.
CREATE TABLE gap (
    id        INTEGER PRIMARY KEY,
    from_t_ms INTEGER NOT NULL,
    to_t_ms   INTEGER NOT NULL,
    cause     TEXT NOT NULL,
    what      TEXT                  -- channel or source; NULL: all
);
-- Things counted since the previous row of the same name and source.
CREATE TABLE counter (
    id     INTEGER PRIMARY KEY,
    t_ms   INTEGER NOT NULL,
    name   TEXT NOT NULL,
    source TEXT NOT NULL,
    count  INTEGER NOT NULL
);
";

/// What a live recorder knows beyond a replay.
const STEP_1_LIVE: &str = "
-- CLOCK_BOOTTIME at start_t_ms, so that sessions of one boot share one time
-- scale; NULL for a replay.
ALTER TABLE session ADD COLUMN start_boot_ms INTEGER;
-- Things worth knowing that are neither a reading nor a switch: a bus changed
-- state, a rig was reloaded, storing failed. The recorder's own log is often in
-- memory and gone after the ignition is off; these rows stay.
CREATE TABLE notice (
    id     INTEGER PRIMARY KEY,
    t_ms   INTEGER NOT NULL,
    source TEXT,                    -- NULL: the recorder itself
    text   TEXT NOT NULL
);
";

/// What a person adds.
const STEP_2_NOTES: &str = "
-- Readings taken by hand and free text. Dated in wall time, as people date them: a
-- correction of the clock table does not move them.
CREATE TABLE note (
    id            INTEGER PRIMARY KEY,
    at_unix_ms    INTEGER NOT NULL, -- what it is about
    noted_unix_ms INTEGER NOT NULL, -- when it was entered
    name          TEXT,             -- channel, or odometer_km; NULL: words alone
    value         REAL,             -- in the unit that the name ends in
    error         REAL,             -- standard error, same unit
    text          TEXT NOT NULL
);
";

/// The `reading` view: scaled values and wall time, for people with any SQLite client.
pub(super) fn reading_view(channels: &[(String, String, f64)]) -> String {
    let columns: String = channels
        .iter()
        .map(|(name, column, resolution)| {
            format!(
                ",\n  round(tick.{} * {resolution:?}, 6) AS {}",
                quoted(column),
                quoted(if column == name { name } else { column })
            )
        })
        .collect();
    format!(
        "DROP VIEW IF EXISTS reading;
CREATE VIEW reading AS SELECT tick.t_ms,
  strftime('%Y-%m-%d %H:%M:%f', (tick.t_ms + (
    SELECT offset_ms FROM clock WHERE clock.from_t_ms <= tick.t_ms
    ORDER BY noted_t_ms DESC, id DESC LIMIT 1)) / 1000.0, 'unixepoch') AS utc{columns}
FROM tick;"
    )
}

/// An SQL identifier, quoted.
pub(super) fn quoted(name: &str) -> String {
    format!("\"{}\"", name.replace('"', "\"\""))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quoting_survives_quotes() {
        assert_eq!(quoted("a\"b"), "\"a\"\"b\"");
    }

    #[test]
    fn the_id_spells_seep() {
        assert_eq!(
            u32::try_from(APPLICATION_ID).map(u32::to_be_bytes),
            Ok(*b"SEEP")
        );
    }
}
