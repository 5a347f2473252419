#!/usr/bin/env python3
"""Oracle of the rest model: runs the reference implementation on logs or on invented
cars and writes what it was given and what it found, for `cargo test -p seep-report
--test rest_model`.

    python3 -m venv target/venv-reference
    target/venv-reference/bin/pip install numpy==2.4.6 scipy==1.17.1
    target/venv-reference/bin/python report/tests/rest_model/oracle.py fixtures
    target/venv-reference/bin/python report/tests/rest_model/oracle.py logs OUT LOG.db…

The reference implementation is no part of this project; it is imported from
`../shared/reference/rest-model` beside the project, or from the folder that
SEEP_REST_MODEL_REFERENCE names. Without it the script says so and ends with status 77.
"""
import json, os, sys, pathlib
os.environ.setdefault('OMP_NUM_THREADS', '1')
HERE = pathlib.Path(__file__).resolve().parent
REFERENCE = pathlib.Path(os.environ.get('SEEP_REST_MODEL_REFERENCE') or HERE.parents[3] / 'shared' / 'reference' / 'rest-model')
if not (REFERENCE / 'model.py').exists():
    print('SKIPPED: no reference implementation of the rest model in ../shared/reference/rest-model; nothing was compared', file=sys.stderr)
    sys.exit(77)
sys.path[:0] = [str(REFERENCE), str(HERE)]
import numpy as np
import load, types


def departing():
    """The reference with what this project judges otherwise, each with its reason; all
    else is compared as it is. Limits are not here: `oracle.rs` says how far they may
    lie above."""
    text = (REFERENCE / 'model.py').read_text()

    def instead(old, new):
        nonlocal text
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    # Without a thermometer clear and overcast days differ: the day's round of each park
    # has a part of its own (columns/shared.rs).
    instead("        if s.gauge:\n            sb = (0.06", """        if kind == 'none':
            for k, f in enumerate((np.cos(hour), np.sin(hour))):
                pc.append(f * 2.0 / Tm); pn.append('T%s%d' % (car.tch[v], 6 + k))
        if s.gauge:
            sb = (0.06""")
    # Nights judged by two states show their scatter themselves, which nights known by
    # two ends need: their errors are too wide for each other (states.rs).
    instead("        wide = max(1.0, (neg[0] / 2.5) if len(neg) else 1.0)\n", """        scatter = np.median(np.abs(z0 - np.median(z0))) / 0.6745
        wide = max(np.sqrt((len(z0) * scatter ** 2 + 4) / (len(z0) + 4)), (neg[0] / 2.5) if len(neg) else 0.0)
""")
    instead("        s = se * wide * np.where(br, 2.0, 1.0)\n", "        s = se * wide\n")
    module = types.ModuleType('model')
    exec(compile(text, str(REFERENCE / 'model.py'), 'exec'), module.__dict__)
    return module


model = departing()
# The reference rounds the degrees of freedom to 0.1 to save quantiles; near 2 that moves a
# limit by 1 %. Here it does not.
model.inflate = lambda df: model.stats.t.ppf(0.975, min(df, 200.0)) / 1.959964
from invented import CASES, car as invented_car


def thinned(n):
    """Means per rest down to about n, to keep fixtures small."""
    def bins_of(ts, t_from):
        length = ts[-1] - ts[0]
        edges, ref = [ts[0]], ts[0]
        while edges[-1] < ts[-1]:
            w = min(max(60.0, length / n), max(120.0, 0.8 * (edges[-1] - ref)))
            nxt = edges[-1] + w
            j = np.searchsorted(ts, nxt)
            if j < len(ts) and ts[j] - nxt > 900:
                edges += [nxt, ts[j] - 1e-3]; ref = ts[j]
            else:
                edges.append(nxt)
        return np.array(edges)
    return bins_of


def rounded(s):
    """The very numbers that are written, so that both sides compute from the same."""
    r = lambda z, k: np.round(np.asarray(z, float), k)
    s.t, s.p, s.pa, s.V, s.T = r(s.t, 1), r(s.p, 4), r(s.pa, 3), r(s.V, 6), r(s.T, 3)
    s.a, s.b = float(np.round(s.a, 2)), float(np.round(s.b, 2))
    sig = lambda z: np.array([float('%.4g' % v) for v in np.asarray(z, float)])
    s.var, s.q = sig(s.var), sig(s.q)
    s.lag = [r(z, 3) for z in s.lag]; s.soak = [r(z, 4) for z in s.soak]; s.creep = [r(z, 5) for z in s.creep]
    s.other = {k: r(z, 3) for k, z in s.other.items()}
    if s.h is not None:
        s.h, s.slope = r(s.h, 3), sig(s.slope)
    s.y = np.log(s.p * s.V / s.T)


