#!/usr/bin/env python3
"""Makes the CAN logs in can_logs/ with programs that are not ours.

The frames are invented. python-can 4.6.1 writes ASC, TRC 2.1, TRC 1.0 and candump's
own log; can-utils 2020.11 turns the last into the console form (log2long) and into a
second ASC file (log2asc). Run again after a change; the files are checked in.

    pip install python-can==4.6.1; apt install can-utils
    TZ=UTC python3 make_can_logs.py
"""
import pathlib
import random
import subprocess

import can
from can.io.trc import TRCFileVersion, TRCWriter

OUT = pathlib.Path(__file__).parent / "can_logs"
START = 1_754_820_000.25  # 2025-08-10 10:00:00.250 UTC


def messages(only_data=False, only_classic=False):
    """Invented frames of every kind, 25 ms apart."""
    rng = random.Random(19)
    for n in range(60):
        t = START + n * 0.025 + rng.randrange(20_000) / 1e6 * (n > 0)
        common = dict(timestamp=round(t, 6), channel=n % 2, is_rx=n % 5 != 0)
        data = bytes(rng.randrange(256) for _ in range(rng.randrange(9)))
        if n % 10 == 7:
            if not only_data:
                yield can.Message(arbitration_id=0x123, is_extended_id=False, is_remote_frame=True, dlc=n % 9, **common)
        elif n % 10 == 8:
            if not only_classic:
                data = bytes(rng.randrange(256) for _ in range(rng.choice([8, 12, 20, 64])))
                yield can.Message(arbitration_id=0x18FF1200 + n, is_fd=True, bitrate_switch=n % 20 == 8, data=data, **common)
        elif n % 10 == 9:
            if not only_data:
                yield can.Message(is_error_frame=True, **common)
        elif n % 3 == 0:
            yield can.Message(arbitration_id=rng.randrange(0x800), is_extended_id=False, data=data, **common)
        else:
            yield can.Message(arbitration_id=0x18FE5800 + rng.randrange(256), data=data, **common)


def write(writer, **kinds):
    for message in messages(**kinds):
        writer(message)
    writer.stop()


def canutils(tool, source, target, *options):
    text = subprocess.run([tool, *options], input=(OUT / source).read_bytes(), stdout=subprocess.PIPE, check=True).stdout
    (OUT / target).write_bytes(text)


OUT.mkdir(exist_ok=True)
write(can.ASCWriter(OUT / "frames.asc"))
# The head holds the time of writing; the trigger block holds that of the frames.
head, rest = (OUT / "frames.asc").read_text().split("\n", 1)
(OUT / "frames.asc").write_text("date Mon Jan 01 00:00:00.000 2024\n" + rest)
write(can.CanutilsLogWriter(OUT / "frames.log"))
write(can.BLFWriter(OUT / "frames.blf"))
plain = dict(only_data=True, only_classic=True)
for name, version in [("plain-2.1.trc", TRCFileVersion.V2_1), ("plain-1.0.trc", TRCFileVersion.V1_0)]:
    writer = TRCWriter(OUT / name)
    writer.file_version = version
    write(writer, **plain)
    # The writer puts its own path into the head.
    text = (OUT / name).read_text().replace(str(OUT.resolve()), "")
    (OUT / name).write_text(text, newline="\r\n")
write(can.CanutilsLogWriter(OUT / "plain.log"), **plain)
canutils("log2long", "frames.log", "frames.console")
canutils("log2asc", "plain.log", "plain-canutils.asc", "can0", "can1")
