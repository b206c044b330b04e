// The count page, one step quicker: the server's own reading of the count
// appears while it is keyed, and a scanner writes over what stands in a field.
// No figure is worked out here, and everything works without this file.
"use strict";

(function () {
  for (const field of document.querySelectorAll("input[data-select]")) {
    if (field === document.activeElement) field.select();
    field.addEventListener("focus", () => field.select());
  }

  for (const choice of document.querySelectorAll("select[data-submit]")) {
    choice.addEventListener("change", () => {
      const button = document.getElementById(choice.dataset.submit);
      if (button && choice.form) choice.form.requestSubmit(button);
    });
  }

  // Keeping tally with the eye at the microscope: plus or the space bar adds an
  // egg, minus takes one back. Typed totals work as ever.
  for (const field of document.querySelectorAll("input[data-tally]")) {
    field.addEventListener("beforeinput", (event) => {
      const step = { "+": 1, " ": 1, "-": -1 }[event.data];
      if (!step || !/^\d*$/.test(field.value)) return;
      event.preventDefault();
      field.value = Math.max(0, Number(field.value) + step);
      field.dispatchEvent(new Event("input", { bubbles: true }));
    });
  }

  const form = document.querySelector("form[data-preview]");
  const reading = document.getElementById("reading");
  if (!form || !reading) return;

  const pause = 200; // milliseconds after the last key
  let timer = 0;
  let asked = null;

  async function show() {
    if (asked) asked.abort();
    asked = new AbortController();
    try {
      const answer = await fetch(form.dataset.preview, {
        method: "POST",
        body: new URLSearchParams(new FormData(form)),
        signal: asked.signal,
        redirect: "error",
      });
      // A session that has ended or a server that is away leaves the page as it
      // is: saving will say so.
      if (answer.ok) reading.innerHTML = await answer.text();
    } catch (gone) {
      // a newer question has taken this one's place, or nobody answers
    }
  }

  form.addEventListener("input", (event) => {
    if (event.target.matches("select[data-submit]")) return;
    clearTimeout(timer);
    timer = setTimeout(show, pause);
  });
})();
