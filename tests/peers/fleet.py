#!/usr/bin/env python3
"""A fleet: logs of many invented cars, exported by day as Parquet, questioned by engines
that are not ours, and the answers held against what `seep` says of the same logs and
against what was put into them. Prints rows, bytes and seconds; a wrong answer ends it.

    python3 fleet.py --seep SEEP --peer-logs PEER_LOGS --work FOLDER --cars 200 [--spark]
"""

import argparse
import json
import math
import pathlib
import random
import sqlite3
import subprocess
import sys
import time

from ask_engines import answer, engines

OUTSIDE_AND_PARKED_KPA = 98.5 + 380.0
# As in logs/car.rs and logs/day.rs.
MADE_KPA_PER_S, USED_KPA_PER_S = 3.0, 0.25
JSON = ["--format", "json"]


def cars(count):
    """(name, loss of the front left corner in kPa an hour, wear in percent a day)."""
    draw = random.Random(11)
    one = lambda k: (f"Car {k:03} (invented)", round(draw.uniform(0.2, 9.0), 2), round(draw.uniform(0.0, 2.0), 2))
    return [one(k) for k in range(1, count + 1)]



def step(name, work):
    """Does the work and says what it took."""
    begin = time.monotonic()
    result = work()
    print(f"{name}: {time.monotonic() - begin:.1f} s", flush=True)
    return result


def run(*command):
    done = subprocess.run([str(c) for c in command], capture_output=True, text=True)
    if done.returncode not in (0, 1):
        sys.exit(f"{command}: {done.stderr}")
    return done.stdout


def make(given, logs):
    logs.mkdir(exist_ok=True)
    for seed, (name, leak, worn) in enumerate(cars(given.cars)):
        log = logs / f"{name.split()[1]}.db"
        if not log.exists():
            run(given.peer_logs, "--days", given.days, "--seed", seed, "--name", name,
                "--leak", leak, "--worn", worn, "--out", log)


def export(given, logs, rows):
    for log in sorted(logs.glob("*.db")):
        run(given.seep, "export", "--log", log, "--format", "parquet", "--by-day", "--replace", "--out", rows)


def size(folder, pattern):
    return sum(file.stat().st_size for file in folder.glob(pattern))


def rows_in(logs):
    total = 0
    for log in logs.glob("*.db"):
        connection = sqlite3.connect(f"file:{log}?mode=ro", uri=True)
        total += connection.execute("SELECT count(*) FROM tick").fetchone()[0]
        connection.close()
    return total


def check(what, wrong):
    """Ends the program when anything was found wrong."""
    if wrong:
        sys.exit(f"{what}: {len(wrong)} wrong, first {wrong[:3]}")


def check_ranking(given, table, judged):
    """Every rate is what was put in; the order is that of the leaks put in, and the cars that
    `seep cars` says leak there are exactly those beyond the least rate it told of."""
    put_in = {name: 100.0 * leak / OUTSIDE_AND_PARKED_KPA for name, leak, _ in cars(given.cars)}
    found = {row[0]: row[2] for row in table if row[1] == "front_left"}
    check("leak ranking against the leaks put in",
          [(name, found.get(name), rate) for name, rate in put_in.items() if abs(found.get(name, math.inf) - rate) > 0.15])
    # Air that the ledger misses is named below what a rest shows.
    leaks = [f for f in judged["findings"] if f["kind"] == "corner_leak" and "front_left" in f["place"]]
    leaking = {f["place"].split(", ")[0] for f in leaks}
    least = min((found[name] for name in leaking), default=math.inf)
    check("cars that lose clearly more than the least leak that `seep cars` names, and are not named",
          [(name, rate) for name, rate in found.items() if rate > 1.1 * least and name not in leaking])
    elsewhere = [f["place"] for f in judged["findings"] if "leak" in f["kind"] and "front_left" not in f["place"]]
    check("leaks that `seep cars` names elsewhere", elsewhere)
    print(f"leak ranking: {len(found)} cars as put in; `seep cars` names {len(leaking)} of them, from {least:.2f} %/h up")


def running_h(report):
    """Hours that `seep duty` saw the compressor run."""
    rows = next(t["rows"] for s in report["sections"] for t in s["tables"] if t["id"].startswith("runs-"))
    ran = [row[1] for row in rows if row[0].get("text") == "time running"]
    return ran[0]["seconds"] / 3600.0


def check_duty(given, table, logs):
    wrong = []
    by_car = {}
    for name, _, percent, known_h in table:
        by_car[name] = by_car.get(name, 0.0) + percent * known_h / 100.0
    for name, hours in by_car.items():
        said = running_h(json.loads(run(given.seep, "duty", "--log", logs / f"{name.split()[1]}.db", *JSON)))
        if abs(hours - said) > 0.002 * said + 2.0 / 3600.0:
            wrong.append((name, hours, said))
    check("hours of running against `seep duty`", wrong)
    print(f"duty by week: running hours of {len(by_car)} cars as `seep duty` has them")


def check_drift(given, table):
    """The wear put in is a share of what the compressor makes on the first day; the tank
    rises by what it makes less what the car uses meanwhile."""
    wear = {name: worn for name, _, worn in cars(given.cars)}
    middle = (given.days - 1) / 2.0
    wrong = []
    for name, _, percent_per_week, _ in table:
        rise = MADE_KPA_PER_S * (1.0 - wear[name] / 100.0 * middle) - USED_KPA_PER_S
        expected = -7.0 * wear[name] * MADE_KPA_PER_S / rise
        if abs(percent_per_week - expected) > 1.0 + 0.1 * abs(expected):
            wrong.append((name, percent_per_week, expected))
    check("drift of the supply against the wear put in", wrong)
    print(f"drift of the supply: {len(table)} cars as put in")


def arguments():
    parser = argparse.ArgumentParser(description=__doc__)
    for program in ["seep", "peer-logs"]:
        parser.add_argument(f"--{program}", required=True)
    parser.add_argument("--work", required=True, type=pathlib.Path)
    parser.add_argument("--cars", type=int, default=200)
    parser.add_argument("--days", type=int, default=3)
    parser.add_argument("--spark", action="store_true")
    return parser.parse_args()


def main():
    given = arguments()
    given.work.mkdir(parents=True, exist_ok=True)
    logs, rows = given.work / "logs", given.work / "rows"
    step("logs made", lambda: make(given, logs))
    step("exported", lambda: export(given, logs, rows))
    total = rows_in(logs)
    files = len(list(rows.glob("*/*/*.parquet")))
    print(f"{given.cars} cars, {given.days} days each, {total:,} rows; logs {size(logs, '*.db') / 1e6:.0f} MB,"
          f" Parquet {size(rows, '*/*/*.parquet') / 1e6:.0f} MB in {files} files; invented data")
    every = engines(given.spark)
    tables = {}
    for query in ["leak_ranking", "duty_by_week", "drift_of_supply"]:
        tables[query] = answer(rows, query, every)
    judged = json.loads(step("seep cars", lambda: run(given.seep, "cars", logs, *JSON)))
    check_ranking(given, tables["leak_ranking"], judged)
    check_duty(given, tables["duty_by_week"], logs)
    check_drift(given, tables["drift_of_supply"])


if __name__ == "__main__":
    main()
