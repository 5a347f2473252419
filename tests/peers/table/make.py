#!/usr/bin/env python3
"""Write a table of readings at 50 Hz, twelve columns beside the time, seeded and invented;
it is made when it is needed and never checked in.

    python3 make.py --rows 300000 --out table.csv
"""

import argparse
import math
import random

STEP_MS = 20
START_MS = 1_790_000_000_000
COLUMNS = [
    "tank_kpa_gauge", "front_left_kpa_gauge", "front_right_kpa_gauge", "rear_left_kpa_gauge",
    "rear_right_kpa_gauge", "front_left_mm", "front_right_mm", "rear_left_mm", "rear_right_mm",
    "vehicle_kmh", "ambient_c", "compressor_1_on",
]


def row(t_s, draw):
    """Two decimals: a mean of five then never lies halfway between two stored integers."""
    tank = 1050 + 80 * math.sin(t_s / 90) + draw.gauss(0, 0.6)
    corners = [520, 510, 430, 425]
    kpa = [c + 6 * math.sin(3 * t_s + c) + draw.gauss(0, 0.8) for c in corners]
    mm = [40 * math.sin(7 * t_s + k) + draw.gauss(0, 3) for k in range(4)]
    kmh = 65 + 9 * math.sin(t_s / 40)
    ambient = 12 + int(t_s / 300) % 10
    return [f"{v:.2f}" for v in [tank, *kpa, *mm, kmh, ambient]] + [str(int(t_s % 240 < 40))]


def write(rows, seed, path):
    draw = random.Random(seed)
    with open(path, "w", encoding="ascii") as out:
        out.write(",".join(["unix_ms", *COLUMNS]) + "\n")
        for n in range(rows):
            out.write(",".join([str(START_MS + n * STEP_MS), *row(n * STEP_MS / 1000, draw)]) + "\n")


if __name__ == "__main__":
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--rows", type=int, default=300_000)
    arguments.add_argument("--seed", type=int, default=7)
    arguments.add_argument("--out", required=True)
    given = arguments.parse_args()
    write(given.rows, given.seed, given.out)
