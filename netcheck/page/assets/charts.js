"use strict";
// Charts of the page: signals over time, opened from their row, and the load of each network.
(() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  const TICKS = 10000; // a second, as the page's times count
  const PRINT_WIDTH = 660;
  const charts = new Set();
  let printing = false;

  function colours() {
    if (printing) return { ink: "#000", soft: "#444", line: "#bbb", band: "#ddd", gap: "#f3f3f3" };
    const style = getComputedStyle(document.documentElement);
    const of = (name) => style.getPropertyValue(name).trim();
    return { ink: of("--link"), soft: of("--soft"), line: of("--line"), band: of("--mark"), gap: of("--hole") };
  }

  function make(tag, text, attributes = {}) {
    const element = document.createElement(tag);
    if (text) element.textContent = text;
    for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
    return element;
  }

  const seconds = (value) => `${value.toFixed(3)} s`;

  // ------------------------------------------------------------------ rows

  function rowsOf(run) {
    // Times and values with a break wherever no frame came for a while.
    const x = [], y = [];
    let ticks = 0, gap = 0, last = null;
    for (let i = 0; i < run.t.length; i++) {
      ticks += run.t[i];
      const at = ticks / TICKS;
      while (gap < run.gaps.length && run.gaps[gap][1] <= at + 1 / TICKS) {
        const [begin, end] = run.gaps[gap++];
        x.push(begin, begin + 1e-6, end);
        y.push(last, null, last);
      }
      x.push(at);
      y.push(run.v[i]);
      last = run.v[i];
    }
    return [x, y];
  }

  function statesOf(run, y) {
    const found = [...new Set(y.filter((value) => value !== null))].sort((a, b) => a - b);
    return found.map((raw) => ({ raw, text: run.labels[raw] ? `${run.labels[raw]} (${raw})` : String(raw) }));
  }

  // ------------------------------------------------------------------ a chart

  function bands(run) {
    // Marks as bands, gaps as hatched stretches, behind the line.
    return (plot) => {
      const { ctx, bbox } = plot, tone = colours();
      ctx.save();
      ctx.beginPath();
      ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
      ctx.clip();
      for (const [begin, end] of run.marks ?? []) {
        const left = plot.valToPos(begin, "x", true), right = plot.valToPos(end, "x", true);
        ctx.fillStyle = tone.band;
        ctx.fillRect(left, bbox.top, Math.max(right - left, 1), bbox.height);
        ctx.strokeStyle = tone.soft;
        ctx.strokeRect(left, bbox.top - 1, Math.max(right - left, 1), bbox.height + 2);
      }
      for (const [begin, end] of run.gaps ?? []) {
        const left = plot.valToPos(begin, "x", true), right = plot.valToPos(end, "x", true);
        ctx.fillStyle = tone.gap;
        ctx.fillRect(left, bbox.top, Math.max(right - left, 1), bbox.height);
        ctx.strokeStyle = tone.line;
        ctx.beginPath();
        const from = Math.max(left, bbox.left), to = Math.min(right, bbox.left + bbox.width);
        for (let at = from - bbox.height; at < to; at += 12) {
          ctx.moveTo(Math.max(at, from), bbox.top + Math.max(from - at, 0));
          const stop = Math.min(at + bbox.height, to);
          ctx.lineTo(stop, bbox.top + stop - at);
        }
        ctx.stroke();
      }
      ctx.restore();
    };
  }

  function axis(extra) {
    return {
      stroke: () => colours().soft,
      grid: { stroke: () => colours().line, width: 1 },
      ticks: { stroke: () => colours().line, width: 1 },
      ...extra,
    };
  }

  function tellRange(place, plot) {
    // What a chart shows of time, for those who ask the page: its canvas does not tell.
    place.dataset.shows = `${plot.scales.x.min} ${plot.scales.x.max}`;
  }

  function draw(place, run, rows, { height, yAxis, yRange, series, end, tell }) {
    const width = () => (printing ? PRINT_WIDTH : Math.max(place.clientWidth, 240));
    const plot = new uPlot(
      {
        width: width(),
        height,
        legend: { show: false },
        scales: { x: { time: false, range: (_, low, high) => [low, high] }, y: { range: yRange } },
        axes: [axis({ values: (_, splits) => splits.map((at) => `${+at.toFixed(4)} s`) }), axis(yAxis)],
        series: [{}, ...series],
        cursor: { y: false, drag: { x: true, y: false }, points: { size: 7 } },
        hooks: { setScale: [(shown) => tellRange(place, shown)], drawClear: [bands(run)], setCursor: tell ? [tell] : [] },
      },
      rows,
      place,
    );
    plot.over.addEventListener("dblclick", () => show(0, end));
    const entry = {
      plot,
      place,
      resize: () => plot.setSize({ width: width(), height }),
    };
    charts.add(entry);

    function show(low, high) {
      const span = Math.min(Math.max(high - low, 1e-3), end || 1);
      const begin = Math.min(Math.max(low, 0), Math.max(end - span, 0));
      plot.setScale("x", { min: begin, max: begin + span });
    }
    function move(factor, shift) {
      const { min, max } = plot.scales.x, middle = (min + max) / 2 + shift * (max - min);
      const half = ((max - min) * factor) / 2;
      show(middle - half, middle + half);
    }
    const moves = {
      "+": () => move(0.5, 0), "-": () => move(2, 0), ArrowLeft: () => move(1, -0.25), ArrowRight: () => move(1, 0.25),
      0: () => show(0, end), Home: () => move(1, -1e9), End: () => move(1, 1e9),
    };
    moves["="] = moves["+"];
    place.tabIndex = 0;
    place.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey || !moves[event.key]) return;
      event.preventDefault();
      moves[event.key]();
    });
    place.addEventListener("wheel", (event) => {
      if (!event.ctrlKey && !event.shiftKey) return;
      event.preventDefault();
      const steps = event.deltaY || event.deltaX;
      if (event.ctrlKey) move(steps > 0 ? 1.25 : 0.8, 0);
      else move(1, steps > 0 ? 0.1 : -0.1);
    }, { passive: false });
    show(0, end);
    return { entry, moves };
  }

  function buttons(moves, name) {
    const row = make("p", "", { class: "tools noprint" });
    const words = [["+", "Zoom in"], ["-", "Zoom out"], ["ArrowLeft", "Earlier"], ["ArrowRight", "Later"], ["0", "Whole capture"]];
    for (const [key, word] of words) {
      const button = make("button", word, { type: "button", "aria-label": `${word}: ${name}` });
      button.addEventListener("click", moves[key]);
      row.append(button);
    }
    return row;
  }

  // ------------------------------------------------------------------ signals

  function nearest(x, at) {
    // The last row at or before a time.
    let low = 0, high = x.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (x[middle] <= at) low = middle + 1;
      else high = middle;
    }
    return low - 1;
  }

  function signalRun(signal, run) {
    const name = `${signal.role}, ${run.when} fitting`;
    const figure = make("figure");
    figure.append(make("figcaption", `${run.when === "before" ? "Before" : "After"} fitting: ${run.file}, ${run.channel}`));
    const rows = rowsOf(run);
    const states = signal.state ? statesOf(run, rows[1]) : null;
    const text = (value) => {
      if (value === null || value === undefined) return "no value";
      const state = states?.find((one) => one.raw === value);
      return state ? state.text : `${value} ${signal.unit}`.trim();
    };
    const at = new Map(states?.map((state, number) => [state.raw, number]));
    const drawn = states ? rows[1].map((value) => (value === null ? null : at.get(value))) : rows[1];
    const told = make("p", "", { class: "told" });
    const place = make("div", "", { class: "plot", role: "group", "aria-label": `Chart of ${name}. Keys: plus and minus zoom, arrows move, 0 shows the whole capture.` });
    const table = frames(signal, run, text);
    figure.append(place, told, summary(run), table);
    return {
      figure,
      start() {
        const { moves } = draw(place, run, [rows[0], drawn], {
          height: states ? Math.min(Math.max(90, 60 + 22 * states.length), 260) : 200,
          end: run.seconds,
          yRange: states ? () => [-0.4, Math.max(states.length - 0.6, 0.4)] : undefined,
          yAxis: states
            ? { size: 110, splits: () => states.map((_, number) => number), values: (_, splits) => splits.map((number) => short(states[number].text)) }
            : { size: 70, label: signal.unit || undefined },
          series: [{ stroke: () => colours().ink, width: 2, paths: uPlot.paths.stepped({ align: 1 }), points: { show: false } }],
          tell(plot) {
            const left = plot.cursor.left;
            if (left === undefined || left < 0) return;
            const time = plot.posToVal(left, "x"), row = nearest(rows[0], time);
            told.textContent = `${seconds(time)}: ${row < 0 ? "no frame yet" : text(rows[1][row])}`;
          },
        });
        place.querySelector(".u-over").addEventListener("click", (event) => {
          const plot = [...charts].find((entry) => entry.place === place).plot;
          mark(table, plot.posToVal(event.offsetX, "x"));
        });
        place.after(buttons(moves, name));
      },
    };
  }

  const short = (text) => (text.length > 16 ? `${text.slice(0, 15)}…` : text);

  function summary(run) {
    const parts = [`${run.rows.toLocaleString("en")} frames carry it`];
    if (run.changes) parts.push(`${run.changes.toLocaleString("en")} changes`);
    if (!run.whole) parts.push("drawn thinned: the least and the largest of each stretch");
    const list = make("ul");
    list.append(make("li", `${parts.join("; ")}.`));
    for (const [begin, end, state] of run.marks) list.append(make("li", `Mark (band): ${state}, ${begin} s to ${end} s.`));
    for (const [begin, end, silent] of run.gaps.slice(0, 12)) {
      list.append(make("li", `Gap (hatched): no frame of it from ${seconds(begin)} to ${seconds(end)}${silent ? "; nothing else came either" : ""}.`));
    }
    const more = Math.max(run.gaps.length - 12, 0) + run.moreGaps;
    if (more) list.append(make("li", `${more.toLocaleString("en")} more gaps.`));
    return list;
  }

  function frames(signal, run, text) {
    const box = make("details");
    box.append(make("summary", `Frames behind it: ${run.frames.length} of ${run.rows.toLocaleString("en")}`));
    box.append(make("p", `${signal.title}, id ${signal.id}. The bytes that hold the signal are underlined. A click in the chart marks the frame before it.`));
    const scroll = make("div", "", { class: "frames", tabindex: "0", role: "region", "aria-label": `Frames of ${signal.role}` });
    const table = make("table");
    const head = make("tr");
    for (const word of ["Time", "Value", "Bytes"]) head.append(make("th", word, { scope: "col" }));
    const body = make("tbody");
    for (const [time, value, hex] of run.frames) {
      const row = make("tr");
      const bytes = make("td", "", { class: "hex" });
      for (let number = 0; 2 * number < hex.length; number++) {
        const held = number >= signal.bytes[0] && number <= signal.bytes[1];
        bytes.append(make(held ? "u" : "span", hex.slice(2 * number, 2 * number + 2)), " ");
      }
      row.append(make("td", seconds(time)), make("td", text(value)), bytes);
      row.dataset.time = time;
      body.append(row);
    }
    const top = make("thead");
    top.append(head);
    table.append(top, body);
    scroll.append(table);
    box.append(scroll);
    return box;
  }

  function mark(box, time) {
    const rows = [...box.querySelectorAll("tbody tr")];
    for (const row of rows) row.removeAttribute("aria-current");
    const before = rows.filter((row) => Number(row.dataset.time) <= time).pop() ?? rows[0];
    if (!before) return;
    before.setAttribute("aria-current", "true");
    box.open = true;
    before.scrollIntoView({ block: "nearest" });
  }

  function toggle(button, open) {
    const row = document.getElementById(button.dataset.target);
    const cell = row.firstElementChild;
    button.setAttribute("aria-expanded", String(open));
    row.hidden = !open;
    if (!open || cell.childElementCount) return;
    const signal = data.signals[button.dataset.signal];
    cell.append(make("h4", signal.title));
    const runs = signal.runs.map((run) => signalRun(signal, run));
    cell.append(...runs.map((run) => run.figure));
    for (const run of runs) run.start();
  }

  const openers = [...document.querySelectorAll("button.show")];
  for (const button of openers) {
    button.addEventListener("click", () => toggle(button, button.getAttribute("aria-expanded") !== "true"));
  }
  for (const [id, open] of [["open-all", true], ["close-all", false]]) {
    document.getElementById(id)?.addEventListener("click", () => openers.forEach((button) => toggle(button, open)));
  }

  // ------------------------------------------------------------------ load

  for (const place of document.querySelectorAll("[data-load]")) {
    const run = data.load[Number(place.dataset.load)].runs[Number(place.dataset.run)];
    const x = run.mean.map((_, number) => number * run.width);
    x.push(run.mean.length * run.width);
    const rows = [x, [...run.mean, run.mean.at(-1)], [...run.peak, run.peak.at(-1)]];
    const paths = uPlot.paths.stepped({ align: 1 });
    const { moves } = draw(place, {}, rows, {
      height: 170,
      end: x.at(-1),
      yRange: (_, low, high) => [0, Math.max(high * 1.1, 1)],
      yAxis: { size: 60, values: (_, splits) => splits.map((share) => `${+share.toFixed(2)} %`) },
      series: [
        { stroke: () => colours().ink, width: 2, paths, points: { show: false } },
        { stroke: () => colours().soft, width: 1, dash: [4, 4], paths, points: { show: false }, show: run.width > 1 },
      ],
    });
    place.after(buttons(moves, place.getAttribute("aria-label")));
  }

  // ------------------------------------------------------------------ size, colours, paper

  const redraw = () => charts.forEach((entry) => entry.resize());
  let waiting = 0;
  addEventListener("resize", () => {
    clearTimeout(waiting);
    waiting = setTimeout(redraw, 100);
  });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", redraw);
  addEventListener("beforeprint", () => { printing = true; redraw(); });
  addEventListener("afterprint", () => { printing = false; redraw(); });
  // A page that is asked for with this behind its name, as the print to PDF is, has all charts open.
  if (location.hash === "#open-all") openers.forEach((button) => toggle(button, true));
})();
