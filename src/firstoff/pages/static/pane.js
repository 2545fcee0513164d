// What changes with the room there is: on a tablet one pane with tabs, and all that is clear folded into one row; the verdict in one line once it is out of sight.
const small = matchMedia("(min-width: 900px) and (max-width: 1279px)");

function tabs() {
  const pane = document.querySelector(".pane"), buttons = [...pane.querySelectorAll("[role=tab]")];
  const panel = (button) => document.getElementById(button.getAttribute("aria-controls"));
  const choose = (button, focus) => {
    pane.dataset.shown = button.getAttribute("aria-controls");
    for (const one of buttons) { one.setAttribute("aria-selected", String(one === button)); one.tabIndex = one === button ? 0 : -1; }
    if (focus) button.focus();
  };
  const fit = () => {
    pane.classList.toggle("tabbed", small.matches);
    for (const button of buttons) {
      const [name, value] = small.matches ? ["tabpanel", button.id] : [null, `h-${button.getAttribute("aria-controls")}`];
      if (name) panel(button).setAttribute("role", name); else panel(button).removeAttribute("role");
      panel(button).setAttribute("aria-labelledby", value);
    }
    dispatchEvent(new Event("resize"));
  };
  pane.addEventListener("click", (event) => { const button = event.target.closest("[role=tab]"); if (button) { choose(button); dispatchEvent(new Event("resize")); } });
  pane.addEventListener("keydown", (event) => {
    const at = buttons.indexOf(event.target);
    const to = { ArrowRight: at + 1, ArrowLeft: at - 1, Home: 0, End: buttons.length - 1 }[event.key];
    if (at < 0 || to === undefined) return;
    event.preventDefault(); event.stopPropagation();
    choose(buttons[(to + buttons.length) % buttons.length], true);
    dispatchEvent(new Event("resize"));
  });
  choose(buttons[0]);
  small.addEventListener("change", fit);
  fit();
}

function fold() {
  const list = document.querySelector(".q-list"), button = list?.querySelector(".q-fold button");
  if (!button) return;
  const open = (yes) => { list.classList.toggle("unfolded", yes); button.setAttribute("aria-expanded", String(yes)); };
  list.classList.add("folds");
  button.addEventListener("click", () => open(!list.classList.contains("unfolded")));
  const named = () => {
    if (!location.hash.startsWith("#q-") || !document.querySelector(`.q-clear${location.hash}`)) return;
    open(true);
    document.querySelector(location.hash).scrollIntoView();
  };
  addEventListener("hashchange", named);
  named();
}

function verdictLine() {
  const line = document.querySelector(".verdict-line");
  new IntersectionObserver(([seen]) => line.classList.toggle("here", !seen.isIntersecting && seen.boundingClientRect.top < 0)).observe(document.querySelector(".top .verdict-word, .top .risks"));
}

/** A table that is wider than its place can be moved by keys too. */
function wideTables() {
  for (const box of document.querySelectorAll(".wide")) {
    const wider = box.scrollWidth > box.clientWidth + 1;
    if (wider) { box.tabIndex = 0; box.setAttribute("role", "group"); box.setAttribute("aria-label", box.closest("section")?.querySelector("h2")?.textContent || "table"); }
    else for (const name of ["tabindex", "role", "aria-label"]) box.removeAttribute(name);
  }
}

tabs(); fold(); verdictLine(); wideTables();
addEventListener("resize", wideTables);
