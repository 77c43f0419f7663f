/* A passkey that did not work is said on the page; the person may have pressed cancel. */
document.addEventListener("allauth.error", (event) => {
  event.preventDefault();
  document.querySelectorAll("[data-passkey-failed]").forEach((box) => { box.hidden = false; });
});
