"use strict";
// The list of jobs: only some of them, by answer or by name; and a program that is dropped or chosen.
(() => {
  const find = document.querySelector(".job-find"), none = document.querySelector(".job-none");
  if (find) {
    const rows = [...document.querySelectorAll(".job-row")], search = find.querySelector("input");
    let only = "";
    const show = () => {
      const words = (search ? search.value : "").toLowerCase().split(/\s+/).filter(Boolean);
      let left = 0;
      for (const row of rows) {
        row.hidden = (only && row.dataset.answer !== only) || !words.every((word) => row.dataset.name.toLowerCase().includes(word));
        left += row.hidden ? 0 : 1;
      }
      none.hidden = left > 0;
    };
    for (const button of find.querySelectorAll("[data-only]")) button.addEventListener("click", () => {
      only = button.dataset.only;
      for (const other of find.querySelectorAll("[data-only]")) other.setAttribute("aria-pressed", String(other === button));
      show();
    });
    if (search) search.addEventListener("input", show);
    find.hidden = false;
    show();
  }

  const form = document.querySelector(".drop"), said = form.querySelector(".drop-said"), input = form.querySelector("input");
  const send = async (file) => {
    said.textContent = `Reading ${file.name}.`;
    const body = new FormData();
    body.append("program", file);
    try {
      const answer = await fetch(form.action, { method: "POST", body, headers: { accept: "application/json" } });
      const told = await answer.json();
      if (told.at) return location.assign(told.at);
      const fault = (told.faults || [])[0];
      said.textContent = fault ? `${file.name}: ${fault.what}.${fault.do ? ` ${fault.do.replace(/\.?$/, ".")}` : ""}` : `${file.name} cannot be taken in.`;
    } catch (reason) { said.textContent = `${file.name} did not arrive. At most 128 MB are taken in, and only while firstoff open runs.`; }
    input.value = "";
  };
  input.addEventListener("change", () => { if (input.files[0]) send(input.files[0]); });
  addEventListener("dragover", (event) => { event.preventDefault(); document.body.classList.add("drop-over"); });
  addEventListener("dragleave", () => document.body.classList.remove("drop-over"));
  addEventListener("drop", (event) => {
    event.preventDefault();
    document.body.classList.remove("drop-over");
    if (event.dataTransfer.files[0]) send(event.dataTransfer.files[0]);
  });
})();
