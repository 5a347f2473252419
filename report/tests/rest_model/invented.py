"""Invented cars at rest, for the oracle of the rest model. Every number here is made
up; nothing was recorded.

A car has corners of 3 L at zero height with 100 cm2 and a 19 L tank; readings each
minute. A corner carries its load at steady pressure until it sits on its stop.
"""
import numpy as np

STOP_MM = -45.0
T20 = 293.15


def phi(r, b=0.3):
    r = np.clip(r, 0, 1)
    return 1.0 if r <= b else float(np.sqrt(max(0.0, 1 - ((r - b) / (1 - b)) ** 2)))


class Invented:
    pass


def car(seed, days=14, corners=('front_left', 'front_right', 'rear_left', 'rear_right'),
        leak=None, nights=None, soak=None, sun=None, gain=None, fill=None, creep=0.0,
        ambient=True, barometer=True, heights=True, tank_leak=0.0, step_s=60.0, seep=0.02):
    """`leak`: cm3/min ANR at the usual pressure by corner, only in `nights` if given.
    `soak`: K after a drive by corner. `sun`: K at noon by corner. `gain`: kPa/K by
    corner. `fill`: passing fill valve by corner. `creep`: volume per decade."""
    rng = np.random.default_rng(seed)
    leak, soak, sun, gain, fill = leak or {}, soak or {}, sun or {}, gain or {}, fill or {}
    t = np.arange(0.0, days * 86400.0, step_s)
    hour = (t % 86400) / 3600
    day = (t // 86400).astype(int)
    front = np.cumsum(rng.normal(0, 0.01, len(t)))
    outside = 12 + 5 * np.cos(2 * np.pi * (hour - 15) / 24) + front
    pa = 99.5 + np.cumsum(rng.normal(0, 0.004, len(t)))
    starts = np.array([7.5, 16.5])[None, :] + rng.uniform(-0.7, 0.7, (days, 2))
    driving = np.zeros(len(t), bool)
    for d in range(days):
        for s in starts[d]:
            driving |= (day == d) & (hour >= s) & (hour < s + 0.6)
    heat = np.zeros(len(t)); x = 0.0
    for i, on in enumerate(driving):
        x = 1 - (1 - x) * np.exp(-step_s / 600) if on else x * np.exp(-step_s / 5400)
        heat[i] = x
    spans, quant, chan = {}, {}, {}
    load = {c: 560.0 + 60 * ('front' in c) for c in corners}
    area = 100.0
    n, h, temp = {}, {}, {}
    tank_n = (850 + 99.5) / 100 * 19.0 * T20 / (outside[0] + 273.15)
    for c in corners:
        temp[c] = outside + soak.get(c, 0.0) * heat + sun.get(c, 0.0) * np.clip(np.sin(np.pi * (hour - 5.5) / 13), 0, None) ** 1.5
        n[c] = (load[c] + 99.5) / 100 * 3.0 * T20 / (temp[c][0] + 273.15)
    p = {c: np.empty(len(t)) for c in corners}
    hh = {c: np.empty(len(t)) for c in corners}
    pt = np.empty(len(t))
    since = 0.0
    for i in range(len(t)):
        since = 0.0 if driving[i] else since + step_s
        tt = outside[i] + 273.15
        pt[i] = tank_n * 100 * tt / (19.0 * T20)
        end = i + 1 < len(t) and driving[i] and not driving[i + 1]
        for c in corners:
            tk = temp[c][i] + 273.15
            soft = 1 + creep * np.log10(1 + since / 60)
            v = n[c] * 100 * tk / ((load[c] + pa[i]) * T20)
            height = (v / soft - 3.0) / area * 1e4
            if height < STOP_MM:
                height = STOP_MM
                v = (3.0 + area * STOP_MM / 1e4) * soft
            p[c][i] = n[c] * 100 * tk / (v * T20)
            hh[c][i] = height
            loss = seep
            if nights is None or day[i] in nights:
                loss += leak.get(c, 0.0)
            ref = load[c] + 99.5
            q = loss * p[c][i] / ref * phi(pa[i] / p[c][i]) * np.sqrt(T20 / tk) / 60000
            n[c] = max(n[c] - q * step_s, 0.4)
            if c in fill and pt[i] > p[c][i]:
                q = fill[c] * pt[i] / 950 * phi(p[c][i] / pt[i]) / 60000
                n[c] += q * step_s; tank_n -= q * step_s
            # levelled to zero height at the end of a drive
            if end:
                target = (load[c] + pa[i]) / 100 * 3.0 * soft * T20 / tk
                d = target - n[c]
                if abs(d) > 0.02:
                    kind = 'fill' if d > 0 else 'dump'
                    spans.setdefault((kind, c), []).append((t[i] - 4.0 - 2 * abs(d), t[i] - 4.0))
                    n[c] = target
                    if d > 0:
                        tank_n -= d
        tank_n -= tank_leak * pt[i] / 950 / 60000 * step_s
        if driving[i] and pt[i] < 760:
            spans.setdefault(('run', ''), []).append((t[i], t[i] + 50))
            tank_n += 25.0
    kpa = lambda z, sd: np.round((z + rng.normal(0, sd, len(t))) / 0.1) * 0.1
    for c in corners:
        drift = gain.get(c, 0.0) * (temp[c] - 15.0)
        chan[c + '_kpa_gauge'] = kpa(p[c] - pa + drift, 0.15)
        if heights:
            chan[c + '_mm'] = np.round((hh[c] + rng.normal(0, 0.1, len(t))) / 0.1) * 0.1
    chan['tank_kpa_gauge'] = kpa(pt - pa, 0.4)
    if ambient:
        chan['ambient_c'] = np.round(outside + rng.normal(0, 0.05, len(t)), 1)
    if barometer:
        chan['ambient_kpa_abs'] = np.round(pa + rng.normal(0, 0.01, len(t)), 2)
    chan['vehicle_kmh'] = np.where(driving, 50.0, 0.0)
    made = Invented()
    made.t, made.x = t, chan
    made.quant = {k: 0.01 if k == 'ambient_kpa_abs' else 0.1 for k in chan}
    made.spans, made.wired, made.sessions = spans, True, [(t[0], t[-1])]
    made.rig = dict(
        vehicle=dict(altitude_m=150.0),
        tank=dict(volume_l=19.0),
        circuit=[dict(name=c, axle=c.split('_')[0], volume_at_zero_height_l=3.0,
                      effective_area_cm2=area) for c in corners])
    return made


PAIR = ('front_left', 'front_right')
CASES = {
    'soak-healthy': dict(seed=11, days=6, corners=PAIR, soak={'front_left': 4.0, 'front_right': 4.0}, creep=0.002),
    'leak-sun': dict(seed=12, days=6, corners=PAIR, leak={'front_left': 3.0}, sun={'front_right': 6.0}),
    'fill-valve-no-thermometer': dict(seed=13, days=6, corners=PAIR, fill={'front_right': 4.0}, ambient=False, barometer=False),
}
