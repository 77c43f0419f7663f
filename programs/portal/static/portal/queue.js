"use strict";
/* What the phone keeps until it is sent: opaque ids and numbers; free words only as long as they wait.
   Pages and the worker use the same code. An entry: {id, person, kind, state, made, day, body, words, code, reason}. */
self.intervaleQueue = (() => {
  const ENTRIES = "entries";
  const NOTES = "notes";
  const BATCH = 50;                       // sessions sent at once
  const SENT_KEPT = 14 * 24 * 3600e3;     // milliseconds: how long a sent one is still listed

  function opened() {
    return new Promise((done, fail) => {
      const asked = indexedDB.open("intervale", 1);
      asked.onupgradeneeded = () => {
        asked.result.createObjectStore(ENTRIES, { keyPath: "id" });
        asked.result.createObjectStore(NOTES, { keyPath: "name" });
      };
      asked.onsuccess = () => done(asked.result);
      asked.onerror = asked.onblocked = () => fail(asked.error || new Error("blocked"));
    });
  }

  /* Run `work(store)` in one transaction; it is done only once the data is on the disk. */
  async function within(name, mode, work) {
    const base = await opened();
    try {
      return await new Promise((done, fail) => {
        const transaction = base.transaction(name, mode, { durability: "strict" });
        const answer = work(transaction.objectStore(name));
        transaction.oncomplete = () => done(answer && answer.result);
        transaction.onabort = transaction.onerror = () => fail(transaction.error || new Error("aborted"));
      });
    } finally {
      base.close();
    }
  }

  const put = (entry) => within(ENTRIES, "readwrite", (store) => store.put(entry));
  const drop = (id) => within(ENTRIES, "readwrite", (store) => store.delete(id));
  const note = (name, value) => within(NOTES, "readwrite", (store) => store.put({ name, value }));
  const noted = async (name) => ((await within(NOTES, "readonly", (store) => store.get(name))) || {}).value;

  async function all(person) {
    const rows = await within(ENTRIES, "readonly", (store) => store.getAll());
    return rows.filter((row) => row.person === person).sort((one, other) => one.made - other.made);
  }

  async function strangers(person) {
    const rows = await within(ENTRIES, "readonly", (store) => store.getAll());
    return rows.filter((row) => row.person !== person && row.state !== "sent").length;
  }

  const add = (kind, person, id, day, body, words) =>
    put({ id, person, kind, state: "waiting", made: Date.now(), day, body, words: words || "", code: "", reason: "" });

  /* A sent one keeps its day only: its answers are at the clinic now. */
  const sent = (entry) => put({ ...entry, state: "sent", made: Date.now(), body: null, words: "", code: "", reason: "" });
  const refused = (entry, code, reason) => put({ ...entry, state: "refused", code, reason });
  const again = (entry) => put({ ...entry, state: "waiting", code: "", reason: "" });

  async function tidy(person) {
    const old = (await all(person)).filter((row) => row.state === "sent" && row.made < Date.now() - SENT_KEPT);
    for (const row of old) await drop(row.id);
  }

  /* Free words go when somebody signs out before they were sent. */
  async function forgetWords(person) {
    for (const row of await all(person)) if (row.words) await put({ ...row, words: "" });
  }

  async function post(address, person, token, body) {
    let answer;
    try {
      answer = await fetch(address, {
        method: "POST", credentials: "same-origin", body: JSON.stringify(body), redirect: "error",
        headers: { "Content-Type": "application/json", "X-CSRFToken": token, "Intervale-Person": person },
      });
    } catch (error) {
      return { stop: "later" };
    }
    if (answer.status === 401 || answer.status === 403) return { stop: "signed_out" };
    const read = await answer.json().catch(() => null);
    if (answer.ok && read) return { read };
    if (answer.status === 404 || (read && read.title === "other_person")) return { stop: "other_person" };
    if (!read || answer.status === 409 && read.title === "still_running" || answer.status === 429 || answer.status >= 500) {
      return { stop: "later" };
    }
    return { code: read.title || "refused", reason: read.detail || "" };
  }

  async function sendSessions(rows, places, person, token) {
    const sessions = rows.map((row) => ({ ...row.body, words: row.words }));
    const answer = await post(places.sessions, person, token, { sessions });
    if (answer.stop) return answer.stop;
    if (answer.read) {
      for (const [place, row] of rows.entries()) {
        const said = answer.read.results.find((one) => one.place === place);
        if (!said) continue;
        if (said.result === "refused") await refused(row, said.code, [said.reason, ...sentences(said.errors)].join(" "));
        else await sent(row);
      }
      return "";
    }
    if (rows.length === 1) {
      await refused(rows[0], answer.code, answer.reason);
      return "";
    }
    for (const row of rows) {   // the batch as such was refused: each by itself, so that one costs no other
      const stop = await sendSessions([row], places, person, token);
      if (stop) return stop;
    }
    return "";
  }

  function sentences(errors) {
    if (typeof errors === "string") return [errors];
    return errors && typeof errors === "object" ? Object.values(errors).flatMap(sentences) : [];
  }

  async function sendOne(row, places, person, token) {
    const address = row.kind === "alert" ? places.alerts : places.mornings;
    const answer = await post(address, person, token, row.body);
    if (answer.stop) return answer.stop;
    if (answer.read) await sent(row);
    else await refused(row, answer.code, answer.reason);
    return "";
  }

  async function sendNow(person, places, token) {
    const rows = (await all(person)).filter((row) => row.state === "waiting");
    const sessions = rows.filter((row) => row.kind === "session");
    for (const row of rows.filter((one) => one.kind === "alert")) {
      const stop = await sendOne(row, places, person, token);
      if (stop) return stop;
    }
    for (let from = 0; from < sessions.length; from += BATCH) {
      const stop = await sendSessions(sessions.slice(from, from + BATCH), places, person, token);
      if (stop) return stop;
    }
    for (const row of rows.filter((one) => one.kind === "morning")) {
      const stop = await sendOne(row, places, person, token);
      if (stop) return stop;
    }
    return "";
  }

  /* Sends what waits for this person; answers "" or why it stopped: later, signed_out, other_person. */
  function send(person, places, token) {
    if (!person) return Promise.resolve("other_person");
    const work = () => sendNow(person, places, token);
    return navigator.locks ? navigator.locks.request("intervale-send", work) : work();
  }

  return { add, again, all, drop, forgetWords, note, noted, send, strangers, tidy };
})();