def exported(c):
    index = {v: i for i, v in enumerate(c.vols)}
    volumes = []
    for v in c.vols:
        th = c.tch[v]
        ss = [s for s in c.segs if s.v == v]
        volumes.append(dict(
            name=v, is_tank=v == 'tank', axle=c.axle.get(v),
            thermometer='None' if th is None else ('Own' if th == v else {'Far': th}),
            has_height=bool(ss and ss[0].has_h), fed_by_tank=v != 'tank' and 'tank' in c.pgrid,
            volume_uncertainty=(c.corner[v].get('volume_uncertainty_percent', 5.0) if v in c.corner else 3.0) / 100))
    rests = []
    for s in c.segs:
        l = lambda z: [float(x) for x in z]
        if c.has_baro:
            i = np.searchsorted(c.baro_t, [s.a, s.b])
            silence = float(np.max(np.diff(np.concatenate([[s.a], c.baro_t[i[0]:i[1]], [s.b]]))))
        else:
            silence = None
        rests.append(dict(
            volume=index[s.v], park=s.park, start_s=s.a, end_s=s.b, t_s=l(s.t), kpa_abs=l(s.p),
            outside_kpa_abs=l(s.pa), gauge=bool(s.gauge), volume_l=l(s.V),
            height_mm=l(s.h) if s.h is not None else [], slope_l_per_mm=l(s.slope) if s.h is not None else [],
            kelvin=l(s.T), ln_variance=l(s.var), ln_count=l(s.q), noise_per_count=float(s.dither),
            reading_sd_kpa=float(s.sp), lag_k=[l(z) for z in s.lag],
            other_k=[[k, l(z)] for k, z in s.other.items()], soak=[l(z) for z in s.soak],
            creep=[l(z) for z in s.creep],
            others_kpa_abs=[l(np.round(np.interp(s.t, c.tg, c.pgrid[v]), 2)) if v in c.pgrid else None for v in c.vols],
            last_move=None if s.move is None else dict(end_s=float(s.move[0]), sign=float(s.move[1]), duration_s=float(s.move[2])),
            levelled_s=None if s.level_t is None else float(s.level_t),
            longest_silence_s=float(s.gaps), barometer_silence_s=silence))
    outside = c.temps.get('ambient')
    outside = [] if outside is None else [[float(t), round(float(x), 3)] for t, x in zip(c.tg[::60], outside[::60])]
    return dict(volumes=volumes, rests=rests, outside_c=outside)


def found(c):
    index = {v: i for i, v in enumerate(c.vols)}
    return dict(
        named=list(c.active), said={k: [float(x) for x in z] for k, z in c.said.items()},
        estimates={k: [float(x) for x in z] for k, z in c.est.items()},
        limits={k: float(z) for k, z in c.limits.items()},
        pooled={v: [float(z[0]), float(z[1])] for v, z in c.pool.items()},
        rests=[dict(volume=index[r['v']], park=r['park'], c=float(r['c']), se=float(r['se']), f=float(r['f'])) for r in c.rs],
        first=[dict(volume=index[r['v']], park=r['park'], c=float(r['c']), se=float(r['se'])) for r in c.rs0],
        spread={v: float(z) for v, z in c.omega.items()}, usual={v: float(z) for v, z in c.scale.items()},
        sizes={k: float(z) for k, z in c.fam.items()},
        two_states={k: [float(z[0]), float(z[1]), z[2], z[3]] for k, z in c.twostate.items()},
        also=[a[0] for a in c.also], withdrawn=list(c.dropped))


def written(made, source, out, thin=None):
    if thin:
        keep, load.bins_of = load.bins_of, thinned(thin)
    c = load.cut(source)
    if thin:
        load.bins_of = keep
    for s in c.segs:
        rounded(s)
    outside = c.temps.get('ambient')
    model.analyse(c)
    result = dict(made=made, car=exported(c), expected=found(c))
    out.parent.mkdir(parents=True, exist_ok=True)
    out.write_text(json.dumps(result, separators=(',', ':')))
    print(out.name, out.stat().st_size // 1000, 'kB', len(c.segs), 'rests', c.active, c.also, {k: '%.3f' % v[0] for k, v in c.pool.items()})


if __name__ == '__main__':
    if sys.argv[1:2] == ['fixtures']:
        for name, options in CASES.items():
            written('invented: oracle.py fixtures, no recording behind it; expected figures by the reference implementation',
                    invented_car(**options), HERE / 'fixtures' / (name + '.json'), thin=4)
    elif sys.argv[1:2] == ['logs'] and len(sys.argv) > 3:
        for path in sys.argv[3:]:
            written('a log of this project, all invented', load.load(path), pathlib.Path(sys.argv[2]) / (pathlib.Path(path).parent.name + '-' + pathlib.Path(path).stem + '.json'))
    else:
        sys.exit(__doc__)
