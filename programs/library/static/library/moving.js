// Moves a drawing from its start pose to its end pose and back.
// Each path that moves carries data-way: the differences from the end pose back to the start, step by step, in tenths.
// Nothing moves by itself when less motion is asked for, when the drawing is out of sight, or after Stop.
(() => {
  "use strict";
  const TOKEN = /A[\d.]+ [\d.]+ 0 [01] [01]|-?\d+(?:\.\d+)?/g;
  const GO = 1700, STAY = 800; // milliseconds on the way, and at either end
  const less = window.matchMedia("(prefers-reduced-motion: reduce)");
  const running = new Set();
  let ticking = false;

  function pathOf(path) {
    const still = path.getAttribute("d"), pieces = [], last = [];
    let from = 0;
    for (const found of still.matchAll(TOKEN)) {
      if (found[0].startsWith("A")) continue;
      pieces.push(still.slice(from, found.index));
      last.push(Math.round(Number(found[0]) * 10));
      from = found.index + found[0].length;
    }
    const frames = [last];
    for (const step of path.dataset.way.split(";")) {
      const was = frames[0];
      frames.unshift(step.split(" ").map((number, i) => was[i] + Number(number)));
    }
    return { path, still, pieces, rest: still.slice(from), frames };
  }

  function put(part, share) {
    const place = share * (part.frames.length - 1);
    const low = Math.min(Math.floor(place), part.frames.length - 2), mix = place - low;
    const a = part.frames[low], b = part.frames[low + 1];
    let text = "";
    for (let i = 0; i < part.pieces.length; i += 1) text += part.pieces[i] + ((a[i] + (b[i] - a[i]) * mix) / 10).toFixed(1);
    part.path.setAttribute("d", text + part.rest);
  }

  function shareAt(elapsed) {
    const time = elapsed % (2 * (GO + STAY));
    if (time < STAY) return 0;
    if (time < STAY + GO) return ease((time - STAY) / GO);
    if (time < 2 * STAY + GO) return 1;
    return ease(1 - (time - 2 * STAY - GO) / GO);
  }

  const ease = (x) => x * x * (3 - 2 * x);

  function tick(now) {
    for (const one of running) {
      if (!one.seen) continue;
      one.began ??= now;
      const share = shareAt(now - one.began);
      if (share === one.share) continue;
      one.share = share;
      one.parts.forEach((part) => put(part, share));
    }
    ticking = running.size > 0;
    if (ticking) window.requestAnimationFrame(tick);
  }

  function say(one, on) {
    one.box.classList.toggle("playing", on);
    const word = on ? one.button.dataset.stop : one.button.dataset.play;
    one.button.textContent = word;
    one.button.setAttribute("aria-label", `${word}: ${one.title}`);
  }

  function play(one) {
    one.began = undefined;
    running.add(one);
    say(one, true);
    if (!ticking) window.requestAnimationFrame(tick);
    ticking = true;
  }

  function stop(one) {
    running.delete(one);
    one.share = undefined;
    one.parts.forEach((part) => part.path.setAttribute("d", part.still));
    say(one, false);
  }

  const all = new Map();
  const watcher = new IntersectionObserver((entries) => {
    for (const entry of entries) all.get(entry.target).seen = entry.isIntersecting;
  });

  function ready(box) {
    const paths = [...box.querySelectorAll("path[data-way]")];
    if (all.has(box) || paths.length === 0) return;
    const button = box.querySelector("button");
    const one = { box, button, parts: paths.map(pathOf), seen: false, title: box.querySelector("title").textContent };
    all.set(box, one);
    watcher.observe(box);
    button.hidden = false;
    button.addEventListener("click", () => (running.has(one) ? stop(one) : play(one)));
    if (box.dataset.moving === "auto" && !less.matches) play(one);
  }

  const readyIn = (root) => root.querySelectorAll(".moving").forEach(ready);
  readyIn(document);
  for (const news of ["htmx:afterSettle", "figures:laid"]) document.addEventListener(news, (event) => readyIn(event.target));
  less.addEventListener("change", () => less.matches && [...running].forEach(stop));
  window.addEventListener("beforeprint", () => [...running].forEach(stop));
})();
