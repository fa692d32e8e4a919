"use strict";
// Zooms the plots of pressure against time (without it they show the whole run).
(() => {
  const LEFT = 50, RIGHT = 470, BOTTOM = 158, SVG = "http://www.w3.org/2000/svg";
  const make = (name, attributes, text) => {
    const element = document.createElementNS(SVG, name);
    for (const key in attributes) element.setAttribute(key, attributes[key]);
    if (text !== undefined) element.textContent = text;
    return element;
  };
  // The step, 1, 2 or 5 times a power of ten, that divides the span into at most so many parts.
  const roundStep = (span, most) => {
    const power = 10 ** Math.floor(Math.log10(span / most));
    return [1, 2, 5, 10].map((n) => n * power).find((step) => step >= (span / most) * (1 - 1e-9));
  };
  const enliven = (figure) => {
    const plot = figure.querySelector(".plot"), win = figure.querySelector(".win");
    const axis = figure.querySelector(".time"), length = Number(figure.dataset.length);
    const height = win.viewBox.baseVal.height;
    let from = 0, to = length;
    const draw = () => {
      win.setAttribute("viewBox", `${from} 0 ${to - from} ${height}`);
      axis.replaceChildren();
      const low = from / 1000, high = to / 1000, step = roundStep(high - low, 7);
      const decimals = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
      for (let n = Math.ceil(low / step - 1e-9); n * step <= high + 1e-9; n += 1) {
        const x = LEFT + ((n * step - low) / (high - low)) * (RIGHT - LEFT);
        axis.append(make("polyline", { class: "l ink", points: `${x},${BOTTOM} ${x},${BOTTOM + 5}` }));
        axis.append(make("text", { x, y: BOTTOM + 18, "font-size": 12, "text-anchor": "middle" }, (n * step).toFixed(decimals)));
      }
    };
    const show = (start, end) => {
      const span = Math.min(length, Math.max(Math.min(50, length), end - start));
      from = Math.min(Math.max(0, start), length - span);
      to = from + span;
      draw();
    };
    const scale = (factor, at = (from + to) / 2) => show(at - (at - from) * factor, at + (to - at) * factor);
    const slide = (share) => show(from + share * (to - from), to + share * (to - from));
    const acts = [
      ["+", "Zoom in", () => scale(0.5)], ["−", "Zoom out", () => scale(2)],
      ["←", "Earlier", () => slide(-0.5)], ["→", "Later", () => slide(0.5)], ["whole run", "Whole run", () => show(0, length)],
    ];
    const bar = document.createElement("div");
    bar.className = "zoom";
    for (const [sign, label, act] of acts) {
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = sign;
      button.setAttribute("aria-label", `${label}: ${figure.querySelector("figcaption").textContent}`);
      button.addEventListener("click", act);
      bar.append(button);
    }
    figure.append(bar);
    const keys = { "+": 0, "=": 0, "-": 1, "−": 1, ArrowLeft: 2, ArrowRight: 3, 0: 4 };
    figure.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey || !(event.key in keys)) return;
      event.preventDefault();
      acts[keys[event.key]][2]();
    });
    const timeAt = (event) => {
      const box = plot.getBoundingClientRect();
      const x = ((event.clientX - box.left) / box.width) * plot.viewBox.baseVal.width;
      return from + (Math.min(Math.max((x - LEFT) / (RIGHT - LEFT), 0), 1)) * (to - from);
    };
    let start = null, chosen = null;
    plot.addEventListener("pointerdown", (event) => {
      if (event.button !== 0 || event.pointerType === "touch") return;
      event.preventDefault();
      plot.setPointerCapture(event.pointerId);
      start = timeAt(event);
      chosen = make("rect", { class: "chosen", y: 0, height, x: start, width: 0 });
      win.append(chosen);
    });
    plot.addEventListener("pointermove", (event) => {
      if (start === null) return;
      const here = timeAt(event);
      chosen.setAttribute("x", Math.min(start, here));
      chosen.setAttribute("width", Math.abs(here - start));
    });
    const end = (event) => {
      if (start === null) return;
      const a = start, b = timeAt(event);
      start = null;
      chosen.remove();
      if (event.type === "pointerup" && Math.abs(b - a) > (to - from) / 100) show(Math.min(a, b), Math.max(a, b));
    };
    plot.addEventListener("pointerup", end);
    plot.addEventListener("pointercancel", end);
  };
  document.documentElement.classList.add("live");
  document.querySelectorAll(".trace").forEach(enliven);
})();
