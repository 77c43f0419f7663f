"use strict";
/* The guided session: one exercise at a time with a timer. It only fills in the form, which works without it. */
self.intervaleGuide = (form) => {
  const cards = [...form.querySelectorAll("[data-exercise]")];
  const guide = form.querySelector("[data-guide]");
  const part = (name) => guide.querySelector(`[data-${name}]`);
  const words = guide.dataset;
  const TICK = 200;            // milliseconds
  let at = 0;                  // which exercise
  let run = null;              // the timer's state for it
  let ticking = 0;
  let lock = null;

  let audio = null;

  /* Choices of this phone, by name; on until somebody turns them off. A browser that keeps nothing asks nothing. */
  function wanted(name) {
    try { return localStorage.getItem(`intervale-${name}`) !== "off"; } catch (error) { return true; }
  }

  function prefer(name, on) {
    try { localStorage.setItem(`intervale-${name}`, on ? "on" : "off"); } catch (error) { /* kept for this page only */ }
  }

  /* What a phone lying on the floor says: the next step, the end, a repetition. Hz, loudness, seconds; buzzes in milliseconds. */
  const SIGNS = { step: [660, 0.2, 0.25, 150], end: [880, 0.2, 0.6, [150, 100, 300]], beat: [440, 0.1, 0.08, 40] };

  function beep([pitch, volume, seconds]) {
    if (!wanted("sound") || !self.AudioContext) return;
    audio = audio || new AudioContext();
    const [tone, loud] = [audio.createOscillator(), audio.createGain()];
    tone.frequency.value = pitch;
    loud.gain.setValueAtTime(volume, audio.currentTime);
    loud.gain.exponentialRampToValueAtTime(0.001, audio.currentTime + seconds);
    tone.connect(loud).connect(audio.destination);
    tone.start();
    tone.stop(audio.currentTime + seconds);
  }

  function tell(sign) {
    if (wanted("buzz") && navigator.vibrate) navigator.vibrate(sign[3]);
    beep(sign);
  }

  function stayAwake() {
    if (!navigator.wakeLock) return;
    navigator.wakeLock.request("screen").then((held) => {
      if (ticking && !lock) lock = held;
      else held.release();   // paused while the phone was being asked
    }).catch(() => {});
  }

  const field = (card, name) => form.elements.namedItem(`${card.dataset.exercise}-${name}`);
  const clock = (seconds) => `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;

  function say(step) {
    if (!step) return words.finished;
    const what = step.kind === "work" && step.reps ? `${step.reps} ${words.reps}` : words[step.kind];
    const side = step.kind === "work" ? words[step.side] : "";
    const count = step.kind === "work" && step.of > 1 ? `${step.number} ${words.of} ${step.of}` : "";
    return [side, side ? what.toLowerCase() : what, count].filter(Boolean).join(", ");
  }

  function open(index) {
    pause();
    at = index;
    const card = cards[at];
    const steps = JSON.parse(card.dataset.steps);
    run = { steps, step: 0, left: steps[0].seconds * 1000, done: { left: 0, right: 0, both: 0 }, begun: false };
    run.whole = steps.reduce((sum, step) => sum + step.seconds, 0);
    cards.forEach((other) => other.classList.toggle("current", other === card));
    card.append(guide);
    part("skip-box").open = false;
    part("back").hidden = at === 0;
    part("says").textContent = words.ready;
    show();
    card.tabIndex = -1;
    card.focus({ preventScroll: true });
    card.scrollIntoView({ block: "start" });
  }

  /* Which repetition the tempo has come to; 0 when only time counts. */
  function beat(step) {
    if (!step || !step.reps || step.kind !== "work" || !run.begun) return 0;
    const passed = step.seconds - run.left / 1000;
    return Math.min(step.reps, Math.floor((passed * step.reps) / step.seconds) + 1);
  }

  function show() {
    const step = run.steps[run.step];
    const next = run.steps[run.step + 1];
    part("clock").textContent = step ? clock(Math.ceil(run.left / 1000)) : clock(0);
    part("pace").textContent = beat(step) ? `${beat(step)} ${words.of} ${step.reps}` : "";
    part("then-line").textContent = next ? `${words.then} ${say(next)}` : "";
    const passed = run.steps.slice(0, run.step).reduce((sum, one) => sum + one.seconds, 0);
    part("progress").max = run.whole;
    part("progress").value = step ? passed + step.seconds - run.left / 1000 : run.whole;
    part("run").textContent = ticking ? words.pause : run.begun ? words.on : words.start;
    part("run").hidden = !step;
  }

  function tick() {
    const now = performance.now();
    let passed = now - run.last;
    run.last = now;
    const [before, counted] = [run.step, beat(run.steps[run.step])];
    while (passed > 0 && run.steps[run.step]) {
      const step = run.steps[run.step];
      const slice = Math.min(passed, run.left);
      if (step.kind !== "change") run.done[step.side] += slice;
      run.left -= slice;
      passed -= slice;
      if (run.left <= 0) {
        run.step += 1;
        run.left = run.steps[run.step] ? run.steps[run.step].seconds * 1000 : 0;
        part("says").textContent = say(run.steps[run.step]);
        tell(run.steps[run.step] ? SIGNS.step : SIGNS.end);
      }
    }
    if (run.step === before && beat(run.steps[run.step]) > counted) tell(SIGNS.beat);
    if (!run.steps[run.step]) {
      pause();
      answer(cards[at], "full");
      part("done").focus();
    }
    show();
  }

  function start() {
    run.begun = true;
    run.last = performance.now();
    ticking = setInterval(tick, TICK);
    part("says").textContent = say(run.steps[run.step]);
    const started = form.elements.namedItem("started");
    if (!started.value) started.value = new Date().toISOString();
    stayAwake();
    show();
  }

  function pause() {
    clearInterval(ticking);
    ticking = 0;
    if (lock) lock.release().catch(() => {});
    lock = null;
    if (run) show();
  }

  function answer(card, how, reason) {
    const choice = card.querySelector(`input[name="${card.dataset.exercise}-done"][value="${how}"]`);
    if (!choice) return false;
    choice.checked = true;
    field(card, "skipped").value = reason || "";
    return true;
  }

  function stopHere() {
    const card = cards[at];
    const seconds = { left: Math.round((run.done.left + run.done.both) / 1000), right: Math.round(run.done.right / 1000) };
    for (const side of ["left", "right"]) if (field(card, side)) field(card, side).value = seconds[side] || "";
    const enough = seconds.left + seconds.right >= Number(card.dataset.least);
    if (!(enough && answer(card, "minimum"))) answer(card, "partly");
    next();
  }

  function next() {
    if (at + 1 < cards.length) open(at + 1);
    else leave(true);
  }

  function leave(finished) {
    pause();
    form.classList.remove("guided");
    guide.hidden = true;
    form.querySelector("[data-offer]").hidden = finished;
    const heading = finished ? form.querySelector("[data-questions] h2") : cards[at];
    heading.focus();
    heading.scrollIntoView({ block: "start" });
  }

  /* The level that is chosen shows its drawing; the others fold away. */
  form.querySelectorAll("[data-levels]").forEach((box) => box.addEventListener("change", (event) => {
    box.querySelectorAll("[data-level]").forEach((other) => { other.open = other.dataset.level === event.target.value; });
  }));

  form.querySelector("[data-begin]").addEventListener("click", () => {
    form.classList.add("guided");
    guide.hidden = false;
    open(at);
  });
  part("run").addEventListener("click", () => (ticking ? pause() : start()));
  part("done").addEventListener("click", () => { answer(cards[at], "full"); next(); });
  part("part").addEventListener("click", stopHere);
  part("back").addEventListener("click", () => open(at - 1));
  part("list").addEventListener("click", () => leave(false));
  guide.querySelectorAll("[data-skip]").forEach((button) =>
    button.addEventListener("click", () => { answer(cards[at], "not", button.dataset.skip); next(); }));

  if (cards.length) form.querySelector("[data-offer]").hidden = false;
  for (const name of ["sound", "buzz"]) {
    const button = part(name);
    button.setAttribute("aria-pressed", String(wanted(name)));
    button.addEventListener("click", () => {
      prefer(name, !wanted(name));
      button.setAttribute("aria-pressed", String(wanted(name)));
      if (name === "sound") beep(SIGNS.step);
    });
  }
  document.addEventListener("visibilitychange", () => {
    if (document.hidden || !ticking) return;
    lock = null;   // the phone let go of it while the page was out of sight
    stayAwake();
  });
};

document.querySelectorAll("form[data-session]").forEach(self.intervaleGuide);
if (document.getElementById("problems")) document.getElementById("problems").focus();
