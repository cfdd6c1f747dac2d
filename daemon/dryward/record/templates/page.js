"use strict";
(() => {
  const told = JSON.parse(document.getElementById("curves").textContent);
  const last = told.when.length - 1;
  const plots = told.charts.map((chart) => {
    const plot = document.querySelector(`[data-chart="${chart.name}"]`);
    const figure = plot.closest("figure");
    return { chart, plot, hair: plot.querySelector(".hair"), when: figure.querySelector(".when"),
      values: [...figure.querySelectorAll("[data-value]")] };
  });
  let at = last;

  const shown = (key, n) => {
    const value = key.values[n];
    return value === null || value === undefined ? "–" : `${value.toFixed(key.places)} ${key.unit}`;
  };
  const since = (n) => {
    const minutes = Math.round(((n + 0.5) / (last + 1)) * told.hours * 60);
    const days = Math.floor(minutes / 1440), rest = minutes % 1440;
    const clock = `${Math.floor(rest / 60)} h ${String(rest % 60).padStart(2, "0")}`;
    return days ? `${days} d ${clock}` : clock;
  };
  const show = (n) => {
    at = Math.min(last, Math.max(0, n));
    document.body.classList.add("reading");
    for (const p of plots) {
      p.hair.style.left = `${(100 * (at + 0.5)) / (last + 1)}%`;
      p.when.textContent = told.when[at];
      p.values.forEach((place) => { place.textContent = shown(p.chart.keys[Number(place.dataset.value)], at); });
      p.plot.setAttribute("aria-valuenow", String(at));
      p.plot.setAttribute("aria-valuetext", `${told.when[at]}, ${since(at)} into the run: `
        + p.chart.keys.map((key) => `${key.label} ${shown(key, at)}`).join(", "));
    }
  };
  const hide = () => {
    document.body.classList.remove("reading");
    for (const p of plots) {
      p.when.textContent = "";
      p.values.forEach((place) => { place.textContent = ""; });
    }
  };
  const steps = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1, PageUp: 24, PageDown: -24, Home: -Infinity, End: Infinity };

  for (const { chart, plot } of plots) {
    const label = plot.getAttribute("aria-label");
    for (const [name, value] of Object.entries({ role: "slider", tabindex: "0", "aria-valuemin": "0",
      "aria-valuemax": String(last), "aria-valuenow": String(at), "aria-valuetext": label })) plot.setAttribute(name, value);
    const follow = (event) => {
      const box = plot.getBoundingClientRect();
      show(Math.floor(((event.clientX - box.left) / box.width) * (last + 1)));
    };
    plot.addEventListener("pointermove", follow);
    plot.addEventListener("pointerdown", follow);
    plot.addEventListener("pointerleave", (event) => { if (event.pointerType === "mouse") hide(); });
    plot.addEventListener("focus", () => show(at));
    plot.addEventListener("blur", hide);
    plot.addEventListener("keydown", (event) => {
      if (event.key === "Escape") { hide(); return; }
      const step = steps[event.key];
      if (step === undefined || event.target !== plot) return;
      event.preventDefault();
      show(Math.min(last, Math.max(0, at + step)));
    });
  }
})();
