#!/usr/bin/env python3
"""Reference figures for tests/e2e/metro.rs, computed with SciPy from the rows of
tests/data/metropt3/first-100-min.csv and from nothing else: no output of seep
enters here.

    python3 -m venv .venv && .venv/bin/pip install scipy==1.17.1
    .venv/bin/python tests/reference/metropt3_scipy.py            # write scipy.json
    .venv/bin/python tests/reference/metropt3_scipy.py --check    # compare with it

Definitions, the same on both sides of the test:

* The compressor delivers in a row with COMP = 0; its motor runs in a row with
  Motor_current > 0.1 A. A state holds from its row to the next row.
* A run goes from the first row with the state on to the first row with it off.
  The run at the end of the table has no end and is no complete run.
* Cut-in and cut-out pressure: Reservoirs in those two rows. Beside them, as a
  look from another side, the turning points of Reservoirs by find_peaks, which
  knows nothing of COMP.
* A cycle goes from the start of one run to the start of the next.
* Duty: time on over the time from the first to the last row.
* A motor-off stretch: neighbouring rows with the motor off, as many as there
  are up to a row with it on or the table's end. All are used, none is cut away.
* Decay constant k: least squares of p_abs = p0 * exp(-k t), p_abs = Reservoirs
  + 101.325 kPa (no barometer in the dataset; ICAO sea level). Reservoirs itself
  is gauge: a straight line through ln(gauge) would be another, wrong, number.
* The fall of pressure is told twice, both times by the laminar law, at the mean
  of the stretch: with nothing taken off, and with three settling exponentials
  of free size (60, 240, 900 s: air against its skin, the skin, what surrounds
  it) taken off. The rows do not say how much of their bend is settling; a loss
  of the leak alone lies between the two.

`shapes` tells how well other shapes fit the same rows. The readings follow
p_abs**2 - p_a**2 (laminar seep and consumption) closer than the exponential, so
the exponential's residuals hang together; `k_se_per_s` is widened for that by
the effective sample size n (1 - r) / (1 + r), r their lag-1 autocorrelation.
"""

import argparse
import csv
import hashlib
import json
import math
import sys
from datetime import datetime
from pathlib import Path

import numpy as np
import scipy
from scipy.integrate import cumulative_trapezoid, solve_ivp
from scipy.optimize import curve_fit, lsq_linear
from scipy.signal import find_peaks

ROOT = Path(__file__).resolve().parent.parent
TABLE = ROOT / "data" / "metropt3" / "first-100-min.csv"
FIXTURE = ROOT / "data" / "metropt3" / "scipy.json"
OUTSIDE_KPA_ABS = 101.325
MOTOR_RUNS_ABOVE_A = 0.1


def rows():
    with TABLE.open(newline="") as file:
        table = list(csv.DictReader(file))
    wall = [datetime.fromisoformat(r["timestamp"]) for r in table]
    t_s = np.array([(w - wall[0]).total_seconds() for w in wall])
    column = lambda name: np.array([float(r[name]) for r in table])
    return t_s, column("Reservoirs"), column("COMP") == 0.0, column("Motor_current") > MOTOR_RUNS_ABOVE_A


def stretches(state):
    """[first, after) of every stretch of rows with the state on."""
    edges = np.diff(np.concatenate([[0], state.astype(int), [0]]))
    return list(zip(np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)))


def machine(t_s, bar, on):
    complete = [(a, b) for a, b in stretches(on) if a > 0 and b < len(on)]
    starts = [float(t_s[a]) for a, _ in stretches(on) if a > 0]
    on_s = float(np.sum(np.diff(t_s)[on[:-1]]))
    seconds = [float(t_s[b] - t_s[a]) for a, b in complete]
    cut_in = [float(bar[a]) for a, _ in complete]
    cut_out = [float(bar[b]) for _, b in complete]
    cycles = [float(c) for c in np.diff(starts)]
    return {
        "on_s": on_s,
        "duty_percent": 100.0 * on_s / float(t_s[-1] - t_s[0]),
        "run_s": seconds,
        "run_median_s": float(np.median(seconds)),
        "cycle_s": cycles,
        "cycle_median_s": float(np.median(cycles)),
        "start_bar": cut_in,
        "start_median_bar": float(np.median(cut_in)),
        "stop_bar": cut_out,
        "stop_median_bar": float(np.median(cut_out)),
    }


def turning_points(bar):
    tops, _ = find_peaks(bar, prominence=0.4)
    bottoms, _ = find_peaks(-bar, prominence=0.4)
    return {
        "low_bar": [float(bar[i]) for i in bottoms],
        "low_median_bar": float(np.median(bar[bottoms])),
        "high_bar": [float(bar[i]) for i in tops],
        "high_median_bar": float(np.median(bar[tops])),
    }


