#!/usr/bin/env python3
"""seep against a script of general-purpose libraries, both in one go on the
same machine, pair by pair, so that whatever else the machine does weighs on
both. First the answers are compared, then the ratios are printed. Nothing here
is a test of time: no ratio makes it fail, a different answer does.
"""

import argparse
import importlib.metadata
import json
import os
import pathlib
import sqlite3
import statistics
import subprocess
import sys

from timed import medians, timed

HERE = pathlib.Path(__file__).parent
LIBRARIES = ["python-can", "cantools", "numpy", "pandas", "scipy"]


def remove(path):
    for end in ["", "-wal", "-shm", "-journal"]:
        pathlib.Path(f"{path}{end}").unlink(missing_ok=True)


def pairs(ours, theirs, times):
    """Run the two by turns: (medians of ours, of theirs, median ratio of cpu, of wall)."""
    ours, theirs = zip(*[(ours(), theirs()) for _ in range(times)])
    ratio = lambda kind: statistics.median(getattr(t, kind) / max(getattr(o, kind), 1e-3) for o, t in zip(ours, theirs))
    return medians(ours), medians(theirs), ratio("cpu_s"), ratio("wall_s")


def told(what, result):
    ours, theirs, cpu, wall = result
    print(f"{what:34} {ours.cpu_s:8.3f} s {theirs.cpu_s:8.3f} s {cpu:7.1f} {wall:7.1f}"
          f" {ours.peak_mb:7.0f} MB {theirs.peak_mb:7.0f} MB {theirs.peak_mb / ours.peak_mb:6.1f}")


def same_rows(ours, theirs):
    """The two stores hold the same rows."""
    a, b = sqlite3.connect(ours), sqlite3.connect(theirs)
    columns = [row[1] for row in b.execute("PRAGMA table_info(tick)")][1:]
    names = dict(a.execute("SELECT name, column_name FROM channel"))
    select = f"SELECT t_ms, {', '.join(names[c] for c in columns)} FROM tick ORDER BY t_ms"
    a, b = list(a.execute(select)), list(b.execute("SELECT * FROM tick ORDER BY t_ms"))
    differing = sum(x != y for x, y in zip(a, b)) + abs(len(a) - len(b))
    if differing or not a:
        sys.exit(f"replay and script differ in {differing} of {len(a)} rows")
    print(f"same answers: all {len(a)} rows of the bus log")


def replay(given, work):
    log = work / "bus.candump.log"
    if not log.exists():
        timed([sys.executable, HERE / "bus/make.py", "--frames", given.frames, "--out", log])
    ours_db, theirs_db = work / "ours.db", work / "theirs.db"

    def ours():
        remove(ours_db)
        return timed([given.seepd, "replay", "--rig", HERE / "bus/rig.toml", "--log", ours_db, log])

    def theirs():
        remove(theirs_db)
        return timed([sys.executable, HERE / "store_bus.py", log, HERE / "bus/box.dbc", theirs_db])

    result = pairs(ours, theirs, given.pairs)
    same_rows(ours_db, theirs_db)
    return result


def number(cell):
    return cell["value"] if cell["type"] == "number" else None


def same_verdicts(report, script):
    """Leaks within the report's own interval, duty and runs to the digit shown."""
    tables = {t["id"]: t["rows"] for s in report["sections"] for t in s["tables"]}
    wrong = []
    for place, loss in script["leaks"].items():
        row = next(r for r in tables["leaks"] if r[0]["text"] == place.replace("_", " "))
        low, high = row[2]["low"], row[2]["high"]
        # A tenth of a kPa an hour beside the interval: the two cut rests apart differently.
        if not (low is None or loss >= low - 0.1) or not loss <= high + 0.1:
            wrong.append(f"{place}: {loss:.3f} kPa/h against {low}..{high}")
    duty = tables["duty-compressor_1"]
    runs = number(tables["runs-compressor_1"][0][1])
    for what, ours, theirs, within in [
        ("runs", runs, script["runs"], 0),
        ("duty, %", number(duty[-1][2]), script["duty"], 0.1),
        ("worst ten minutes, %", number(duty[0][2]), script["worst"], 0.5),
    ]:
        if abs(ours - theirs) > within:
            wrong.append(f"{what}: {ours} against {theirs}")
    if wrong:
        sys.exit("report and script differ: " + "; ".join(wrong))
    print("same answers: leaks of five volumes, runs, duty, worst ten minutes")


