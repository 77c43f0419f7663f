// Moves a visit of the day by dragging it: an extra beside the page of moving, through the same step on the server. A drop that
// is refused puts the visit back and says why. Without a mouse nothing here does anything.
"use strict";
(() => {
  const day = document.querySelector(".day[data-from]");
  if (!day) return;
  const SNAP = 3;   // rows of five minutes: to the quarter of an hour, as openings are offered
  const FAR = 6;    // pixels after which a press is a drag
  const said = document.getElementById("moved");
  const token = () => document.querySelector("[name=csrfmiddlewaretoken]").value;
  const lanes = () => [...day.querySelectorAll(".lane")];
  let held = null;

  const laneAt = (x) => lanes().find((lane) => {
    const box = lane.getBoundingClientRect();
    return x >= box.left && x < box.right;
  });
  const clock = (row) => new Date(Date.parse(day.dataset.from) + row * 300000)
    .toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit", timeZone: day.dataset.zone });

  function put(back) {
    if (!held) return;
    held.item.classList.remove("dragged");
    if (back) held.item.style.transform = "";
    lanes().forEach((lane) => lane.classList.remove("target"));
    day.classList.remove("dragging");
  }

  function say(words, openings) {
    said.replaceChildren();
    const line = document.createElement("p");
    const strong = document.createElement("strong");
    strong.textContent = words;
    line.append(strong);
    said.append(line);
    if (openings && openings.length) {
      const free = document.createElement("p");
      free.textContent = "Still free: " + openings.map((each) => new Date(each.starts).toLocaleString("en-GB", {
        weekday: "long", hour: "2-digit", minute: "2-digit", timeZone: day.dataset.zone,
      }) + " with " + each.clinician_name).join("; ") + ".";
      said.append(free);
    }
    said.hidden = false;
    said.scrollIntoView({ block: "nearest" });
  }

  function where(event) {
    const lane = laneAt(event.clientX);
    if (!lane) return null;
    const list = lane.querySelector("ol").getBoundingClientRect();
    const tall = held.item.getBoundingClientRect().height / held.rows;
    const row = Math.round((event.clientY - held.grip - list.top) / tall / SNAP) * SNAP;
    return { lane, row, top: list.top + row * tall };
  }

  day.addEventListener("pointerdown", (event) => {
    const item = event.target.closest(".visit[data-visit]");
    if (!item || event.button !== 0 || event.pointerType === "touch" || getComputedStyle(day).display !== "flex") return;
    const box = item.getBoundingClientRect();
    held = {
      item, x: event.clientX, y: event.clientY, grip: event.clientY - box.top, left: box.left, top: box.top,
      rows: Number(item.dataset.rows), moving: false, place: null,
    };
  });
  day.addEventListener("dragstart", (event) => event.preventDefault());   // the link's own

  document.addEventListener("pointermove", (event) => {
    if (!held) return;
    if (!held.moving) {
      if (Math.hypot(event.clientX - held.x, event.clientY - held.y) < FAR) return;
      held.moving = true;
      held.item.classList.add("dragged");
      day.classList.add("dragging");
      said.hidden = true;
    }
    event.preventDefault();
    held.place = where(event);
    lanes().forEach((lane) => lane.classList.toggle("target", !!held.place && lane === held.place.lane));
    const across = held.place ? held.place.lane.getBoundingClientRect().left - held.item.closest(".lane").getBoundingClientRect().left : 0;
    held.item.style.transform = held.place ? `translate(${across}px, ${held.place.top - held.top}px)` : "";
    const shown = held.item.querySelector(".when");
    held.words = held.words || shown.innerHTML;
    shown.textContent = held.place ? clock(held.place.row) : "";
  });

  document.addEventListener("pointerup", async () => {
    const done = held;
    if (!done || !done.moving) { held = null; return; }
    const { item, place } = done;
    const restore = () => { item.querySelector(".when").innerHTML = done.words; item.style.transform = ""; };
    day.addEventListener("click", (event) => event.preventDefault(), { capture: true, once: true });
    setTimeout(() => day.dispatchEvent(new Event("click")), 0);   // takes that listener away when no click came
    put(false);
    held = null;
    if (!place || (place.lane === item.closest(".lane") && place.row === Number(item.dataset.row))) { restore(); return; }
    const start = new Date(Date.parse(day.dataset.from) + place.row * 300000).toISOString();
    try {
      const answer = await fetch(`/api/v1/appointments/${item.dataset.visit}/move`, {
        method: "POST", credentials: "same-origin",
        headers: { "Content-Type": "application/json", Accept: "application/json", "X-CSRFToken": token() },
        body: JSON.stringify({ start, clinician: place.lane.dataset.clinician }),
      });
      if (answer.ok) { location.reload(); return; }
      const told = await answer.json();
      restore();
      say(told.detail || "It could not be moved.", told.openings);
    } catch {
      restore();
      say("There is no connection just now. Nothing was moved.");
    }
  });

  document.addEventListener("keydown", (event) => {
    if (event.key !== "Escape" || !held || !held.moving) return;
    const { item, words } = held;
    put(true);
    if (words) item.querySelector(".when").innerHTML = words;
    held = null;
  });
})();
