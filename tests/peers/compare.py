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
import statistics
import sys

import scale
from answers import same_rows, same_verdicts
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


def replayed(given, work, rig, log, script):
    """`seepd replay` of a log beside a script, (arguments before the store)."""
    ours_db, theirs_db = work / "ours.db", work / "theirs.db"

    def ours():
        remove(ours_db)
        return timed([given.seepd, "replay", "--rig", rig, "--log", ours_db, log])

    def theirs():
        remove(theirs_db)
        return timed([sys.executable, *script, theirs_db])

    result = pairs(ours, theirs, given.pairs)
    same_rows(ours_db, theirs_db)
    return result


def replay(given, work, form):
    log = work / f"bus-{given.frames}.candump.{form}"
    if not log.exists():
        timed([sys.executable, HERE / "bus/make.py", "--frames", given.frames, "--form", form, "--out", log])
    return replayed(given, work, HERE / "bus/rig.toml", log, [HERE / "store_bus.py", log, HERE / "bus/box.dbc"])


def table(given, work):
    log = work / f"table-{given.table_rows}.csv"
    if not log.exists():
        timed([sys.executable, HERE / "table/make.py", "--rows", given.table_rows, "--out", log])
    return replayed(given, work, HERE / "table/rig.toml", log, [HERE / "store_table.py", log])


def month_log(given, work, days):
    log = work / f"days-{days}.db"
    if not log.exists():
        timed([given.peer_logs, "--days", days, "--out", log])
    return log


def diagnose(given, work):
    log = month_log(given, work, 30)
    ours = lambda: timed([given.seep, "diagnose", "--no-cache", "--log", log, "--format", "json"])
    theirs = lambda: timed([sys.executable, HERE / "month.py", log])
    result = pairs(ours, theirs, given.pairs)
    # The diagnosis weighs the compressor too, but `trip` shows it.
    trip = timed([given.seep, "trip", "--no-cache", "--log", log, "--format", "json"])
    same_verdicts(*(json.loads(took.out) for took in [result[0], trip, result[1]]))
    return result


def compared(given):
    """The pairs, their answers and ratios."""
    results = []
    if given.only in (None, "replay"):
        frames = f"{given.frames:,} frames"
        results.append((f"replay of {frames}", replay(given, given.work, "log")))
        results.append((f"console form, {frames}", replay(given, given.work, "console")))
        results.append((f"table of {given.table_rows:,} rows", table(given, given.work)))
    if given.only in (None, "diagnose"):
        results.append(("seep diagnose of 30 days", diagnose(given, given.work)))
    if results:
        print(f"\nmedian of {given.pairs} pairs                seep cpu  script cpu   ratio  (wall) seep peak script peak  ratio")
    for what, result in results:
        told(what, result)
        if what.startswith("replay"):
            print(f"    {given.frames / result[0].cpu_s / 1e6:.2f} M frames/s of processor time into the store")


def arguments():
    parser = argparse.ArgumentParser(description=__doc__)
    for program in ["seepd", "seep", "peer-logs", "peer-load"]:
        parser.add_argument(f"--{program}", required=True)
    parser.add_argument("--work", required=True, type=pathlib.Path)
    parser.add_argument("--pairs", type=int, default=5)
    parser.add_argument("--frames", type=int, default=240_000)
    parser.add_argument("--table-rows", type=int, default=300_000)
    parser.add_argument("--growth", type=int, nargs="*", default=[], metavar="DAYS")
    parser.add_argument("--only", choices=["replay", "diagnose", "load", "start", "growth"])
    return parser.parse_args()


def main():
    given = arguments()
    given.work.mkdir(parents=True, exist_ok=True)
    print("python", sys.version.split()[0], *[f"{n} {importlib.metadata.version(n)}" for n in LIBRARIES], sep=", ")
    print(f"{os.cpu_count()} processors, load {os.getloadavg()[0]:.1f}; {given.seep}; invented data")
    compared(given)
    log = lambda days: month_log(given, given.work, days)
    if given.only in (None, "load"):
        scale.load(given, log(30))
    if given.only in (None, "start"):
        scale.start(given, log(1), log(30))
    if given.only in (None, "growth") and given.growth:
        scale.growth(given, [(days, log(days)) for days in given.growth])


if __name__ == "__main__":
    main()
