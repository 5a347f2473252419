#!/usr/bin/env python3
"""Make the fixture that checks seep's signal extraction against cantools.

Databases and payloads are random (invented); every raw and scaled value in the
output was decoded by the reference library, never by seep.

    python3 -m venv venv && venv/bin/pip install cantools==45.1.0
    venv/bin/python make_signals.py --seed 1 --out signals_cantools.txt

Lines of the output:
    # comment
    D                       a database starts
    | text                  a line of it
    F id extended hex       a frame (hex is - for no data)
    S path raw scaled       a signal present in that frame, as cantools decodes it
Signals of the message that are not listed are absent: another branch of the
multiplex, or the frame is too short.
"""

import argparse
import random
import sys

import cantools

CANTOOLS = "45.1.0"
DATABASES = 70
MESSAGES = 4
FRAMES = 6

SCALES = ["1", "1", "1", "0.1", "0.5", "0.25", "0.01", "0.03125", "0.00390625", "8", "-1", "-0.125", "1e-05", "2.5E+3"]
OFFSETS = ["0", "0", "0", "-40", "-273", "-3200", "0.5", "1000000", "-1.25e-2"]


def bits_of(start, length, big_endian):
    """Every bit of a signal as byte * 8 + bit."""
    if not big_endian:
        return set(range(start, start + length))
    first = start - start % 8 + (7 - start % 8)
    return {p - p % 8 + (7 - p % 8) for p in range(first, first + length)}


def place(rng, free, size, length):
    """A random free place for a signal: (start, big_endian, bits), or None."""
    for _ in range(60):
        big_endian = rng.random() < 0.5
        start = rng.randrange(size * 8)
        bits = bits_of(start, length, big_endian)
        if bits <= free:
            return start, big_endian, bits
    return None


class NoRoom(Exception):
    """A branch that must hold a signal has no free place left."""


class Message:
    """One message as lines of a DBC."""

    def __init__(self, rng, number, kind):
        self.rng = rng
        self.kind = kind
        self.size = rng.choice([1, 2, 4, 5, 8, 8, 8, 8, 8, 8, 12, 24, 64])
        if kind != "plain":
            self.size = max(self.size, 8)
        self.extended = rng.random() < 0.4
        self.id = rng.randrange(1 << 29) if self.extended else number
        self.name = f"M{number}"
        self.number = self.id | (0x80000000 if self.extended else 0)
        self.lines = []
        self.tail = []
        self.count = 0

    def signal(self, free, mark="", length=None, plain_number=False, ranges=None):
        """Add a signal; returns its name and the bits it takes, or None."""
        rng = self.rng
        float_type = 0
        if length is None:
            pick = rng.random()
            if pick < 0.18:
                length, float_type = 32, 1
            elif pick < 0.3:
                length, float_type = 64, 2
            elif pick < 0.35:
                length = rng.choice([63, 64])
            else:
                length = rng.choice([1, 2, 3, 4, 7, 8, 8, 9, 11, 12, 16, 16, 24, 31, 32, 33, 40, 52, 53, 55])
        found = place(rng, free, self.size, length)
        if found is None:
            return None
        start, big_endian, bits = found
        name = f"S{self.count}"
        self.count += 1
        sign = "-" if float_type or (not plain_number and rng.random() < 0.5) else "+"
        scale = "1" if plain_number else rng.choice(SCALES)
        offset = "0" if plain_number else rng.choice(OFFSETS)
        if not plain_number and rng.random() < 0.1:
            scale, offset = repr(rng.uniform(-10, 10)), repr(rng.uniform(-1e4, 1e4))
        order = 0 if big_endian else 1
        self.lines.append(
            f' SG_ {name} {mark}{" " if mark else ""}: {start}|{length}@{order}{sign} ({scale},{offset}) [0|0] "u" X'
        )
        if float_type:
            self.tail.append(f"SIG_VALTYPE_ {self.number} {name} : {float_type};")
        if ranges is not None:
            multiplexer, values = ranges
            listed = ", ".join(f"{a}-{b}" for a, b in values)
            self.tail.append(f"SG_MUL_VAL_ {self.number} {name} {multiplexer} {listed};")
        return name, bits

    def build(self):
        free = set(range(self.size * 8))
        if self.kind == "simple":
            self.simple(free)
        elif self.kind == "nested":
            self.nested(free)
        for _ in range(self.rng.randrange(2, 8)):
            made = self.signal(free)
            if made:
                free -= made[1]
        return self

    def switch(self, free, width, mark, ranges=None):
        made = self.signal(free, mark, width, plain_number=True, ranges=ranges)
        if made is None:
            raise NoRoom
        free -= made[1]
        return made[0]

    def branch(self, free, mark, ranges=None):
        """Signals of one branch, at least one; returns the bits they take."""
        taken = set()
        for attempt in range(self.rng.randrange(1, 4)):
            length = self.rng.randrange(1, 9) if attempt == 0 else None
            made = self.signal(free - taken, mark, length, ranges=ranges)
            if made:
                taken |= made[1]
        if not taken:
            raise NoRoom
        return taken

    def simple(self, free):
        """One multiplexer; every value of it has at least one signal."""
        width = self.rng.choice([1, 2, 3])
        self.switch(free, width, "M")
        taken = set()
        for value in range(1 << width):
            taken |= self.branch(free, f"m{value}")
        free -= taken

    def nested(self, free):
        """A multiplexer whose one branch holds another, both with ranges."""
        outer = self.switch(free, 2, "M")
        split = self.rng.choice([1, 2, 3])
        inner = self.switch(free, 2, f"m{split}M", (outer, [(split, 3)]))
        taken = self.branch(free, "m0", (outer, [(0, split - 1)]))
        for values in self.rng.choice([[[(0, 0), (2, 3)], [(1, 1)]], [[(0, 1)], [(2, 3)]], [[(0, 3)], [(1, 2)]]]):
            taken |= self.branch(free - taken, f"m{values[0][0]}", (inner, values))
        free -= taken

    def text(self):
        return [f"BO_ {self.number} {self.name}: {self.size} X", *self.lines]