def month_log(given, work, days):
    log = work / f"days-{days}.db"
    if not log.exists():
        timed([given.peer_logs, "--days", days, "--out", log])
    return log


def month(given, work):
    log = month_log(given, work, 30)
    ours = lambda: timed([given.seep, "trip", "--log", log, "--format", "json"])
    theirs = lambda: timed([sys.executable, HERE / "month.py", log])
    result = pairs(ours, theirs, given.pairs)
    same_verdicts(json.loads(result[0].out), json.loads(result[1].out))
    return result


SCAN = """import sqlite3, sys
c = sqlite3.connect(f"file:{sys.argv[1]}?mode=ro&immutable=1", uri=True)
names = [r[1] for r in c.execute("PRAGMA table_info(tick)")]
# total(), not sum(): the times of some months together exceed 64 bits.
print(c.execute("SELECT " + ", ".join(f"total({n})" for n in names) + " FROM tick").fetchone())
"""


def growth(given, work):
    """Processor time and memory over one, three and twelve months."""
    print("\n             rows   report cpu   per 1M rows   report peak   bare scan cpu   report/scan")
    for days in given.growth:
        log = month_log(given, work, days)
        rows = sqlite3.connect(log).execute("SELECT count(*) FROM tick").fetchone()[0]
        scan, trip = [], []
        for _ in range(3):
            scan.append(timed([sys.executable, "-c", SCAN, log]))
            trip.append(timed([given.seep, "trip", "--log", log, "--format", "json"]))
        scan, trip = medians(scan), medians(trip)
        print(f"{days:4} days {rows:10,} {trip.cpu_s:10.2f} s {trip.cpu_s / rows * 1e6:11.2f} s"
              f" {trip.peak_mb:10.0f} MB {scan.cpu_s:13.2f} s {trip.cpu_s / scan.cpu_s:11.1f}")


def main():
    arguments = argparse.ArgumentParser(description=__doc__)
    for program in ["seepd", "seep", "peer-logs"]:
        arguments.add_argument(f"--{program}", required=True)
    arguments.add_argument("--work", required=True, type=pathlib.Path)
    arguments.add_argument("--pairs", type=int, default=5)
    arguments.add_argument("--frames", type=int, default=240_000)
    arguments.add_argument("--growth", type=int, nargs="*", default=[], metavar="DAYS")
    arguments.add_argument("--only", choices=["replay", "month", "growth"])
    given = arguments.parse_args()
    given.work.mkdir(parents=True, exist_ok=True)
    print("python", sys.version.split()[0], *[f"{n} {importlib.metadata.version(n)}" for n in LIBRARIES], sep=", ")
    print(f"{os.cpu_count()} processors, load {os.getloadavg()[0]:.1f}; {given.seep}; invented data")
    results = []
    if given.only in (None, "replay"):
        results.append((f"replay of {given.frames:,} frames", replay(given, given.work)))
    if given.only in (None, "month"):
        results.append(("30 days: load, fit, judge", month(given, given.work)))
    if results:
        print(f"\nmedian of {given.pairs} pairs                seep cpu  script cpu   ratio  (wall) seep peak script peak  ratio")
    for what, result in results:
        told(what, result)
        if what.startswith("replay"):
            print(f"    {given.frames / result[0].cpu_s / 1e6:.2f} M frames/s of processor time into the store")
    if given.only in (None, "month"):
        log = month_log(given, given.work, 30)
        start = medians([timed([given.seep, "sessions", "--log", log]) for _ in range(given.pairs)])
        print(f"seep sessions on it: {start.cpu_s * 1000:.0f} ms of processor time, {start.peak_mb:.0f} MB")
    if given.only in (None, "growth") and given.growth:
        growth(given, given.work)


if __name__ == "__main__":
    main()
