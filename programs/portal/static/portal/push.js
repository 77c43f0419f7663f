"use strict";
/* Notifications on this device: asked for by a click only, told to the clinic, taken back by a click. */
(() => {
  const box = document.querySelector("[data-push]");
  if (!box || !("serviceWorker" in navigator) || !("PushManager" in window) || !("Notification" in window)) return;
  const [on, off] = [box.querySelector("[data-push-on]"), box.querySelector("[data-push-off]")];
  const token = () => (document.cookie.match(/(?:^|; )csrftoken=([^;]*)/) || ["", ""])[1];
  const say = (name) => box.querySelectorAll("[data-push-said]").forEach((each) => { each.hidden = each.dataset.pushSaid !== name; });

  const tell = async (address, body) => {
    const answer = await fetch(address, {
      method: "POST", credentials: "same-origin", redirect: "error", body: JSON.stringify(body),
      headers: { "Content-Type": "application/json", "X-CSRFToken": token() },
    });
    if (!answer.ok) throw new Error(String(answer.status));
  };
  const bytes = (text) => Uint8Array.from(atob(text.replace(/-/g, "+").replace(/_/g, "/")), (mark) => mark.charCodeAt(0));

  async function show() {
    const held = await (await navigator.serviceWorker.ready).pushManager.getSubscription();
    on.hidden = Boolean(held);
    off.hidden = !held;
    box.hidden = false;
  }

  on.addEventListener("click", async () => {
    try {
      if ((await Notification.requestPermission()) !== "granted") { say("refused"); return; }
      const worker = await navigator.serviceWorker.ready;
      const made = await worker.pushManager.subscribe({ userVisibleOnly: true, applicationServerKey: bytes(box.dataset.push) });
      const { endpoint, keys } = made.toJSON();
      try {
        await tell(box.dataset.add, { endpoint, p256dh: keys.p256dh, auth: keys.auth });
      } catch (error) { await made.unsubscribe(); throw error; }
      window.location.reload();
    } catch (error) { say("failed"); }
  });

  off.addEventListener("click", async () => {
    try {
      const held = await (await navigator.serviceWorker.ready).pushManager.getSubscription();
      if (held) { await tell(box.dataset.remove, { endpoint: held.endpoint }); await held.unsubscribe(); }
      window.location.reload();
    } catch (error) { say("failed"); }
  });

  show();
})();
