#!/usr/bin/env python3
"""What a capable technician would write to get a table of readings into SQLite: pandas reads
it, takes the means of 100 ms and writes the rows. Same rows as `seepd replay` makes.

    python3 store_table.py table.csv out.db
"""

import sqlite3
import sys

import numpy
import pandas

BIN_MS = 100


def step(column):
    """Step of the stored integer."""
    return 0.05 if column.endswith(("_kpa_gauge", "_mm")) else 0.01


def store(table, out):
    readings = pandas.read_csv(table)
    means = readings.groupby(readings.pop("unix_ms") // BIN_MS * BIN_MS).mean()
    steps = means / [step(column) for column in means.columns]
    # Halves go away from zero.
    counted = (numpy.sign(steps) * numpy.floor(steps.abs() + 0.5)).astype("int64")
    counted.index.name = "t_ms"
    on = counted["compressor_1_on"] > 50
    changes = on[on != on.shift()].astype("int64")
    connection = sqlite3.connect(out)
    connection.execute("PRAGMA journal_mode = WAL")
    columns = ", ".join(f"{column} INTEGER" for column in counted.columns)
    connection.execute(f"CREATE TABLE tick (t_ms INTEGER PRIMARY KEY, {columns})")
    connection.execute("CREATE TABLE event (t_ms INTEGER, kind TEXT, place TEXT, state INTEGER)")
    counted.to_sql("tick", connection, if_exists="append", chunksize=20_000)
    rows = [(int(t_ms), "run", "compressor_1", int(state)) for t_ms, state in changes.items()]
    connection.executemany("INSERT INTO event VALUES (?, ?, ?, ?)", rows)
    connection.commit()
    connection.close()


if __name__ == "__main__":
    store(*sys.argv[1:3])
