#!/usr/bin/env python3
"""What a capable technician would write to judge a month: sqlite3 and pandas
load the log, each rest is cut out between the dump before it and the fill after
it, SciPy's curve_fit fits an exponential decay of the amount of air, and where
the air goes is told by who gains what another loses. Duty and switch pressures
come from the compressor's events, its wear from how fast the tank rises in each
run. Prints what it found as JSON.

    python3 month.py month.db
"""

import json
import sqlite3
import sys

import numpy as np
import pandas as pd
from scipy.optimize import curve_fit
from scipy.stats import linregress

CORNERS = ["front_left", "front_right", "rear_left", "rear_right"]
OUTSIDE_KPA = 101.325 * (1 - 2.25577e-5 * 237) ** 5.25588
REFERENCE_K = 293.15
SETTLE_MS = 60_000
SHORTEST_MS = 300_000
WINDOW_MS = 600_000
STEP_MS = 1_000


def load(path):
    """Readings in their units, events, sessions."""
    connection = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
    channels = pd.read_sql("SELECT name, column_name, resolution FROM channel", connection)
    readings = pd.read_sql("SELECT * FROM tick ORDER BY t_ms", connection)
    for name, column, step in channels.itertuples(index=False):
        readings[name] = readings[column] * step
    events = pd.read_sql("SELECT t_ms, kind, place, state FROM event ORDER BY t_ms, id", connection)
    sessions = pd.read_sql("SELECT start_t_ms, end_t_ms FROM session ORDER BY id", connection)
    return readings, events, sessions


def rests(events, place, last_ms):
    """(from, to) of each time the place was left alone."""
    if place == "tank":
        own = events
        fills = events[events.kind == "fill"]
    else:
        own = events[events.place == place]
        fills = own[own.kind == "fill"]
    starts = fills[fills.state == 1].t_ms.to_numpy()
    ends = own[(own.kind != "fill") & (own.state == 0)].t_ms.to_numpy()
    out = []
    for to in [*starts, last_ms]:
        before = ends[ends < to]
        if before.size and (not out or before[-1] > out[-1][0]):
            out.append((before[-1] + SETTLE_MS, to))
    return [(a, b) for a, b in out if b - a > SHORTEST_MS]


def decay(t_s, start, per_s):
    return start * np.exp(-per_s * t_s)


def independent(residuals):
    """Factor by which neighbouring readings that err alike widen a variance."""
    r = float(np.clip(np.corrcoef(residuals[:-1], residuals[1:])[0, 1], 0.0, 0.99))
    return (1 + r) / (1 - r)


def leak(readings, events, place):
    """Loss as pressure at constant volume and temperature over all rests, and
    its standard error, kPa/h."""
    t_ms = readings.t_ms.to_numpy()
    losses, variances = [], []
    for start, end in rests(events, place, t_ms[-1]):
        rows = readings.iloc[np.searchsorted(t_ms, start) : np.searchsorted(t_ms, end)]
        rows = rows[rows.vehicle_kmh == 0]
        if len(rows) < 30:
            continue
        t_s = (rows.t_ms.to_numpy() - start) / 1000
        amount = (rows[f"{place}_kpa_gauge"] + OUTSIDE_KPA) / (rows.ambient_c + 273.15) * REFERENCE_K
        found, covariance = curve_fit(decay, t_s, amount, p0=[amount.iloc[0], 1e-7])
        to_kpa_h = amount.mean() * 3600
        variance = max(covariance[1, 1], 1e-30) * independent(amount.to_numpy() - decay(t_s, *found))
        losses.append(found[1] * to_kpa_h)
        variances.append(variance * to_kpa_h**2)
    weights = 1 / np.array(variances)
    return float(np.average(losses, weights=weights)), float(1 / np.sqrt(weights.sum()))


def explained(leaks):
    """Where the air of each leaking corner goes: to a place that gains at least
    half of it, beyond doubt, or outside."""
    out = {}
    for place in CORNERS:
        loss, error = leaks[place]
        if loss > 3 * error:
            takes = lambda gain, doubt: gain > 3 * doubt and gain > loss / 2
            gainers = [other for other, (change, doubt) in leaks.items() if takes(-change, doubt)]
            out[place] = gainers[0] if gainers else "outside"
    return out


def runs_of(events):
    """(start, stop) of each compressor run."""
    own = events[events.kind == "run"]
    on, off = own[own.state == 1].t_ms.to_numpy(), own[own.state == 0].t_ms.to_numpy()
    return [(start, off[np.searchsorted(off, start, side="right")]) for start in on]


def duty(runs, sessions):
    """Runs, duty over the recorded time and in the worst ten minutes, %."""
    recorded = int((sessions.end_t_ms - sessions.start_t_ms).sum())
    worst = 0.0
    for first, last in sessions.itertuples(index=False):
        clock = np.arange(first, last, STEP_MS)
        running = np.zeros(len(clock))
        for start, end in runs:
            running[np.searchsorted(clock, start) : np.searchsorted(clock, end)] = 1.0
        # A window counts when four fifths of it are known: also at the ends of a session.
        for way in (running, running[::-1]):
            steps = WINDOW_MS // STEP_MS
            window = pd.Series(way).rolling(steps, min_periods=steps * 4 // 5).mean().max()
            worst = max(worst, float(window))
    total = sum(end - start for start, end in runs)
    return {"runs": len(runs), "duty": 100 * total / recorded, "worst": 100 * worst}


def wear(readings, runs):
    """Median pressures at start and stop, kPa gauge, of the runs longer than a
    minute, and how much slower the tank rises at the end of the log, %."""
    t_ms, tank = readings.t_ms.to_numpy(), readings.tank_kpa_gauge.to_numpy()
    starts, stops, rises, times = [], [], [], []
    for start, stop in runs:
        a, b = np.searchsorted(t_ms, [start, stop])
        if stop - start > 60_000 and b - a > 10:
            starts.append(tank[a])
            stops.append(tank[b])
            rises.append(linregress((t_ms[a:b] - start) / 1000, tank[a:b]).slope)
            times.append(start)
    trend = linregress(times, rises)
    change = 100 * trend.slope * (times[-1] - times[0]) / np.mean(rises)
    return {"cut_in": np.median(starts), "cut_out": np.median(stops), "change": change}


if __name__ == "__main__":
    readings, events, sessions = load(sys.argv[1])
    leaks = {place: leak(readings, events, place) for place in [*CORNERS, "tank"]}
    found = {"leaks": leaks, "explained": explained(leaks)}
    runs = runs_of(events)
    found.update(duty(runs, sessions), **wear(readings, runs))
    json.dump(found, sys.stdout)
    print()
