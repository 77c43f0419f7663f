/* Keeps an open page up to date: asks now and then whether anything changed, and puts in what did, where it stands.
   Nothing moves under the reader: what has the focus stays, and a new order is offered, not made. */
"use strict";
(() => {
  const EVERY = 45000;
  const PARTS = ".twin, figcaption, ul.filters";   /* of a page of charts, in their order */
  let tag = "";

  const keyed = (page) => new Map([...page.querySelectorAll("[data-live]")].map((line) => [line.dataset.live, line]));

  const put = (old, fresh) => {
    if (!fresh || old.outerHTML === fresh.outerHTML || old.contains(document.activeElement)) return;
    const ticked = new Set([...old.querySelectorAll("input:checked")].map((box) => box.value));
    const young = document.importNode(fresh, true);
    young.querySelectorAll("input[type=checkbox]").forEach((box) => { box.checked = ticked.has(box.value); });
    old.replaceWith(young);
  };

  const offer = () => {
    if (document.getElementById("live-offer")) return;
    const notice = document.createElement("p"), link = document.createElement("a");
    notice.id = "live-offer"; notice.className = "notice"; notice.setAttribute("role", "status");
    link.href = location.href; link.textContent = "Show it";
    notice.append("Who stands here, or in which order, has changed. ", link);
    document.querySelector("#main .head").after(notice);
  };

  const figures = (page) => {
    let changed = false;
    for (const held of document.querySelectorAll('script[type="application/json"][id^="figure-"]')) {
      const fresh = page.getElementById(held.id);
      if (fresh && fresh.textContent !== held.textContent) { held.textContent = fresh.textContent; changed = true; }
    }
    if (changed) document.dispatchEvent(new Event("figures-changed"));
  };

  const apply = (page) => {
    const old = keyed(document), fresh = keyed(page);
    if ([...old.keys()].join() !== [...fresh.keys()].join()) offer();
    for (const [key, line] of old) {
      if (!fresh.has(key)) line.querySelectorAll("button[form=decide]").forEach((button) => button.remove());   /* decided */
      put(line, fresh.get(key));
    }
    const parts = [...document.querySelectorAll(PARTS)], others = [...page.querySelectorAll(PARTS)];
    if (parts.length === others.length) parts.forEach((part, place) => put(part, others[place]));
    figures(page);
  };

  const ask = async (address, options) => {
    const answer = await fetch(address, { cache: "no-store", credentials: "same-origin", ...options });
    if (answer.status === 304 || !answer.ok || new URL(answer.url).pathname !== location.pathname) return null;
    tag = answer.headers.get("ETag") || "";
    return new DOMParser().parseFromString(await answer.text(), "text/html");
  };

  const refresh = async () => {
    if (document.hidden) return;
    try {
      const page = await ask(location.href, { headers: tag ? { "If-None-Match": tag } : {} });
      if (page) apply(page);
    } catch { /* no signal: the next round asks again */ }
  };

  /* a decision is sent from where it stands; what the server says of it is put above the list and read aloud */
  const decide = document.getElementById("decide");
  decide?.addEventListener("submit", async (event) => {
    const button = event.submitter;
    if (!button) return;
    event.preventDefault();
    button.disabled = true;
    const key = button.closest("[data-live]").dataset.live;
    try {
      const page = await ask(button.formAction, { method: "POST", body: new FormData(decide) });
      if (!page) { location.reload(); return; }
      button.blur();
      apply(page);
      document.querySelector("#main .notices")?.remove();
      const said = page.querySelector("#main .notices");
      if (said) document.getElementById("main").prepend(document.importNode(said, true));
      document.querySelector(`[data-live="${key}"] a`)?.focus();
    } catch { location.reload(); }
  });

  setInterval(refresh, EVERY);
  document.addEventListener("visibilitychange", refresh);
})();
