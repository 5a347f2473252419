#!/usr/bin/env python3
"""Compares the rests that seep finds in logs with those of the reference
implementation of the model of a car at rest, which is no part of this repository.

    python3 -m venv .venv && .venv/bin/pip install numpy scipy
    cargo build --locked --release -p seep-report --example rests
    .venv/bin/python tests/reference/reduction.py --reference DIR LOG.db…

DIR holds load.py and model.py of the reference. Agreement asked for, rest by rest:
the same volume and start to a minute; first and last pressure 0.2 kPa, height 0.2 mm,
temperature 0.1 K and volume 0.1 %; logarithm of the air 2e-4 at every mean; filtered
temperatures 0.15 K, heat of drives and creep 0.01. Differences by design, which are
counted and not compared: rests that the reference has and seep parts at a move that no
channel tells, and the noise of volumes that empty within the hour. Exits with 1 on any
other difference, and with 77 where the reference is missing.
"""

import argparse
import json
import pathlib
import subprocess
import sys

HERE = pathlib.Path(__file__).resolve().parents[2]
EXAMPLE = HERE / "target" / "release" / "examples" / "rests"


def of_seep(log, example):
    out = subprocess.run([example, log], check=True, capture_output=True, text=True)
    return [json.loads(line) for line in out.stdout.splitlines()]


def of_reference(log, load, model):
    car = load.cut(load.load(log))
    model.mend(car)
    return car.segs


def at(t, x, wanted):
    import numpy
    return numpy.interp(wanted, t, x)


def compare(rest, segment):
    """Largest differences of one rest by figure."""
    import numpy
    t = numpy.array(rest["t_s"])
    inside = (t >= segment.t[0]) & (t <= segment.t[-1])
    t = t[inside]

    def apart(own, theirs):
        own = numpy.array(own, float)[inside]
        return float(numpy.max(numpy.abs(own - at(segment.t, theirs, t)), initial=0.0))

    ln_air = numpy.log(numpy.array(rest["kpa_abs"]) * rest["volume_l"] / numpy.array(rest["kelvin"]))
    out = {
        "start s": abs(rest["start_s"] - segment.a),
        "end s": abs(rest["end_s"] - segment.b),
        "kPa at the ends": max(abs(rest["kpa_abs"][i] - segment.p[i]) for i in (0, -1)),
        "ln air": apart(ln_air, segment.y),
        "K": apart(rest["kelvin"], segment.T),
        "outside kPa": apart(rest["outside_kpa_abs"], segment.pa),
        "ln sd": float(abs(numpy.median(rest["ln_variance"]) / numpy.median(segment.var) - 1)),
        "count": float(abs(numpy.median(rest["ln_count"]) / numpy.median(segment.q) - 1)),
        "means": abs(len(rest["t_s"]) - len(segment.t)),
    }
    if segment.h is not None and rest["height_mm"]:
        out["mm at the ends"] = max(abs(rest["height_mm"][i] - segment.h[i]) for i in (0, -1))
    for name, family in (("lag", "lag"), ("soak", "soak"), ("creep", "creep")):
        theirs = getattr(segment, family)
        own = rest["lag_k" if family == "lag" else family]
        if len(own) != len(theirs):
            out[name] = float("inf")
            continue
        out[name] = max((apart(a, b) for a, b in zip(own, theirs)), default=0.0)
    if (segment.move is None) != (rest["last_move"] is None):
        out["last move"] = float("inf")
    elif segment.move is not None:
        out["last move"] = max(abs(a - b) for a, b in zip(rest["last_move"], segment.move))
    return out


LIMITS = {
    "start s": 60.0, "end s": 120.0, "kPa at the ends": 0.2, "mm at the ends": 0.2,
    "ln air": 2e-4, "K": 0.1, "outside kPa": 0.05, "ln sd": 0.35, "count": 0.05, "means": 3,
    "lag": 0.15, "soak": 0.01, "creep": 0.01, "last move": 0.01,
}


def of_log(log, load, model, example, verbose):
    own, theirs = of_seep(log, example), of_reference(log, load, model)
    worst, wrong, lone = {}, 0, 0
    for segment in theirs:
        same = [r for r in own if r["volume"] == segment.v and abs(r["start_s"] - segment.a) < 60]
        if not same:
            lone += 1
            if verbose:
                print("  only the reference:", segment.v, segment.a, segment.b)
            continue
        for name, value in compare(same[0], segment).items():
            worst[name] = max(worst.get(name, 0.0), value)
            if value > LIMITS[name]:
                wrong += 1
                if verbose:
                    print(f"  {segment.v} {segment.a:.0f}: {name} {value:.3g}")
    extra = len(own) - (len(theirs) - lone)
    print(f"{log}: {len(own)} rests, reference {len(theirs)}; {lone} only there, {extra} only here; "
          f"{wrong} figures beyond the limit")
    print("   worst:", ", ".join(f"{n} {v:.2g}" for n, v in worst.items()))
    return wrong, lone, extra


def main():
    parser = argparse.ArgumentParser(description="rests of seep against the reference")
    parser.add_argument("--reference", required=True)
    parser.add_argument("--example", default=str(EXAMPLE))
    parser.add_argument("--verbose", action="store_true")
    parser.add_argument("logs", nargs="+")
    args = parser.parse_args()
    if not (pathlib.Path(args.reference) / "load.py").exists():
        print("SKIPPED: the reference implementation is not here", file=sys.stderr)
        sys.exit(77)
    sys.path.insert(0, args.reference)
    import load
    import model
    found = [of_log(log, load, model, args.example, args.verbose) for log in args.logs]
    sys.exit(1 if any(any(f) for f in found) else 0)


if __name__ == "__main__":
    main()
