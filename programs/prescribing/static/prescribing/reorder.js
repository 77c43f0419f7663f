"use strict";
/* Takes an exercise of the form by its grip and drops it on another's place; the form is sent as the Up and Down buttons send it. */
(() => {
  const form = document.getElementById("prescriber");
  if (!form) return;
  const items = [...form.querySelectorAll("fieldset.item")];
  let taken = -1;

  const mark = (at) => items.forEach((item, index) => {
    item.classList.toggle("drop-before", index === at && at < taken);
    item.classList.toggle("drop-after", index === at && at > taken);
  });

  function send(to) {
    const button = document.createElement("button");
    Object.assign(button, { type: "submit", name: "do", value: `move:${taken}:${to}`, hidden: true });
    button.setAttribute("formaction", "#items-title");
    form.append(button);
    button.click();
  }

  items.forEach((item, index) => {
    const grip = item.querySelector("[data-grip]");
    grip.hidden = items.length < 2;
    grip.addEventListener("dragstart", (event) => {
      taken = index;
      event.dataTransfer.effectAllowed = "move";
      event.dataTransfer.setData("text/plain", String(index));
      event.dataTransfer.setDragImage(item, 12, 12);
    });
    grip.addEventListener("dragend", () => { taken = -1; mark(-1); });
    item.addEventListener("dragover", (event) => {
      if (taken < 0) return;
      event.preventDefault();
      mark(index);
    });
    item.addEventListener("drop", (event) => {
      if (taken < 0) return;
      event.preventDefault();
      if (index !== taken) send(index);
    });
  });
})();
