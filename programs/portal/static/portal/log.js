"use strict";
/* Saving a session or a morning: first on the phone, then to the clinic. Without this script the form is sent as it is. */
(() => {
  const queue = self.intervaleQueue;
  const kept = self.intervaleKept;
  if (!queue || !kept) return;

  const value = (form, name) => {
    const field = form.elements.namedItem(name);
    return field ? field.value : "";
  };
  const number = (text) => (text === "" ? null : Number(text));

  /* The seconds an answer stands for, as the clinic counts them: `partly` is what was counted, or half of the least. */
  function seconds(card, how, left, right) {
    const { side } = card.dataset;
    const split = (all) => (side === "each" ? [Math.floor(all / 2), Math.floor(all / 2)] : side === "right" ? [0, all] : [all, 0]);
    if (how === "not") return [0, 0];
    if (how === "partly" && (left || right)) return side === "each" ? [left, right] : side === "right" ? [0, left + right] : [left + right, 0];
    if (how === "partly") return split(Math.floor(Number(card.dataset.least) / 2));
    return split(Number(how === "minimum" ? card.dataset.least : card.dataset.whole));
  }

  function item(form, card) {
    const key = card.dataset.exercise;
    const how = value(form, `${key}-done`);
    const [left, right] = seconds(card, how, Number(value(form, `${key}-left`)), Number(value(form, `${key}-right`)));
    return {
      item_key: key, level: number(value(form, `${key}-level`)), done_left: left, done_right: right, rating: value(form, `${key}-rating`),
      skipped: how === "not" ? value(form, `${key}-skipped`) : "",
    };
  }

  function session(form) {
    return {
      log_id: value(form, "log_id"), edit: 0, revision: value(form, "revision"), day: value(form, "day"),
      started: value(form, "started") || null, pain_before: number(value(form, "pain_before")),
      pain_during: number(value(form, "pain_during")), effort: number(value(form, "effort")), rating: value(form, "rating"),
      items: [...form.querySelectorAll("[data-exercise]")].map((card) => item(form, card)),
    };
  }

  function complain(form, sentence, where) {
    const box = form.querySelector("[data-problem]");
    box.hidden = false;
    box.querySelector("[data-sentence]").textContent = sentence;
    const link = box.querySelector("a");
    link.hidden = !where;
    if (where) link.href = `#${where}`;
    box.focus();
  }

  /* The first exercise without an answer: [words, id of the field]; nothing when all is said. */
  function missing(form) {
    for (const card of form.querySelectorAll("[data-exercise]")) {
      const key = card.dataset.exercise;
      const name = card.querySelector("h3").lastChild.textContent.trim();
      const how = value(form, `${key}-done`);
      if (!how) return [`${name}: ${form.dataset.sayHowMuch}`, `id_${key}-done`];
      if (how === "not" && !value(form, `${key}-skipped`)) return [`${name}: ${form.dataset.sayWhy}`, `id_${key}-skipped`];
      for (const side of ["left", "right"]) {
        const field = form.elements.namedItem(`${key}-${side}`);
        if (field && field.value !== "" && !/^[0-9]{1,4}$/.test(field.value)) return [`${name}: ${form.dataset.saySeconds}`, field.id];
      }
    }
    return null;
  }

  async function keep(form, kind, id, body, text) {
    try {
      await queue.add(kind, kept.person, id, body.day, body, text);
    } catch (error) {
      if (navigator.onLine) form.submit();   // no room here: straight to the clinic
      else complain(form, form.dataset.full);
      return;
    }
    const stop = await kept.send();
    const row = (await queue.all(kept.person)).find((one) => one.id === id);
    if (row && row.state === "sent") location.assign(form.dataset.saved);
    else if (row && row.state === "refused") complain(form, row.reason);
    else done(form, stop);
  }

  function done(form, stop) {
    form.hidden = true;
    const box = document.querySelector("[data-kept-note]");
    box.hidden = false;
    box.querySelector("[data-signed-out]").hidden = stop !== "signed_out";
    box.querySelector("h2").focus();
    box.scrollIntoView({ block: "start" });
  }

  function attend(form) {
    let busy = false;
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      const problem = form.matches("[data-session]") ? missing(form) : value(form, "pain") === "" && [form.dataset.sayPain, "id_pain"];
      if (problem) return complain(form, ...problem);
      if (busy) return undefined;
      busy = true;
      const work = form.matches("[data-session]")
        ? keep(form, "session", value(form, "log_id"), session(form), value(form, "words").trim())
        : keep(form, "morning", value(form, "answer_id"), {
          answer_id: value(form, "answer_id"), program: form.dataset.program, day: value(form, "day"), pain: number(value(form, "pain")),
        });
      return work.finally(() => { busy = false; });
    });
  }

  self.intervaleLog = { attend };
  document.querySelectorAll("form[data-session], form[data-morning]").forEach(attend);
})();
