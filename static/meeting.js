// The meeting: keys for who presents, and buttons that copy. Everything works
// without this file: slides by their links, and text by marking it.
"use strict";

(function () {
  for (const button of document.querySelectorAll("button[data-copy]")) {
    button.hidden = false;
    button.addEventListener("click", async () => {
      const text = document.getElementById(button.dataset.copy);
      const said = document.getElementById(button.dataset.copy + "-said");
      try {
        await navigator.clipboard.writeText(text.value);
      } catch (refused) {
        text.select(); // the reader copies by hand
        return;
      }
      if (said) said.textContent = button.dataset.done;
    });
  }

  const slides = [...document.querySelectorAll("section.slide")];
  if (slides.length === 0) return;
  document.documentElement.classList.add("present");

  // at is the slide that the address names, or that holds what it names.
  const at = () => {
    const named = document.getElementById(decodeURIComponent(location.hash.slice(1)));
    return Math.max(0, slides.indexOf(named && named.closest("section.slide")));
  };

  // show turns to a slide, and takes the reader's place in the page along.
  function show(i, keep) {
    i = Math.min(Math.max(i, 0), slides.length - 1);
    slides.forEach((s, k) => s.classList.toggle("shown", k === i));
    if (keep) return;
    history.replaceState(null, "", "#" + slides[i].id);
    scrollTo(0, 0);
    const head = slides[i].querySelector("h1, h2");
    if (head) head.focus({ preventScroll: true });
  }

  const scrolls = () => document.documentElement.scrollHeight > innerHeight + 4;
  const keys = {
    ArrowRight: 1, PageDown: 1, ArrowLeft: -1, PageUp: -1, Home: "first", End: "last", n: "notes", N: "notes",
  };

  addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    let does = keys[event.key];
    // A slide taller than the screen is read by the up and down keys first.
    if ((event.key === "ArrowDown" || event.key === "ArrowUp") && !scrolls()) does = event.key === "ArrowDown" ? 1 : -1;
    if (does === undefined) return;
    event.preventDefault();
    if (does === "notes") document.documentElement.classList.toggle("with-notes");
    else if (does === "first") show(0);
    else if (does === "last") show(slides.length - 1);
    else show(at() + does);
  });
  addEventListener("hashchange", () => show(at()));
  show(at(), true);
})();
