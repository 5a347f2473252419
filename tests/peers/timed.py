"""Run a program and say what it took."""

import os
import statistics
import subprocess
import sys
import time


class Took:
    def __init__(self, wall_s, cpu_s, peak_mb, out):
        self.wall_s, self.cpu_s, self.peak_mb, self.out = wall_s, cpu_s, peak_mb, out


def timed(command):
    """Wall and processor time, peak memory and output of a command that must succeed."""
    began = time.perf_counter()
    process = subprocess.Popen([str(c) for c in command], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    out = process.stdout.read()
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode != 0:
        sys.exit(f"{' '.join(map(str, command))}: ended with {process.returncode}")
    return Took(time.perf_counter() - began, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024, out)


def medians(runs):
    """One value of each kind for several runs."""
    middle = lambda kind: statistics.median(getattr(run, kind) for run in runs)
    return Took(middle("wall_s"), middle("cpu_s"), middle("peak_mb"), runs[-1].out)
