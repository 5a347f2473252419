#!/usr/bin/env python3
"""Write the candump log of a full bus: 500 kbit/s, 4,000 frames a second, of
which 200 carry something the rig wants and the rest is other traffic. Seeded
and invented; the log is made when it is needed and never checked in.

    python3 make.py --frames 240000 --out bus.candump.log
"""

import argparse
import math
import random
import struct

FRAMES_PER_S = 4000
OWN_EVERY = 20  # each 20th frame is one of our four, so each of them comes at 50 Hz
START_S = 1_790_000_000


def own(turn, t, draw):
    """One of the four messages of the box: (identifier, data)."""
    noise = lambda spread: int(draw.gauss(0, spread))
    if turn == 0:
        corners = [5200, 5100, 4300]
        tank = 10500 + int(800 * math.sin(t / 90)) + noise(6)
        return 0x100, struct.pack("<4H", tank, *(c + int(60 * math.sin(3 * t + c)) + noise(8) for c in corners))
    if turn == 1:
        running = int(t % 240 < 40)
        return 0x101, struct.pack("<HBB", 4250 + noise(8), 120 + int(t / 300) % 10, running)
    if turn == 2:
        return 0x102, struct.pack("<4h", *(int(400 * math.sin(7 * t + k)) + noise(30) for k in range(4)))
    return 0x200, struct.pack("<H", 6500 + int(900 * math.sin(t / 40)))


def line(form, n, number, data):
    """A frame as the log form or the console form of candump has it."""
    stamp = f"({START_S + n // FRAMES_PER_S}.{n % FRAMES_PER_S * 1_000_000 // FRAMES_PER_S:06d})"
    if form == "console":
        apart = " ".join(data[k:k + 2] for k in range(0, len(data), 2))
        return f" {stamp}  can0  {number}   [{len(data) // 2}]  {apart}\n"
    return f"{stamp} can0 {number}#{data}\n"


def write(frames, seed, form, path):
    draw = random.Random(seed)
    others = [f"{draw.choice(range(0x210, 0x7F0)):03X}" for _ in range(60)]
    with open(path, "w", encoding="ascii") as out:
        for n in range(frames):
            t = n / FRAMES_PER_S
            if n % OWN_EVERY == 0:
                number, data = own(n // OWN_EVERY % 4, t, draw)
                out.write(line(form, n, f"{number:03X}", data.hex().upper()))
            else:
                out.write(line(form, n, others[n % 59], f"{draw.getrandbits(64):016X}"))


if __name__ == "__main__":
    arguments = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    arguments.add_argument("--frames", type=int, default=240_000)
    arguments.add_argument("--seed", type=int, default=7)
    arguments.add_argument("--form", choices=["log", "console"], default="log")
    arguments.add_argument("--out", required=True)
    given = arguments.parse_args()
    write(given.frames, given.seed, given.form, given.out)
