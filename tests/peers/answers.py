"""Whether seep and the script came to the same answers; a difference ends all."""

import sqlite3
import sys


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
    print(f"same answers: all {len(a)} rows of the log")


def tables(report):
    return {t["id"]: t["rows"] for s in report["sections"] for t in s["tables"]}


def row(rows, begins):
    return next(r for r in rows if r[0]["text"].startswith(begins))


def number(cell):
    return cell["value"] if cell["type"] == "number" else None


def leaks_and_causes(diagnosis, script):
    """Leaks within the report's own interval; where the air goes by both."""
    wrong = []
    found = tables(diagnosis)
    for place, (loss, _) in script["leaks"].items():
        cell = row(found["leaks"], place.replace("_", " "))[2]
        low, high = cell["low"], cell["high"]
        # A tenth of a kPa an hour beside the interval: the two cut rests apart differently.
        # Of a corner without a height only the least loss is known.
        if not (low is None or loss >= low - 0.1) or not (high is None or loss <= high + 0.1):
            wrong.append(f"{place}: {loss:.3f} kPa/h against {low}..{high}")
    likeliest = {}
    for finding, explanation, _ in found["ranking"]:
        likeliest.setdefault(number(finding), explanation["text"])
    named = [f["place"] for f in diagnosis["findings"] if f["kind"] == "corner_leak"]
    for n, place in enumerate(named, start=1):
        theirs = script["explained"].get(place)
        if theirs != "outside" or likeliest[n] != f"leak to outside at {place.replace('_', ' ')}":
            wrong.append(f"{place}: {likeliest[n]} against {theirs}")
    if not named or max(named, key=lambda p: script["leaks"][p][0]) != named[0]:
        wrong.append(f"first named: {named[:1]}")
    return wrong


def compressor(trip, script):
    """Runs, duty and switching to the digit that two ways of reading allow; wear
    within the report's own interval."""
    found = tables(trip)
    duty, runs, switching = (found[f"{t}-compressor_1"] for t in ["duty", "runs", "switching"])
    change = row(runs, "change of delivery")[1]
    wrong = []
    for what, ours, theirs, within in [
        ("runs", number(row(runs, "runs")[1]), script["runs"], 0),
        ("duty, %", number(duty[-1][2]), script["duty"], 0.1),
        ("worst ten minutes, %", number(duty[0][2]), script["worst"], 0.5),
        ("cut-in, kPa", number(row(switching, "tank pressure at start")[1]), script["cut_in"], 2.0),
        ("cut-out, kPa", number(row(switching, "tank pressure at stop")[1]), script["cut_out"], 2.0),
        ("change of delivery, %", change["value"], script["change"], change["high"] - change["value"]),
    ]:
        if abs(ours - theirs) > within:
            wrong.append(f"{what}: {ours} against {theirs}")
    return wrong


def same_verdicts(diagnosis, trip, script):
    """All that the script says, `seep` says too."""
    wrong = leaks_and_causes(diagnosis, script) + compressor(trip, script)
    if wrong:
        sys.exit("report and script differ: " + "; ".join(wrong))
    print("same answers: leaks of five volumes and where the air goes; runs, duty, switching, wear")
