"""What does not need a script beside it: loading against a bare scan, the start
of the program, and how a report grows with the log."""

import glob
import os
import pathlib
import shutil
import sqlite3
import statistics
import subprocess

from timed import medians, timed

HERE = pathlib.Path(__file__).parent
MB = 1e6


def scan_program(given):
    """The bare scan, built with the SQLite that seep was built with; None, said
    loudly, where that cannot be."""
    built = pathlib.Path(given.seep).parent
    libraries = glob.glob(str(built / "build/libsqlite3-sys-*/out/libsqlite3.a"))
    compiler = shutil.which("cc")
    if not libraries or not compiler:
        print("load: SKIPPED:", "no libsqlite3.a beside the programs" if compiler else "cc is missing")
        return None
    program = given.work / "scan"
    newest = max(libraries, key=os.path.getmtime)
    command = [compiler, "-O2", HERE / "load/scan.c", newest, "-lm", "-lpthread", "-ldl", "-o", program]
    subprocess.run(command, check=True)
    return program


def load(given, log):
    """Every reading into columns, against a scan that keeps nothing."""
    program = scan_program(given)
    if program is None:
        return
    both = [(timed([program, log]), timed([given.peer_load, log])) for _ in range(given.pairs)]
    ratio = lambda kind: statistics.median(getattr(o, kind) / getattr(s, kind) for s, o in both)
    scan, ours = (medians(one) for one in zip(*both))
    print(f"load of {log.name}: {ours.cpu_s:.2f} s against {scan.cpu_s:.2f} s of a bare scan in C,"
          f" {ratio('cpu_s'):.2f} times; wall {ratio('wall_s'):.2f} times")


def start(given, short, log):
    """`seep sessions` on the log of a day, and on a month's, whose rows it
    counts and whose hash it takes."""
    for log in [short, log]:
        runs = medians([timed([given.seep, "sessions", "--no-cache", "--log", log]) for _ in range(max(given.pairs, 5))])
        print(f"seep sessions on {log.stat().st_size / MB:.1f} MB: {runs.wall_s * 1000:.1f} ms,"
              f" {runs.cpu_s * 1000:.1f} ms of processor time, {runs.peak_mb:.0f} MB")


def growth(given, logs):
    """Time and memory over one, three and twelve months."""
    print("\n             rows  B/reading   report wall    cpu  per 1M rows    peak")
    for days, log in logs:
        connection = sqlite3.connect(log)
        rows = connection.execute("SELECT count(*) FROM tick").fetchone()[0]
        readings = rows * connection.execute("SELECT count(*) FROM channel").fetchone()[0]
        connection.close()
        took = medians([timed([given.seep, "trip", "--no-cache", "--log", log, "--format", "json"]) for _ in range(3)])
        print(f"{days:4} days {rows:10,} {log.stat().st_size / readings:8.2f} {took.wall_s:11.2f} s"
              f" {took.cpu_s:6.2f} s {took.cpu_s / rows * 1e6:8.3f} s {took.peak_mb:6.0f} MB")
