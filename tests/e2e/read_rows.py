"""Read an exported data set with DuckDB and polars and compare it with the log.

usage: read_rows.py DATA_SET_FOLDER ONE_FILE LOG
"""

import sqlite3
import sys

import duckdb
import polars

folder, one, log = sys.argv[1:]
database = sqlite3.connect(f"file:{log}?mode=ro", uri=True)
rows, first, last = database.execute("select count(*), min(t_ms), max(t_ms) from tick").fetchone()
tank, spoke = database.execute(
    "select sum(tank_kpa_gauge) * (select resolution from channel where name = 'tank_kpa_gauge'),"
    " count(tank_kpa_gauge) from tick"
).fetchone()
vehicle = "Blue coupe (invented)"
days = {
    day
    for (day,) in database.execute(
        "select distinct date((t_ms + (select offset_ms from clock where from_t_ms <= tick.t_ms"
        " order by noted_t_ms desc, id desc limit 1)) / 1000, 'unixepoch') from tick"
    )
}


def same(what, found, expected):
    ok = found == expected or (
        isinstance(expected, float) and abs(found - expected) <= 1e-9 * abs(expected)
    )
    print(("ok  " if ok else "BAD ") + what, found, expected)
    if not ok:
        sys.exit(1)


# DuckDB, with its own recognition of the folder names.
every = f"read_parquet('{folder}/**/*.parquet', hive_partitioning = true)"
got = duckdb.sql(
    f"select count(*), min(t_ms), max(t_ms), sum(tank_kpa_gauge), count(tank_kpa_gauge) from {every}"
).fetchall()[0]
same("duckdb rows", got[0], rows)
same("duckdb span", got[1:3], (first, last))
same("duckdb sum", got[3], tank)
same("duckdb readings", got[4], spoke)
got = duckdb.sql(f"select distinct vehicle, cast(day as varchar) from {every}").fetchall()
same("duckdb vehicle and days", {(v, d) for v, d in got}, {(vehicle, d) for d in days})
one_day = sorted(days)[1]
got = duckdb.sql(
    f"select count(*), count(*) filter (cast(utc at time zone 'UTC' as date) = date '{one_day}')"
    f" from {every} where day = '{one_day}'"
).fetchall()[0]
same("duckdb one day", got[0], got[1])

# polars, lazily over the folder.
table = polars.scan_parquet(folder, hive_partitioning=True, try_parse_hive_dates=False)
got = table.select(
    polars.len(), polars.col("tank_kpa_gauge").sum().alias("sum"), polars.col("utc").min().alias("from")
).collect()
same("polars rows", got["len"][0], rows)
same("polars sum", got["sum"][0], tank)
same("polars zone", str(table.collect_schema()["utc"]), "Datetime(time_unit='ms', time_zone='UTC')")
got = table.select("vehicle", "day").unique().collect()
same("polars vehicle and days", set(got.rows()), {(vehicle, d) for d in days})

# One file, both engines.
same("duckdb one file", duckdb.sql(f"select count(*) from '{one}'").fetchall()[0][0], rows)
same("polars one file", polars.read_parquet(one).height, rows)
