// Small helps for the grower's pages, all of which work without them: the list
// of townships follows the county, codes are upper case, and a note of which
// field a bag was from stays in this browser.
"use strict";

for (const county of document.querySelectorAll("select[data-townships]")) {
  const list = document.getElementById(county.dataset.townships);
  const show = county.parentElement.querySelector(".show-townships");
  show.hidden = true;
  county.addEventListener("change", async () => {
    if (!county.value) return;
    list.disabled = true;
    try {
      const answer = await fetch((document.documentElement.dataset.base ?? "") + "/send/townships?county=" + encodeURIComponent(county.value));
      if (!answer.ok) throw new Error(answer.status);
      const only = list.value === "county";
      list.innerHTML = await answer.text(); // escaped by the server
      if (only) list.value = "county";
    } catch {
      show.hidden = false; // the button does the same without a script
    }
    list.disabled = false;
  });
}

for (const code of document.querySelectorAll("input.bag-code")) {
  code.addEventListener("change", () => { code.value = code.value.toUpperCase(); });
}

for (const print of document.querySelectorAll("[data-print]")) {
  print.hidden = false;
  print.querySelector("button").addEventListener("click", () => window.print());
  for (const how of document.querySelectorAll("[data-print-how]")) how.hidden = true;
}

// Notes never leave the browser: their inputs have no name and stand in no form.
const notes = {
  get(key) { try { return localStorage.getItem("note." + key) || ""; } catch { return ""; } },
  set(key, text) {
    try {
      if (text) localStorage.setItem("note." + key, text); else localStorage.removeItem("note." + key);
      return true;
    } catch { return false; }
  },
};

for (const box of document.querySelectorAll("[data-note]")) {
  const key = box.dataset.note, input = box.querySelector("input"), shown = box.querySelector("[data-note-text]");
  const say = (text) => { const status = box.querySelector("[role=status]"); if (status) status.textContent = text; };
  const kept = notes.get(key);
  if (input) {
    input.value = kept;
    box.hidden = false;
    const keep = () => say(notes.set(key, input.value.trim()) ? box.dataset.kept : box.dataset.failed);
    box.querySelector("[data-keep]").addEventListener("click", keep);
    input.addEventListener("keydown", (e) => { if (e.key === "Enter") keep(); });
  } else if (kept) {
    shown.textContent = kept;
    box.hidden = false;
  }
  box.querySelector("[data-forget]").addEventListener("click", () => {
    notes.set(key, "");
    if (input) { input.value = ""; say(box.dataset.gone); } else { box.hidden = true; }
  });
}
