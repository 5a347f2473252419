"use strict";
// Zooming and moving along the time axis. The page is complete without it:
// this only redraws the plots from the data that stands beside them.
(() => {
  const WIDTH = 1000;
  const LANE = 10;
  const MARKERS = 7;
  const DAY = 86400000;
  const MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split(" ");
  const STEPS = [1, 2, 5, 10, 30, 60, 120, 300, 600, 1800, 3600, 7200, 10800, 21600, 43200,
    86400, 172800, 259200, 345600, 604800, 1209600, 2419200].map((s) => s * 1000);
  const short = (v) => String(Math.round(v * 10) / 10);
  const two = (n) => String(n).padStart(2, "0");
  const minus = (text) => text.replace("-", "\u2212");

  // Times and values as they were before packing.
  function unpack(trace, data, decimals) {
    let at = 0;
    const t = trace.t.map((step) => data.from + (at += step) * data.step);
    const v = trace.v.map((n) => (n === null ? null : n / 10 ** decimals));
    return { name: trace.name, style: trace.style, t, v };
  }

  // First index whose time is not before `when`.
  function find(times, when) {
    let low = 0, high = times.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (times[middle] < when) low = middle + 1; else high = middle;
    }
    return low;
  }

  function roundStep(raw) {
    const power = 10 ** Math.floor(Math.log10(raw));
    const r = raw / power;
    return power * (r < 1.5 ? 1 : r < 3.5 ? 2 : r < 7.5 ? 5 : 10);
  }

  // Value axis around what is in view, as in the printed page.
  function axisAround(low, high) {
    if (low > high) { low = 0; high = 1; }
    const size = Math.max(Math.abs(low), Math.abs(high)) * 1e-6;
    const pad = Math.max(high - low, size, 1e-9) * 0.05;
    low -= pad; high += pad;
    const step = roundStep((high - low) / 5);
    const decimals = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
    const ticks = [];
    for (let i = Math.ceil(low / step); i * step <= high; i++) {
      const text = (i * step).toFixed(decimals);
      ticks.push([i * step, /[1-9]/.test(text) ? minus(text) : text.replace("-", "")]);
    }
    return { low, high, ticks };
  }

  function start(area) {
    const figure = area.closest("figure");
    const data = JSON.parse(figure.querySelector("script").textContent);
    if (data.to <= data.from) return;
    const space = figure.querySelector("svg").namespaceURI;
    const readout = figure.querySelector(".readout");
    const panels = [...area.querySelectorAll(".panel")].map((node, i) => ({
      decimals: data.panels[i].decimals,
      unit: data.panels[i].unit,
      traces: data.panels[i].traces.map((t) => unpack(t, data, data.panels[i].decimals)),
      labels: node.querySelector("svg.y"),
      plot: node.querySelector("svg.plot"),
      grid: node.querySelector("path.grid"),
      gap: node.querySelector("path.gap"),
      paths: node.querySelectorAll("path.trace"),
      lines: node.querySelectorAll("svg.plot path.trace"),
      groups: node.querySelectorAll("svg.plot > g"),
    }));
    const lanes = [...area.querySelectorAll("svg.lane:not(.none)")];
    const gapLane = area.querySelector("svg.lane.none path");
    const times = area.querySelector("svg.x");
    const whole = [data.from, data.to];
    const least = Math.max(2000, data.step * 20);
    let view = whole.slice();

    const make = (name, attributes, text) => {
      const node = document.createElementNS(space, name);
      for (const key in attributes) node.setAttribute(key, attributes[key]);
      if (text !== undefined) node.textContent = text;
      return node;
    };
    const share = (t) => (t - view[0]) / (view[1] - view[0]);
    const offsetAt = (t) => data.offsets.reduce((o, x) => (x[0] <= t ? x[1] : o), data.offsets[0][1]);
    const local = (t) => new Date(t + offsetAt(t));

    function clock(t) {
      const d = local(t);
      return `${d.getUTCDate()} ${MONTHS[d.getUTCMonth()]} ` +
        `${two(d.getUTCHours())}:${two(d.getUTCMinutes())}:${two(d.getUTCSeconds())}`;
    }

    function tickLabel(t, step) {
      const d = local(t);
      const hours = d.getUTCHours(), minutes = d.getUTCMinutes(), seconds = d.getUTCSeconds();
      if (step >= DAY || !(hours || minutes || seconds)) {
        return `${d.getUTCDate()} ${MONTHS[d.getUTCMonth()]}`;
      }
      const text = `${two(hours)}:${two(minutes)}`;
      return step < 60000 ? `${text}:${two(seconds)}` : text;
    }

    function timeTicks() {
      const wanted = Math.max(2, Math.floor(times.clientWidth / 70));
      const length = view[1] - view[0];
      const longest = STEPS[STEPS.length - 1];
      const step = STEPS.find((s) => length / s <= wanted) || Math.ceil(length / wanted / longest) * longest;
      const out = [];
      data.offsets.forEach((o, i) => {
        const from = i ? Math.max(o[0], view[0]) : view[0];
        const to = i + 1 < data.offsets.length ? Math.min(data.offsets[i + 1][0] - 1, view[1]) : view[1];
        for (let t = Math.ceil((from + o[1]) / step) * step - o[1]; t <= to; t += step) {
          out.push([t, tickLabel(t, step)]);
        }
      });
      return out;
    }

    function drawTimes() {
      times.replaceChildren(...timeTicks().map(([t, label]) => {
        const x = share(t);
        const side = x < 0.06 ? "first" : x > 0.94 ? "last" : "";
        return make("text", { x: `${short(x * 100)}%`, y: 14, class: side }, label);
      }));
    }

    // Spans as boxes, those out of view left out.
    function boxes(spans, base, height) {
      return spans.filter((s) => s[1] + base >= view[0] && s[0] + base <= view[1]).map((s) => {
        const from = Math.max(0, share(s[0] + base)) * WIDTH;
        const width = Math.max(1, Math.min(1, share(s[1] + base)) * WIDTH - from);
        return `M${short(from)} 0h${short(width)}v${height}h-${short(width)}z`;
      }).join("");
    }

    // What of a trace is in view, with one point beyond each edge.
    function range(trace) {
      return [Math.max(0, find(trace.t, view[0]) - 1), Math.min(trace.t.length, find(trace.t, view[1]) + 1)];
    }

    function tracePath(trace, y) {
      const [from, to] = range(trace);
      let d = "", down = false;
      for (let i = from; i < to; i++) {
        if (trace.v[i] === null) { down = false; continue; }
        const point = `${short(share(trace.t[i]) * WIDTH)} ${short(y(trace.v[i]))}`;
        d += down ? `L${point}` : `M${point}h0`;
        down = true;
      }
      return d;
    }

    function markers(trace, index, of, y) {
      const out = [];
      for (let k = 0; k < MARKERS; k++) {
        const wanted = (k + (index + 0.5) / of) / MARKERS;
        const i = find(trace.t, view[0] + wanted * (view[1] - view[0]));
        if (i >= trace.t.length || trace.v[i] === null) continue;
        const at = share(trace.t[i]);
        if (Math.abs(at - wanted) > 0.02) continue;
        out.push(make("use", { href: `#m${trace.style.slice(1)}`, x: `${short(at * 100)}%`, y: short(y(trace.v[i])) }));
      }
      return out;
    }

    function drawPanel(panel) {
      const height = Number(panel.plot.getAttribute("height"));
      let low = Infinity, high = -Infinity;
      for (const trace of panel.traces) {
        const [from, to] = range(trace);
        for (let i = from; i < to; i++) {
          const v = trace.v[i];
          if (v === null || trace.t[i] < view[0] || trace.t[i] > view[1]) continue;
          if (v < low) low = v;
          if (v > high) high = v;
        }
      }
      const axis = axisAround(low, high);
      const y = (v) => (1 - (v - axis.low) / (axis.high - axis.low)) * height;
      panel.grid.setAttribute("d", axis.ticks.map((t) => `M0 ${short(y(t[0]))}H${WIDTH}`).join(""));
      panel.gap.setAttribute("d", boxes(data.gaps, 0, height));
      panel.labels.replaceChildren(...axis.ticks.map((t) =>
        make("text", { x: 47, y: short(Math.min(height - 5, Math.max(5, y(t[0])))) }, t[1])));
      panel.traces.forEach((trace, i) => {
        panel.lines[i].setAttribute("d", tracePath(trace, y));
        panel.groups[i].replaceChildren(...markers(trace, i, panel.traces.length, y));
      });
    }

    function draw() {
      panels.forEach(drawPanel);
      lanes.forEach((lane, i) => {
        lane.querySelector(".wired").setAttribute("d", boxes(data.lanes[i][0], data.from, LANE));
        lane.querySelector(".inferred").setAttribute("d", boxes(data.lanes[i][1], data.from, LANE));
      });
      if (gapLane) gapLane.setAttribute("d", boxes(data.gaps, 0, LANE));
      drawTimes();
    }

    function show(from, to) {
      const length = Math.min(whole[1] - whole[0], Math.max(least, to - from));
      const middle = (from + to) / 2;
      const first = Math.min(Math.max(whole[0], middle - length / 2), whole[1] - length);
      view = [first, first + length];
      draw();
      readout.textContent = `Shown: ${clock(view[0])} to ${clock(view[1])}`;
    }

    // Zoom so that the moment at `place` (0 to 1) stays where it is.
    function zoom(factor, place) {
      const length = view[1] - view[0];
      const kept = view[0] + length * place;
      const wanted = Math.min(whole[1] - whole[0], Math.max(least, length * factor));
      show(kept - wanted * place, kept + wanted * (1 - place));
    }

    const move = (part) => {
      const by = (view[1] - view[0]) * part;
      show(view[0] + by, view[1] + by);
    };
    const actions = {
      in: () => zoom(0.5, 0.5),
      out: () => zoom(2, 0.5),
      left: () => move(-0.25),
      right: () => move(0.25),
      all: () => show(whole[0], whole[1]),
    };
    const keys = { "+": "in", "=": "in", "-": "out", ArrowLeft: "left", ArrowRight: "right", 0: "all", Home: "all" };

    function placeOf(event) {
      const box = panels[0].plot.getBoundingClientRect();
      return (event.clientX - box.left) / box.width;
    }

    // The readings next to the pointer.
    function read(place) {
      if (place < 0 || place > 1) return;
      const t = view[0] + place * (view[1] - view[0]);
      const near = (view[1] - view[0]) / 50;
      const parts = panels.map((panel) => panel.traces.map((trace) => {
        let i = find(trace.t, t);
        if (i > 0 && (i === trace.t.length || t - trace.t[i - 1] < trace.t[i] - t)) i--;
        const v = Math.abs(trace.t[i] - t) < near ? trace.v[i] : null;
        return `${trace.name} ${v === null || v === undefined ? "\u2014" : minus(v.toFixed(Math.max(0, panel.decimals - 1)))}`;
      }).join(", ") + (panel.unit ? ` ${panel.unit}` : ""));
      readout.textContent = `${clock(t)}: ${parts.join("; ")}`;
    }

    const pointers = new Map();
    function dragged(event) {
      if (!pointers.has(event.pointerId)) { read(placeOf(event)); return; }
      const before = [...pointers.values()];
      pointers.set(event.pointerId, placeOf(event));
      const after = [...pointers.values()];
      if (after.length === 1) {
        move(before[0] - after[0]);
      } else if (after.length === 2) {
        const apart = (p) => Math.max(0.02, Math.abs(p[0] - p[1]));
        zoom(apart(before) / apart(after), (after[0] + after[1]) / 2);
      }
    }

    area.tabIndex = 0;
    area.setAttribute("role", "group");
    area.setAttribute("aria-label", "Plot: left and right arrow move, plus and minus zoom, 0 shows all");
    area.addEventListener("keydown", (event) => {
      const action = keys[event.key];
      if (!action || event.ctrlKey || event.metaKey || event.altKey) return;
      event.preventDefault();
      actions[action]();
    });
    for (const panel of panels) {
      panel.plot.classList.add("live");
      panel.plot.addEventListener("pointerdown", (event) => {
        panel.plot.setPointerCapture(event.pointerId);
        pointers.set(event.pointerId, placeOf(event));
      });
      panel.plot.addEventListener("pointermove", dragged);
      for (const end of ["pointerup", "pointercancel"]) {
        panel.plot.addEventListener(end, (event) => pointers.delete(event.pointerId));
      }
      panel.plot.addEventListener("dblclick", (event) => zoom(0.5, placeOf(event)));
      // Only with Ctrl: the plain wheel scrolls the page.
      panel.plot.addEventListener("wheel", (event) => {
        if (!event.ctrlKey) return;
        event.preventDefault();
        zoom(event.deltaY > 0 ? 1.25 : 0.8, placeOf(event));
      }, { passive: false });
    }
    const tools = figure.querySelector(".zoom");
    tools.hidden = false;
    tools.addEventListener("click", (event) => {
      const action = actions[event.target.dataset.do];
      if (action) action();
    });
    window.addEventListener("resize", draw);
    window.addEventListener("beforeprint", draw);
    draw();
  }

  document.querySelectorAll("[data-zoom]").forEach(start);
})();
