"use strict";
(() => {
  const read = (id) => JSON.parse(document.getElementById(id).textContent);
  const figures = read("figures"), palettes = read("palettes");
  const root = document.documentElement, dark = matchMedia("(prefers-color-scheme: dark)");
  const touch = matchMedia("(pointer: coarse)");
  const narrow_px = 560, print_px = 660, most_cells = 6; // cells in a row that have room for a figure on a phone
  const drawn = {}, chosen = {}; // by figure and trace: what was drawn as visible, and what the reader switched
  let printing = false, range = null, moving = false;

  const mode = () => printing ? "light" : root.dataset.theme || (dark.matches ? "dark" : "light");
  const colours = (figure) => {
    const palette = palettes[mode()];
    return JSON.parse(JSON.stringify(figure).replace(/"token:(\w+)"/g, (_, name) => JSON.stringify(palette[name] || "#888888")));
  };
  const div = (id) => document.getElementById(id);

  const seen = (trace) => trace.visible === undefined ? true : trace.visible;

  function fitted(id) {
    const box = div(id), figure = colours(figures[id]), layout = figure.layout, palette = palettes[mode()];
    const width = printing ? print_px : box.clientWidth;
    const own = getComputedStyle(box), tall = own.getPropertyValue("--paper") || own.getPropertyValue("--tall");
    const height = printing ? parseInt(tall) : box.clientHeight;
    Object.assign(layout, { width, height, paper_bgcolor: palette.paper, plot_bgcolor: palette.paper, autosize: false });
    layout.dragmode = figure.time && !touch.matches ? "zoom" : false;
    if (figure.time && range && !printing) { layout.xaxis.range = range.slice(); layout.xaxis.autorange = false; }
    if (width < narrow_px) {
      layout.font.size = 11;
      Object.assign(layout.legend, { entrywidth: "long" in box.dataset ? 0.98 : 0.46, entrywidthmode: "fraction", font: { size: 10 }, x: -0.1 });
      for (const [key, part] of Object.entries(figure.narrow)) layout[key] = part;
      layout.margin.l = 44; layout.margin.r = Math.min(layout.margin.r, 44);
      for (const trace of figure.data) {
        if (trace.type === "heatmap" && trace.x.length > most_cells) delete trace.texttemplate;
        if (trace.meta === "aside") trace.visible = "legendonly";
      }
    }
    for (const [k, visible] of Object.entries(chosen[id] || {})) figure.data[k].visible = visible;
    drawn[id] = figure.data.map(seen);
    return figure;
  }

  function draw(id) {
    const box = div(id), figure = fitted(id), first = !box.dataset.drawn;
    Plotly.react(box, figure.data, figure.layout, { displayModeBar: false, doubleClick: "reset", scrollZoom: false });
    pressed(id);
    if (!first) return;
    box.dataset.drawn = "yes";
    box.on("plotly_restyle", () => {
      box.data.forEach((trace, k) => { if (seen(trace) !== drawn[id][k]) (chosen[id] ||= {})[k] = drawn[id][k] = seen(trace); });
      pressed(id);
    });
    if (figure.time) box.on("plotly_relayout", (change) => follow(box, change));
    keys(id);
  }

  function pressed(id) {
    const box = div(id), form = document.querySelector(`[data-of="${id}"]`);
    if (!form) return;
    let hidden = 0;
    for (const button of form.querySelectorAll("button")) {
      const shown = seen(box.data[button.dataset.curves.split(" ")[0]]) === true;
      button.setAttribute("aria-pressed", String(shown));
      hidden += !shown;
    }
    form.querySelector("span").textContent = hidden ? ` (${hidden} hidden)` : "";
  }

  function follow(box, change) {
    if (moving || printing) return;
    if ("xaxis.range[0]" in change) range = [change["xaxis.range[0]"], change["xaxis.range[1]"]];
    else if (change["xaxis.range"]) range = change["xaxis.range"].slice();
    else if (change["xaxis.autorange"]) range = null;
    else return;
    join();
  }

  function join() {
    moving = true;
    const asked = Object.keys(figures).filter((id) => figures[id].time && div(id).dataset.drawn).map((id) =>
      Plotly.relayout(div(id), range ? { "xaxis.range": range.slice(), "xaxis.autorange": false } : { "xaxis.range": figures[id].layout.xaxis.range.slice(), "xaxis.autorange": false }));
    Promise.all(asked).then(() => { moving = false; });
  }

  const stamp = (time) => { const d = new Date(time), two = (n) => String(n).padStart(2, "0");
    return `${d.getFullYear()}-${two(d.getMonth() + 1)}-${two(d.getDate())}T${two(d.getHours())}:${two(d.getMinutes())}`; };
  const whole = () => { const id = Object.keys(figures).find((key) => figures[key].time); return id && figures[id].layout.xaxis.range; };

  function zoom(factor, shift) {
    const all = whole();
    if (!all) return;
    const [low, high] = all.map((t) => +new Date(t)), [from, to] = (range || all).map((t) => +new Date(String(t).replace(" ", "T")));
    const middle = (from + to) / 2 + shift * (to - from), half = Math.max(6 * 3600e3, factor * (to - from) / 2);
    if (2 * half >= high - low) range = null;
    else { const start = Math.min(Math.max(low, middle - half), high - 2 * half); range = [stamp(start), stamp(start + 2 * half)]; }
    join();
  }
  const tools = { nearer: () => zoom(0.5, 0), wider: () => zoom(2, 0), earlier: () => zoom(1, -0.5), later: () => zoom(1, 0.5), whole: () => { range = null; join(); } };

  function keys(id) {
    const box = div(id), figure = figures[id], told = div(id + "-told");
    if (figure.spoken === null) return;
    const several = Array.isArray(figure.spoken), spoken = [].concat(figure.spoken);
    const texts = spoken.map((k) => figure.data[k].hovertext || figure.data[k].text), flat = Array.isArray(texts[0][0]);
    const rows = flat ? texts[0].flat() : texts.flat(), count = rows.length, wide = flat ? texts[0][0].length : texts[0].length;
    const clock = figure.data[spoken[0]].x, plain = new DOMParser();
    const day = figure.time ? Math.round(864e5 / (new Date(clock[1]) - new Date(clock[0]))) || 1 : flat || several ? wide : 1;
    let at = -1;
    box.addEventListener("keydown", (event) => {
      const step = { ArrowRight: 1, ArrowLeft: -1, ArrowDown: day, ArrowUp: -day, PageDown: 7 * day, PageUp: -7 * day }[event.key];
      if (figure.time && event.key === "+") return tools.nearer();
      if (figure.time && event.key === "-") return tools.wider();
      if (event.key === "Home") at = 0;
      else if (event.key === "End") at = count - 1;
      else if (step) at = Math.min(count - 1, Math.max(0, at + step));
      else return;
      event.preventDefault();
      told.textContent = plain.parseFromString(rows[at].replace(/<br>/g, " "), "text/html").body.textContent;
      if (!flat) try { Plotly.Fx.hover(box, [{ curveNumber: spoken[Math.floor(at / wide)], pointNumber: at % wide }]); } catch (outside) { return; }
    });
    box.addEventListener("blur", () => Plotly.Fx.unhover(box));
  }

  const ids = Object.keys(figures);
  function rest() {
    const id = ids.find((key) => !div(key).dataset.drawn);
    if (!id) { root.dataset.drawn = String(ids.length); return; }
    draw(id);
    setTimeout(rest, 0);
  }
  const again = () => ids.forEach((id) => div(id).dataset.drawn && draw(id));

  let last = innerWidth, waiting = 0;
  addEventListener("resize", () => {
    if (innerWidth === last || printing) return;
    last = innerWidth;
    clearTimeout(waiting);
    waiting = setTimeout(again, 120);
  });
  dark.addEventListener("change", again);
  const onPaper = document.querySelectorAll("[aria-labelledby=assumptions-q] details, section:has([data-sliders]) details");
  let closed = [];
  addEventListener("beforeprint", () => {
    printing = true;
    closed = [...onPaper].filter((part) => !part.open);
    for (const part of closed) part.open = true;
    ids.forEach(draw);
  });
  addEventListener("afterprint", () => {
    printing = false;
    for (const part of closed) part.open = false;
    again();
  });

  for (const button of document.querySelectorAll("[data-curves]")) button.addEventListener("click", () => {
    const id = button.closest("[data-of]").dataset.of, visible = button.getAttribute("aria-pressed") === "true" ? "legendonly" : true;
    if (div(id).dataset.drawn) Plotly.restyle(div(id), { visible }, button.dataset.curves.split(" ").map(Number));
  });
  for (const button of document.querySelectorAll("[data-tool]")) button.addEventListener("click", tools[button.dataset.tool]);
  document.getElementById("theme").addEventListener("click", () => {
    root.dataset.theme = mode() === "dark" ? "light" : "dark";
    again();
  });
  document.getElementById("print").addEventListener("click", () => print());

  for (const form of document.querySelectorAll("[data-sliders]")) {
    const grid = read(form.dataset.sliders), inputs = [...form.querySelectorAll("input")];
    const show = () => {
      let place = 0;
      inputs.forEach((input, k) => {
        const [name, unit, values] = grid.axes[k], label = (grid.label[name] || [])[+input.value] || `${values[+input.value]} ${unit}`;
        place = place * values.length + +input.value;
        input.setAttribute("aria-valuetext", label);
        form.querySelector(`[data-axis="${k}"]`).textContent = label;
      });
      grid.answers.forEach(([, unit, decimals, values], k) => {
        form.querySelector(`[data-answer="${k}"]`).textContent = `${values[place].toFixed(decimals).replace("-", "−")} ${unit}`;
      });
    };
    inputs.forEach((input) => input.addEventListener("input", show));
    show();
  }
  requestAnimationFrame(() => setTimeout(rest, 0));
})();
