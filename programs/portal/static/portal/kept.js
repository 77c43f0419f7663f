"use strict";
/* On every page of the portal: keeps the days ahead on the phone, sends what waits, shows each one's state, signs out cleanly. */
(() => {
  const house = document.getElementById("kept");
  if (!house || !self.intervaleQueue || !self.indexedDB) return;
  const queue = self.intervaleQueue;
  const words = house.dataset;
  const { person } = words;
  const PAGES = "pages";
  const EVERY = 20_000;   // milliseconds between tries while something waits
  const part = (name) => house.querySelector(`[data-${name}]`);
  const token = () => (document.cookie.match(/(?:^|; )csrftoken=([^;]*)/) || ["", ""])[1];
  const places = { sessions: words.sessions, mornings: words.mornings, alerts: words.alerts };
  const SHAPES = { waiting: "wait", sent: "good", refused: "alert" };
  let stopped = "";

  const tongue = document.documentElement.lang.replace(/^en$/, "en-GB");
  const dayWords = (day) => new Intl.DateTimeFormat(tongue, { weekday: "long", day: "numeric", month: "long" }).format(day);

  /* The day that an entry tells of: a session's own, or for a morning the one after it. */
  function dayOf(row) {
    const day = new Date(`${row.day}T12:00`);
    if (row.kind === "morning") day.setDate(day.getDate() + 1);
    return day;
  }

  function line(row) {
    const item = document.getElementById("kept-row").content.cloneNode(true).firstElementChild;
    item.dataset.state = row.state;
    item.querySelector("[data-what]").textContent = [words[row.kind], row.day && dayWords(dayOf(row))].filter(Boolean).join(", ");
    for (const shape of item.querySelectorAll("[data-when]")) shape.hidden = shape.dataset.when !== row.state;
    item.querySelector("[data-why]").textContent = row.reason;
    const buttons = item.querySelector("[data-buttons]");
    buttons.hidden = row.state !== "refused";
    item.querySelector("[data-again]").addEventListener("click", () => queue.again(row).then(send));
    item.querySelector("[data-drop]").addEventListener("click", (event) => {
      if (event.target.dataset.sure) queue.drop(row.id).then(show);
      else {
        event.target.dataset.sure = "1";
        event.target.textContent = words.sure;
      }
    });
    return item;
  }

  async function show() {
    const rows = await queue.all(person);
    const list = part("list");
    list.replaceChildren(...rows.filter((row) => row.state !== "sent" || Date.now() - row.made < 24 * 3600e3).map(line));
    const others = await queue.strangers(person);
    part("others").hidden = !others;
    part("stopped").hidden = stopped !== "signed_out";
    part("signal").hidden = navigator.onLine;
    part("box").hidden = !list.children.length && !others;
    house.hidden = part("box").hidden && part("stopped").hidden && part("signal").hidden;
    return rows;
  }

  async function send() {
    stopped = await queue.send(person, places, token());
    if (stopped === "signed_out") await forgetPages();
    const rows = await show();
    if (rows.some((row) => row.state === "waiting") && stopped !== "signed_out") await later();
    return stopped;
  }

  /* Where the browser can send in the background, it is asked to; everywhere else a page, a timer or the signal does it. */
  async function later() {
    try {
      const worker = await navigator.serviceWorker.ready;
      if (worker.sync) await worker.sync.register("send");
    } catch (error) { /* not allowed here: the timer does it */ }
  }

  async function forgetPages() {
    if (self.caches) await caches.delete(PAGES);
  }

  async function keepPages() {
    if (!self.caches || stopped === "signed_out") return;
    const pages = await caches.open(PAGES);
    for (const address of [words.pocket, words.help, words.untold]) {
      const held = await pages.match(address);
      const tag = held && held.headers.get("ETag");
      try {
        const answer = await fetch(address, { credentials: "same-origin", redirect: "error", headers: tag ? { "If-None-Match": tag } : {} });
        if (answer.ok) await pages.put(address, answer);
      } catch (error) {
        return;   // no signal, or signed out: what is kept stays as it is
      }
    }
  }

  /* Once a day, so that the list of devices can say when this one was used. */
  async function sayUsed() {
    const day = new Date().toDateString();
    if (!navigator.onLine || (await queue.noted("used")) === day) return;
    const answer = await fetch(words.seen, { method: "POST", credentials: "same-origin", redirect: "error", headers: { "X-CSRFToken": token() } }).catch(() => null);
    if (answer && answer.ok) await queue.note("used", day);
  }

  async function begin() {
    const before = await queue.noted("person");
    if (before !== person) {
      await forgetPages();
      await queue.note("person", person);
    }
    await queue.tidy(person);
    await send();
    if ("serviceWorker" in navigator) {
      await navigator.serviceWorker.register(words.worker, { scope: words.scope, updateViaCache: "none" });
      navigator.serviceWorker.addEventListener("message", show);
      await navigator.serviceWorker.ready;
    }
    await sayUsed();
    if (navigator.onLine && !document.querySelector("[data-pocket-page]")) await keepPages();
    house.dataset.ready = "1";
  }

  const form = document.querySelector("form.who");
  async function leave(event) {
    event.preventDefault();
    await send();
    const waiting = (await queue.all(person)).filter((row) => row.state !== "sent").length;
    if (waiting && part("leaving").hidden) {
      house.hidden = part("leaving").hidden = false;
      part("leaving").focus();
      return;
    }
    await forgetPages();
    if (waiting) await queue.forgetWords(person);
    else if (!(await queue.strangers(person))) form.append(Object.assign(document.createElement("input"), { type: "hidden", name: "nothing_kept", value: "1" }));
    form.submit();
  }
  if (form) form.addEventListener("submit", (event) => leave(event).catch(() => form.submit()));
  part("leave").addEventListener("click", (event) => leave(event).catch(() => form.submit()));
  part("stay").addEventListener("click", () => { part("leaving").hidden = true; show(); });

  self.intervaleKept = { person, send, show, later, keepPages };
  self.addEventListener("online", () => send().then(keepPages));
  self.addEventListener("offline", show);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) send(); });
  setInterval(() => { if (navigator.onLine && stopped !== "signed_out") queue.all(person).then((rows) => rows.some((row) => row.state === "waiting") && send()); }, EVERY);
  self.intervaleKept.begun = begin().catch(() => { house.dataset.ready = "broken"; });
})();
