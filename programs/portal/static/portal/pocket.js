"use strict";
/* The page that stands in when there is no signal: finds today among the days it holds, and lays out that day's session. */
(() => {
  const page = document.querySelector("[data-pocket-page]");
  if (!page) return;
  const words = page.dataset;
  const iso = (moment) => new Intl.DateTimeFormat("en-CA", { timeZone: words.zone, year: "numeric", month: "2-digit", day: "2-digit" }).format(moment);
  const today = iso(new Date());
  const back = (days) => {
    const moment = new Date(`${today}T12:00Z`);
    moment.setUTCDate(moment.getUTCDate() - days);
    return moment.toISOString().slice(0, 10);
  };
  const tongue = document.documentElement.lang.replace(/^en$/, "en-GB");
  const said = new Intl.DateTimeFormat(tongue, { weekday: "long", day: "numeric", month: "long", timeZone: "UTC" });
  const dayWords = (day) => said.format(new Date(`${day}T12:00Z`));
  page.querySelector("[data-day]").textContent = dayWords(today);

  function days(select, first) {
    const known = [0, 1, 2, 3, 4, 5, 6].map(back).filter((day) => day >= first);
    const names = [words.today, words.yesterday];
    select.replaceChildren(...known.map((day, index) => new Option(names[index] ? `${names[index]}, ${dayWords(day)}` : dayWords(day), day)));
  }

  function lay(section) {
    const held = JSON.parse(section.dataset.days);
    const day = held.find((one) => one.day === today);
    section.querySelector("[data-stand]").textContent = day ? day.words : words.stale;
    const shown = day && (day.stand === "asked" || day.stand === "rest");
    const form = section.nextElementSibling;
    const open = section.querySelector("[data-open]");
    const source = shown && section.querySelector(`template[data-revision="${day.revision}"]`);
    open.hidden = !source;
    if (!source) return;
    open.addEventListener("click", () => {
      document.querySelectorAll("[data-form]").forEach((other) => other.replaceChildren());
      form.replaceChildren(source.content.cloneNode(true));
      const made = form.querySelector("form");
      made.elements.namedItem("log_id").value = crypto.randomUUID();
      days(made.elements.namedItem("day"), section.dataset.starts);
      if (self.intervaleLog) self.intervaleLog.attend(made);
      self.intervaleGuide(made);
      form.dispatchEvent(new CustomEvent("figures:laid", { bubbles: true }));
      document.querySelectorAll("[data-open]").forEach((button) => { button.hidden = button === open; });
      made.querySelector("[data-begin]").focus();
    });
  }

  page.querySelectorAll("[data-program]").forEach(lay);
})();
