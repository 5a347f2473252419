#!/usr/bin/env python3
"""What 500 messages a second cost the recorder, as a busy vehicle bus sends them.

1. Live: an invented box says 500 sentences of four readings a second over a
   pseudo terminal to the real `seepd run`: processor time of the process by
   /proc/PID/stat, its peak of memory by VmHWM. (A serial line would need
   460,800 baud for that; a pseudo terminal does not ask.)
2. CAN, which a live measurement would need a kernel with CAN sockets for, by
   replay: instructions that one frame costs from its line in a candump log to
   its row in the store, counted by valgrind's callgrind on `seepd replay` of two
   logs of 500 frames a second: the difference of the counts over the difference
   of the frames, so that the start drops out. Reading a socket instead of a file
   and the commits of a live recording, one every two seconds instead of one in
   20,000 rows, are not in it; they are in the figure of 1.

    python3 processor.py --seepd SEEPD --seconds 120
"""

import argparse
import os
import pathlib
import random
import re
import shutil
import subprocess
import sys
import tempfile

from bus.make import START_S, own
from wear import measure

HERE = pathlib.Path(__file__).resolve().parent
FRAMES_PER_S = 500
# Rounds of three sentences, which together hold all twelve channels.
ROUNDS_HZ = FRAMES_PER_S / 3


def write(seconds, path):
    """A candump log that holds nothing but the four messages of the rig."""
    draw = random.Random(7)
    frames = seconds * FRAMES_PER_S
    with open(path, "w", encoding="ascii") as out:
        for n in range(frames):
            number, data = own(n % 4, n / FRAMES_PER_S, draw)
            t_us = n * 1_000_000 // FRAMES_PER_S
            out.write(f"({START_S + t_us // 1_000_000}.{t_us % 1_000_000:06d}) can0 {number:03X}#{data.hex().upper()}\n")
    return frames


def instructions(seepd, log, store):
    command = ["valgrind", "--tool=callgrind", "--callgrind-out-file=/dev/null",
               seepd, "replay", "--rig", HERE / "bus" / "rig.toml", "--log", store, log]
    done = subprocess.run([str(c) for c in command], capture_output=True, text=True)
    total = re.search(r"Collected : (\d+)", done.stderr)
    if done.returncode or not total:
        sys.exit(f"valgrind ended with {done.returncode}: {done.stderr.strip()}")
    return int(total.group(1))


def per_frame(seepd, folder, seconds):
    counts = []
    for part in [seconds, 2 * seconds]:
        log = folder / f"{part}.log"
        frames = write(part, log)
        counts.append((frames, instructions(seepd, log, folder / f"{part}.db")))
    (few, least), (many, most) = counts
    each = (most - least) / (many - few)
    print(f"replay   {few} and {many} CAN frames: {least / 1e6:.1f} and {most / 1e6:.1f} million instructions,"
          f" {each:.0f} per frame; at {FRAMES_PER_S} frames/s {each * FRAMES_PER_S / 1e6:.2f} million/s,"
          f" {each * FRAMES_PER_S / 1e7:.2f} % of a processor that does 1,000 million/s")


def main():
    arguments = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    arguments.add_argument("--seepd", required=True)
    arguments.add_argument("--seconds", type=float, default=120, help="of live recording")
    arguments.add_argument("--log-seconds", type=int, default=300, help="of the shorter candump log")
    given = arguments.parse_args()
    print(f"load {os.getloadavg()[0]:.1f}; {given.seepd}; invented readings")
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        measure(given.seepd, folder, "live", ROUNDS_HZ, True, given.seconds)
        if shutil.which("valgrind"):
            per_frame(given.seepd, folder, given.log_seconds)
        else:
            print("replay   SKIPPED: valgrind is missing (on Debian: apt install valgrind)")


if __name__ == "__main__":
    main()