def build(rng, number, kind):
    """A message, built anew while its branches do not find room."""
    while True:
        try:
            return Message(rng, number, kind).build()
        except NoRoom:
            continue


def show(value):
    """Digits from which the same number is read back."""
    return str(value) if isinstance(value, int) else repr(float(value))


def frames(rng, message, database, out):
    for index in range(FRAMES):
        size = message.size
        if index == FRAMES - 1:
            size = rng.randrange(0, message.size)
        data = bytes(rng.choice([0, 255, rng.randrange(256), rng.randrange(256)]) for _ in range(size))
        arguments = dict(decode_choices=False, allow_truncated=True)
        found = database.get_message_by_name(message.name)
        raw = found.decode(data, scaling=False, **arguments)
        scaled = found.decode(data, scaling=True, **arguments)
        out.append(f"F {message.id} {int(message.extended)} {data.hex() or '-'}")
        for name in raw:
            out.append(f"S {message.name}.{name} {show(raw[name])} {show(scaled[name])}")


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seed", type=int, required=True)
    parser.add_argument("--out", required=True)
    parser.add_argument("--databases", type=int, default=DATABASES)
    arguments = parser.parse_args()
    if cantools.__version__ != CANTOOLS:
        sys.exit(f"cantools {CANTOOLS} is needed, {cantools.__version__} is installed; pip install cantools=={CANTOOLS}")
    rng = random.Random(arguments.seed)
    out = [
        f"# Decoded by cantools {CANTOOLS}; random databases and payloads, invented, seed {arguments.seed}.",
        "# Made by make_signals.py.",
    ]
    for database_index in range(arguments.databases):
        messages = []
        for index in range(MESSAGES):
            kind = rng.choice(["plain", "plain", "simple", "nested"])
            messages.append(build(rng, 16 + database_index % 500 * MESSAGES + index, kind))
        lines = ['VERSION ""', "", "BU_: X", ""]
        for message in messages:
            lines += message.text() + [""]
        for message in messages:
            lines += message.tail
        database = cantools.database.load_string("\n".join(lines) + "\n", "dbc")
        out.append("D")
        out += [f"| {line}" for line in lines]
        for message in messages:
            frames(rng, message, database, out)
    with open(arguments.out, "w", encoding="ascii", newline="\n") as file:
        file.write("\n".join(out) + "\n")


if __name__ == "__main__":
    main()