def exponential(t, p0, k):
    return p0 * np.exp(-k * t)


def offset_exponential(t, a, k, c):
    return a * np.exp(-k * t) + c


def laminar(t, p0, a):
    """dp/dt = -a (p^2 - p_a^2), integrated numerically."""
    fall = lambda _, p: -a * (p * p - OUTSIDE_KPA_ABS**2)
    return solve_ivp(fall, (t[0], t[-1]), [p0], t_eval=t, rtol=1e-10, atol=1e-8).y[0]


def fall_kpa_per_h(t, p, settling_s):
    """Laminar law, linear in its unknowns: p = p0 - a * integral(p^2 - p_a^2) + settling."""
    drive = p * p - OUTSIDE_KPA_ABS**2
    lost = cumulative_trapezoid(drive, t, initial=0)
    terms = [np.ones_like(t), -lost] + [np.exp(-t / tau) for tau in settling_s]
    a = lsq_linear(np.array(terms).T, p).x[1]
    return float(a * drive.mean() * 3600)


def decay(t_s, bar, first, after):
    p = 100.0 * bar[first:after] + OUTSIDE_KPA_ABS
    t = t_s[first:after] - t_s[first]
    length = t[-1]
    u = t / length  # of the order of one, so that the search is well scaled
    (p0, k), covariance = curve_fit(exponential, u, p, p0=[p[0], 0.1])
    rest = p - exponential(u, p0, k)
    r = float(np.sum(rest[1:] * rest[:-1]) / np.sum(rest**2))
    k_se = math.sqrt(covariance[1, 1] * (1 + r) / (1 - r))
    rms = lambda model, values: float(np.sqrt(np.mean((p - model(u, *values)) ** 2)))
    free, _ = curve_fit(offset_exponential, u, p, p0=[p[0] / 2, 0.3, p[0] / 2])
    seep, _ = curve_fit(laminar, u, p, p0=[p[0], 1e-4])
    return {
        "from_s": float(t_s[first]),
        "seconds": float(length),
        "rows": int(after - first),
        "k_per_s": float(k / length),
        "k_se_per_s": float(k_se / length),
        "time_constant_s": float(length / k),
        "residual_lag1": r,
        "fall_kpa_per_h": {
            "nothing_taken_off": fall_kpa_per_h(t, p, []),
            "settling_taken_off": fall_kpa_per_h(t, p, [60.0, 240.0, 900.0]),
        },
        "shapes": {
            "exponential_rms_kpa": rms(exponential, (p0, k)),
            "laminar_rms_kpa": rms(laminar, seep),
            "offset_exponential_rms_kpa": rms(offset_exponential, free),
        },
    }


def figures():
    t_s, bar, delivers, motor = rows()
    return {
        "made_by": "tests/reference/metropt3_scipy.py",
        "scipy": scipy.__version__,
        "numpy": np.__version__,
        "table_sha256": hashlib.sha256(TABLE.read_bytes()).hexdigest(),
        "rows": len(t_s),
        "seconds": float(t_s[-1] - t_s[0]),
        "longest_step_s": float(np.max(np.diff(t_s))),
        "outside_kpa_abs": OUTSIDE_KPA_ABS,
        "compressor_1": machine(t_s, bar, delivers),
        "motor": machine(t_s, bar, motor),
        "turning_points": turning_points(bar),
        "motor_off": [decay(t_s, bar, a, b) for a, b in stretches(~motor)],
    }


def same(a, b):
    """Equal up to the last digits, which may differ between libraries."""
    if isinstance(a, dict):
        return a.keys() == b.keys() and all(same(a[k], b[k]) for k in a if k not in ("scipy", "numpy"))
    if isinstance(a, list):
        return len(a) == len(b) and all(map(same, a, b))
    if isinstance(a, float):
        return math.isclose(a, b, rel_tol=1e-5)
    return a == b


def main():
    parser = argparse.ArgumentParser(description="MetroPT-3 reference figures by SciPy")
    parser.add_argument("--check", action="store_true", help="compare with the fixture instead of writing it")
    made = figures()
    if parser.parse_args().check:
        if not same(made, json.loads(FIXTURE.read_text())):
            sys.exit(f"{FIXTURE.name} is not what SciPy {scipy.__version__} gives")
        print(f"{FIXTURE.name} agrees with SciPy {scipy.__version__}")
        return
    FIXTURE.write_text(json.dumps(made, indent=1) + "\n")


if __name__ == "__main__":
    main()
