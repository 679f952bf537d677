"use strict";
// The pages work without this: it adds keys, and puts the next doubt in place of the former without a reload, so that
// a screen reader hears the progress and nothing flickers.
(() => {
  const byId = (name) => document.getElementById(name);
  let isBusy = false;
  let hasKeys = sessionStorage.getItem("keys") !== "off";

  async function show(address, options, addToHistory = true) {
    if (isBusy) return;
    isBusy = true;
    try {
      const answer = await fetch(address, options);
      const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
      if (answer.ok && addToHistory) history.pushState(null, "", answer.url);
      document.title = fresh.title;
      byId("counts").replaceWith(fresh.getElementById("counts"));
      byId("look").replaceWith(fresh.getElementById("look"));
      byId("status").innerHTML = fresh.getElementById("status").innerHTML;
      (document.querySelector("#look [autofocus]") ?? byId("look")).focus({ preventScroll: true });
      scrollTo(0, 0);
    } catch {
      byId("status").textContent = document.body.dataset.ended;
    } finally {
      isBusy = false;
    }
  }

  document.addEventListener("submit", (event) => {
    event.preventDefault();
    const sent = new URLSearchParams(new FormData(event.target, event.submitter));
    show(event.target.action, { method: "POST", body: sent });
  });

  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[href]");
    if (!link || event.ctrlKey || event.metaKey || event.shiftKey || event.button) return;
    event.preventDefault();
    show(link.href);
  });

  document.addEventListener("keydown", (event) => {
    const isTyping = event.target.matches("input, textarea");
    if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) {
      document.querySelector("[data-send]")?.click();
      return;
    }
    if (!hasKeys || isTyping || event.ctrlKey || event.metaKey || event.altKey || event.repeat) return;
    const named = [...document.querySelectorAll("[data-key]")].find((one) => one.dataset.key === event.key.toLowerCase());
    if (!named) return;
    event.preventDefault();
    named.click();
  });

  addEventListener("popstate", () => show(location.href, {}, false));

  // Whoever speaks to the computer, or types with a stick, must be able to put single keys off (WCAG 2.2, 2.1.4).
  const toggle = byId("keys");
  const tell = () => {
    toggle.setAttribute("aria-pressed", String(hasKeys));
    toggle.textContent = hasKeys ? toggle.dataset.on : toggle.dataset.off;
  };
  toggle.hidden = false;
  toggle.addEventListener("click", () => {
    hasKeys = !hasKeys;
    sessionStorage.setItem("keys", hasKeys ? "on" : "off");
    tell();
  });
  tell();
})();
