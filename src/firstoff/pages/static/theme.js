"use strict";
// Before anything is drawn: the theme that was chosen here, else the system's own.
(() => {
  const root = document.documentElement;
  const dark = matchMedia("(prefers-color-scheme: dark)");
  const remembered = (() => { try { return localStorage.getItem("firstoff-theme"); } catch { return null; } })();
  if (remembered === "paper" || remembered === "night") root.dataset.theme = remembered;
  const now = () => root.dataset.theme || (dark.matches ? "night" : "paper");
  const choose = (theme) => {
    root.dataset.theme = theme;
    try { localStorage.setItem("firstoff-theme", theme); } catch { /* a browser that forgets */ }
    show();
  };
  const show = () => {
    for (const button of document.querySelectorAll(".themes button")) button.setAttribute("aria-pressed", String(button.dataset.choose === now()));
    document.dispatchEvent(new Event("theme"));
  };
  addEventListener("DOMContentLoaded", () => {
    const themes = document.querySelector(".themes");
    themes.hidden = false;
    themes.addEventListener("click", (event) => { if (event.target.dataset.choose) choose(event.target.dataset.choose); });
    dark.addEventListener("change", show);
    document.addEventListener("keydown", (event) => {
      if (event.key === "t" && !event.ctrlKey && !event.metaKey && !event.altKey && !event.target.closest("input, textarea, select"))
        choose(now() === "night" ? "paper" : "night");
    });
    show();
  });
})();
