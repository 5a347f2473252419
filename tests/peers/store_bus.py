#!/usr/bin/env python3
"""What a capable technician would write to get a candump log into SQLite:
python-can reads the lines, cantools decodes them, a dictionary per 100 ms bin
takes the means, sqlite3 stores them. Same rows as `seepd replay` makes.

    python3 store_bus.py bus.candump.log box.dbc out.db
"""

import math
import sqlite3
import sys

import can
import cantools

# Signal of the database, column, step of the stored integer.
CHANNELS = [
    ("Tank", "tank_kpa_gauge", 0.05),
    ("FrontLeft", "front_left_kpa_gauge", 0.05),
    ("FrontRight", "front_right_kpa_gauge", 0.05),
    ("RearLeft", "rear_left_kpa_gauge", 0.05),
    ("RearRight", "rear_right_kpa_gauge", 0.05),
    ("FrontLeftHeight", "front_left_mm", 0.05),
    ("FrontRightHeight", "front_right_mm", 0.05),
    ("RearLeftHeight", "rear_left_mm", 0.05),
    ("RearRightHeight", "rear_right_mm", 0.05),
    ("Speed", "vehicle_kmh", 0.01),
    ("Outside", "ambient_c", 0.01),
    ("Compressor", "compressor_1_on", 0.01),
]
BIN_MS = 100
ROWS_PER_COMMIT = 20_000


def counted(mean, step):
    """The stored integer: halves go away from zero."""
    return int(math.copysign(math.floor(abs(mean / step) + 0.5), mean))


def frames(log):
    """python-can reads candump's log form; its console form it does not know."""
    with open(log, encoding="ascii") as lines:
        if not next(lines).startswith(" "):
            yield from can.CanutilsLogReader(log)
            return
        lines.seek(0)
        for line in lines:
            stamp, _, number, _, *data = line.split()
            yield can.Message(timestamp=float(stamp[1:-1]), arbitration_id=int(number, 16),
                              is_extended_id=len(number) > 3, data=bytes.fromhex("".join(data)))


def bins(log, dbc):
    """(time, {signal: [sum, count]}) for each bin, and the compressor's changes."""
    database = cantools.database.load_file(dbc)
    messages = {message.frame_id: message for message in database.messages}
    start, gathered = None, {}
    for frame in frames(log):
        message = messages.get(frame.arbitration_id)
        if message is None or frame.is_extended_id:
            continue
        t_ms = math.floor(round(frame.timestamp * 1e6) / 1000)
        key = t_ms // BIN_MS * BIN_MS
        if key != start:
            if gathered:
                yield start, gathered
            start, gathered = key, {}
        for name, value in message.decode(frame.data, decode_choices=False).items():
            entry = gathered.setdefault(name, [0.0, 0])
            entry[0] += value
            entry[1] += 1
    if gathered:
        yield start, gathered


def store(log, dbc, out):
    connection = sqlite3.connect(out)
    connection.execute("PRAGMA journal_mode = WAL")
    columns = ", ".join(f"{column} INTEGER" for _, column, _ in CHANNELS)
    connection.execute(f"CREATE TABLE tick (t_ms INTEGER PRIMARY KEY, {columns})")
    connection.execute("CREATE TABLE event (t_ms INTEGER, kind TEXT, place TEXT, state INTEGER)")
    insert = f"INSERT INTO tick VALUES ({', '.join('?' * (len(CHANNELS) + 1))})"
    rows, was_on = [], None
    for t_ms, gathered in bins(log, dbc):
        row = [t_ms]
        for name, _, step in CHANNELS:
            total, count = gathered.get(name, (0.0, 0))
            row.append(counted(total / count, step) if count else None)
        on = None if row[-1] is None else int(row[-1] > 50)
        if on is not None and on != was_on:
            connection.execute("INSERT INTO event VALUES (?, 'run', 'compressor_1', ?)", (t_ms, on))
            was_on = on
        rows.append(row)
        if len(rows) >= ROWS_PER_COMMIT:
            connection.executemany(insert, rows)
            connection.commit()
            rows.clear()
    connection.executemany(insert, rows)
    connection.commit()
    connection.close()


if __name__ == "__main__":
    store(*sys.argv[1:4])
