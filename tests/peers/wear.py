#!/usr/bin/env python3
"""What the recorder costs while it records: bytes written per hour, processor
time, memory, bytes on disk per reading. The real `seepd run` hears an invented
box over a pseudo terminal; bytes are those of /proc/PID/io (wchar: every byte
handed to the file system, also what never reaches the card, such as the status
in memory, 2 kB a second; write_bytes: what
the kernel charged to storage, zero on a file system in memory).

Parked is what a car is after five minutes in which nothing moved; here that
time is short, so that the measurement begins in it.

    python3 wear.py --seepd SEEPD --seconds 60 --parked-seconds 600
"""

import argparse
import os
import pathlib
import pty
import random
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time

CHANNELS = ["tank_kpa_gauge", "front_left_kpa_gauge", "front_right_kpa_gauge", "rear_left_kpa_gauge",
            "rear_right_kpa_gauge", "front_left_mm", "front_right_mm", "rear_left_mm", "rear_right_mm",
            "vehicle_kmh", "ambient_c", "compressor_1_on"]
LEVELS = [1050, 520, 510, 430, 425, 0, 0, 0, 0, 65, 20, 0]
# Transducer type and unit of the sentence by the suffix of the channel.
TYPES = {"gauge": ("P", "B", 0.01), "mm": ("D", "M", 0.001), "kmh": ("G", "", 1), "c": ("C", "C", 1), "on": ("S", "", 1)}


def rig(device, recorder):
    text = f"""# Invented.
[recorder]
{recorder}
[vehicle]
name = "Grey van (invented)"
[tank]
volume_l = 19.0
[[compressor]]
name = "compressor_1"
[[source]]
name = "box"
kind = "nmea"
device = "{device}"
baud = 115200
"""
    for corner in ["front_left", "front_right", "rear_left", "rear_right"]:
        text += f'[[circuit]]\nname = "{corner}"\naxle = "{corner.split("_")[0]}"\nvolume_l = 3.0\n'
    for i, channel in enumerate(CHANNELS):
        unit = 'unit = "km/h"\n' if channel.endswith("kmh") else ""
        text += f'[[channel]]\nname = "{channel}"\nsource = "box"\ntransducer = "C{i}"\n{unit}'
    return text


def sentences(driving, draw):
    """All twelve channels once, four to a sentence."""
    quads = []
    for i, (channel, level) in enumerate(zip(CHANNELS, LEVELS)):
        kind, unit, scale = TYPES[channel.split("_")[-1]]
        rough = 0 if kind in "SG" else (2.0 if driving else 0.1)
        value = level + draw.gauss(0, rough) if driving or kind != "G" else 0
        quads.append(f"{kind},{value * scale:.5f},{unit},C{i}")
    out = b""
    for first in range(0, len(quads), 4):
        body = "YXXDR," + ",".join(quads[first : first + 4])
        check = 0
        for byte in body.encode():
            check ^= byte
        out += f"${body}*{check:02X}\r\n".encode()
    return out


def numbers(path, split=":"):
    lines = (line.split(split, 1) for line in pathlib.Path(path).read_text().splitlines() if split in line)
    return {key: value.split()[0] for key, value in lines if value.split()}


def used(pid):
    """(bytes handed to files, bytes charged to storage, processor s)."""
    io = numbers(f"/proc/{pid}/io")
    stat = pathlib.Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return int(io["wchar"]), int(io["write_bytes"]), (int(stat[11]) + int(stat[12])) / os.sysconf("SC_CLK_TCK")


def memory_folder():
    return next(f for f in map(pathlib.Path, ["/dev/shm", tempfile.gettempdir()]) if f.is_dir())


def say(master, until, hz, driving, draw):
    spoken, due = 0, time.monotonic()
    while time.monotonic() < until:
        os.write(master, sentences(driving, draw))
        spoken += len(CHANNELS)
        due += 1 / hz
        time.sleep(max(0, due - time.monotonic()))
    return spoken


def measure(seepd, folder, what, hz, driving, seconds, recorder=""):
    master, slave = pty.openpty()
    rig_file, log = folder / f"{what}.toml", folder / f"{what}.db"
    rig_file.write_text(rig(os.ttyname(slave), recorder))
    # As a service the status is in memory (/run), so it does not count as wear.
    status = memory_folder() / f"seep-wear-{os.getpid()}.json"
    command = [seepd, "run", "--rig", rig_file, "--log", log, "--status-file", status]
    process = subprocess.Popen([str(c) for c in command], stderr=subprocess.PIPE)
    draw = random.Random(7)
    # The first seconds set up the file and fill the delay before rows are stored.
    say(master, time.monotonic() + 10, hz, driving, draw)
    if process.poll() is not None:
        sys.exit(f"seepd ended: {process.stderr.read().decode()}")
    before, began = used(process.pid), time.monotonic()
    spoken = say(master, began + seconds, hz, driving, draw)
    took = time.monotonic() - began
    after = used(process.pid)
    memory = int(numbers(f"/proc/{process.pid}/status")["VmHWM"]) / 1024
    process.send_signal(signal.SIGTERM)
    process.wait()
    status.unlink(missing_ok=True)
    handed, charged, cpu = (b - a for a, b in zip(before, after))
    print(f"{what:8} {spoken / took:6.0f} readings/s: {handed / took * 3600 / 1e6:6.2f} MB/h handed to files,"
          f" {charged / took * 3600 / 1e6:6.2f} MB/h to storage, {100 * cpu / took:5.2f} % of a processor,"
          f" peak {memory:.1f} MB")
    store = sqlite3.connect(log)
    rows = store.execute("SELECT count(*) FROM tick").fetchone()[0]
    print(f"{'':8} {rows} rows; {rows / (took + 10):.1f} rows/s")


def main():
    arguments = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    arguments.add_argument("--seepd", required=True)
    arguments.add_argument("--seconds", type=float, default=60)
    arguments.add_argument("--parked-seconds", type=float, default=600)
    given = arguments.parse_args()
    print(f"load {os.getloadavg()[0]:.1f}; {given.seepd}; invented readings")
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        measure(given.seepd, folder, "driving", 42, True, given.seconds)
        measure(given.seepd, folder, "awake", 1, False, given.seconds)
        measure(given.seepd, folder, "parked", 1, False, given.parked_seconds, "rest_after_s = 5")


if __name__ == "__main__":
    main()
