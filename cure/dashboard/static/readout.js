// Reads values off the charts of a page: one crosshair through all of them, by pointer, finger or arrow keys.
// A page works without it. It wants <p data-readout aria-live="polite"></p>, and begins with what that says.
// Values come back from the picture itself: a line is whole tenths of a unit, each step from the place before.
(() => {
  "use strict";
  const DAY = 86400000, QUARTER = 900000;
  const read = new WeakMap();
  let at = null, kind = "", waiting = 0;

  const numbers = (text) => (text.match(/-?\d+(\.\d+)?(e[+-]?\d+)?/g) || []).map(Number);
  const shown = () => [...document.querySelectorAll("svg.chart")].filter((c) => c.getClientRects().length);

  function axis(chart) {
    const [left, right, first, last] = numbers(chart.dataset.x);
    const log = chart.dataset.kind === "log";
    const part = (v) => (log ? Math.log(v / first) / Math.log(last / first) : (v - first) / (last - first));
    const value = (p) => (log ? first * (last / first) ** p : first + p * (last - first));
    return { left, right, first, last, part, place: (v) => left + part(v) * (right - left), value };
  }

  // Each stretch of a line as [x, y, x, y, ...], in tenths.
  function stretches(path) {
    if (!read.has(path)) {
      read.set(path, path.getAttribute("d").split("M").slice(1).map((text) => {
        const n = numbers(text);
        for (let i = 2; i < n.length; i++) n[i] += n[i - 2];
        return n;
      }));
    }
    return read.get(path);
  }

  // Where a line is at a place across; null: it has a hole there.
  function height(path, x) {
    for (const n of stretches(path)) {
      if (x < n[0] - 5 || x > n[n.length - 2] + 5) continue;
      let i = 2;
      while (i < n.length - 2 && n[i] < x) i += 2;
      const wide = n[i] - n[i - 2];
      const share = wide ? Math.min(1, Math.max(0, (x - n[i - 2]) / wide)) : 1;
      return n[i - 1] + share * (n[i + 1] - n[i - 1]);
    }
    return null;
  }

  function values(chart, x) {
    const found = [];
    for (const panel of chart.querySelectorAll("g[data-y]")) {
      const [top, bottom, high, low] = numbers(panel.dataset.y);
      for (const path of panel.querySelectorAll("path[data-name]")) {
        const y = height(path, 10 * x);
        if (y === null) continue;
        const value = low + ((bottom - y / 10) / (bottom - top)) * (high - low);
        // No figure that the picture cannot tell apart.
        const digits = (high - low) / (10 * (bottom - top)) > 0.1 ? 0 : 1;
        found.push(`${path.dataset.name} ${value.toFixed(digits)} ${panel.dataset.unit}`);
      }
    }
    return found;
  }

  function hour(ms, zone) {
    const form = { weekday: "short", day: "numeric", month: "short", hour: "2-digit", minute: "2-digit",
      hourCycle: "h23", timeZoneName: "short" };
    const lang = document.documentElement.lang || "en";
    try {
      return new Intl.DateTimeFormat(lang, { ...form, timeZone: zone }).format(ms);
    } catch {
      return new Intl.DateTimeFormat(lang, { ...form, timeZone: "UTC" }).format(ms);
    }
  }

  function draw() {
    waiting = 0;
    const line = document.querySelector("[data-readout]");
    const said = [];
    for (const chart of shown()) {
      const cross = chart.querySelector(".cross"), a = axis(chart);
      const inside = chart.dataset.kind === kind && at >= a.first && at <= a.last;
      const [top, bottom] = numbers(cross.dataset.span);
      cross.setAttribute("d", inside ? `M${a.place(at).toFixed(1)} ${top}V${bottom}` : "");
      if (!inside) continue;
      if (!said.length) said.push(kind === "time" ? hour(at, chart.dataset.zone || "UTC") : at.toPrecision(3));
      said.push(...values(chart, a.place(at)));
    }
    const text = said.join(" · ");
    // Only what is new: it is read aloud, and seen below.
    if (line && text && line.textContent !== text) line.textContent = text;
  }

  function move(chart, value) {
    const a = axis(chart);
    at = Math.min(a.last, Math.max(a.first, value));
    kind = chart.dataset.kind;
    if (!waiting) waiting = requestAnimationFrame(draw);
  }

  function pointed(event) {
    const chart = event.target.closest && event.target.closest("svg.chart");
    if (!chart) return;
    const box = chart.getBoundingClientRect(), a = axis(chart);
    const x = ((event.clientX - box.left) / box.width) * chart.viewBox.baseVal.width;
    move(chart, a.value((x - a.left) / (a.right - a.left)));
  }

  function pressed(event) {
    const chart = event.target.closest && event.target.closest("svg.chart");
    if (!chart || event.ctrlKey || event.altKey || event.metaKey) return;
    const a = axis(chart), key = event.key, time = chart.dataset.kind === "time";
    const from = at === null || chart.dataset.kind !== kind ? a.last : at;
    const way = { ArrowLeft: -1, ArrowRight: 1 }[key];
    if (key === "Home") move(chart, a.first);
    else if (key === "End") move(chart, a.last);
    else if (!way) return;
    else if (time) move(chart, from + way * (event.shiftKey ? DAY : Math.max(QUARTER, (a.last - a.first) / 400)));
    else move(chart, a.value(a.part(from) + way * (event.shiftKey ? 0.1 : 0.01)));
    event.preventDefault();
  }

  // Also those that come later, when a page renews a part of itself.
  function ready() {
    for (const chart of document.querySelectorAll("svg.chart:not([tabindex])")) chart.setAttribute("tabindex", "0");
  }

  document.addEventListener("pointermove", pointed);
  document.addEventListener("pointerdown", pointed);
  document.addEventListener("keydown", pressed);
  new MutationObserver(() => { ready(); if (at !== null && !waiting) waiting = requestAnimationFrame(draw); })
    .observe(document.documentElement, { childList: true, subtree: true });
  ready();
})();
