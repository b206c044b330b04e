// The map to print: a new choice is drawn at once, and arrow keys step through the
// years. Everything works without this file: by its button, and by its links.
"use strict";

(function () {
  const form = document.querySelector("form[data-live]");
  if (form) {
    let asked = 0;
    form.addEventListener("change", async () => {
      const mine = ++asked;
      const url = new URL(form.action);
      url.search = new URLSearchParams(new FormData(form)).toString();
      const now = document.getElementById(form.dataset.live);
      now.setAttribute("aria-busy", "true");
      try {
        const answer = await fetch(url);
        if (!answer.ok) throw new Error(answer.status);
        const page = new DOMParser().parseFromString(await answer.text(), "text/html");
        if (mine !== asked) return; // somebody has chosen again
        for (const id of ["edition", "paper-says", form.dataset.live]) {
          const here = document.getElementById(id);
          const there = page.getElementById(id);
          if (here && there) here.replaceChildren(...there.childNodes);
        }
        history.replaceState(null, "", answer.url);
      } catch (failed) {
        if (mine === asked) form.submit(); // the page itself says what is wrong
      } finally {
        if (mine === asked) now.removeAttribute("aria-busy");
      }
    });
  }

  if (document.querySelector("[data-keys]")) {
    addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey || event.shiftKey) return;
      const rel = { ArrowLeft: "prev", ArrowRight: "next" }[event.key];
      // Tables and boxes that scroll sideways keep their keys.
      if (!rel || event.target.closest("input, select, textarea, [tabindex='0']")) return;
      const link = document.querySelector("[data-keys] a[rel=" + rel + "]");
      if (!link) return;
      event.preventDefault();
      location.replace(link.href);
    });
  }
})();
