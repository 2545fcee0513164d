"use strict";
(() => {
  const root = document.documentElement;
  const themes = document.querySelector(".themes");
  const remembered = (() => { try { return localStorage.getItem("firstoff-theme"); } catch { return null; } })();
  const dark = matchMedia("(prefers-color-scheme: dark)");
  const show = () => {
    const now = root.dataset.theme || (dark.matches ? "night" : "paper");
    for (const button of themes.children) button.setAttribute("aria-pressed", String(button.dataset.choose === now));
  };
  const choose = (theme) => {
    root.dataset.theme = theme;
    try { localStorage.setItem("firstoff-theme", theme); } catch { /* a page opened from a folder may not remember */ }
    show();
  };
  if (remembered === "paper" || remembered === "night") root.dataset.theme = remembered;
  themes.hidden = false;
  themes.addEventListener("click", (event) => { if (event.target.dataset.choose) choose(event.target.dataset.choose); });
  dark.addEventListener("change", show);
  document.addEventListener("keydown", (event) => {
    if (event.key === "t" && !event.ctrlKey && !event.metaKey && !event.altKey)
      choose(root.dataset.theme === "night" || (!root.dataset.theme && dark.matches) ? "paper" : "night");
    if (event.key !== "ArrowDown" && event.key !== "ArrowUp") return;
    const rows = [...document.querySelectorAll(".q > details > summary")];
    const at = rows.indexOf(document.activeElement);
    const next = rows[at + (event.key === "ArrowDown" ? 1 : -1)];
    if (at >= 0 && next) { next.focus(); event.preventDefault(); }
  });
  show();

  const lanes = document.querySelector(".lanes");
  if (!lanes) return;
  const read = document.querySelector(".lanes-read"), index = lanes.querySelector(".lanes-index");
  const lines = lanes.dataset.lines.split(","), total = Number(lanes.dataset.total), tools = JSON.parse(lanes.dataset.tools);
  const plots = [...lanes.querySelectorAll(".lane-plot")].map((plot) => ({
    name: plot.dataset.name, unit: plot.dataset.unit, values: plot.dataset.values.split(","), box: plot,
  }));
  const clock = (s) => `${Math.floor(s / 60)}:${String(Math.floor(s % 60)).padStart(2, "0")}`;
  const figure = (text) => Number(text) >= 1000 ? Number(text).toFixed(0) : String(Number(text));
  lanes.addEventListener("pointermove", (event) => {
    const box = plots[0].box.getBoundingClientRect();
    const share = (event.clientX - box.left) / box.width;
    if (share < 0 || share >= 1) return;
    const column = Math.floor(share * lines.length);
    const tool = tools.find(([, begin, end]) => share >= begin && share < end);
    index.hidden = read.hidden = false;
    index.style.left = `${box.left - lanes.getBoundingClientRect().left + share * box.width}px`;
    read.textContent = `${clock(share * total)}, line ${lines[column]}${tool ? `, T${tool[0]}` : ""}: ` +
      plots.map((plot) => `${plot.name} ${figure(plot.values[column])} ${plot.unit}`).join(", ");
  });
  lanes.addEventListener("pointerleave", () => { index.hidden = true; });
})();
