"use strict";
/* Keeps the portal's files and the pages that a client needs without a signal. Addresses come from /portal/sw.js. */
const names = self.intervale;
const SHELL = `shell-${names.version}`;
const PAGES = "pages";
const PATIENCE = 4000;   // milliseconds before a slow line counts as none, where a kept page can stand in

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(SHELL).then((shell) => shell.addAll(names.shell)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    for (const key of await caches.keys()) if (key.startsWith("shell-") && key !== SHELL) await caches.delete(key);
    await self.clients.claim();
  })());
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (address.origin !== self.location.origin) return;
  if (request.mode === "navigate" && address.pathname.startsWith(names.scope)) event.respondWith(page(request, address));
  else if (request.method === "GET" && names.shell.includes(address.pathname)) event.respondWith(file(request));
});

async function file(request) {
  const shell = await caches.open(SHELL);
  return (await shell.match(request, { ignoreSearch: true })) || fetch(request);
}

async function page(request, address) {
  if (request.method === "POST") return address.pathname === names.help ? alarm(request) : fetch(request);
  const kept = await stand(address.pathname);
  try {
    const answer = await (kept ? Promise.race([fetch(request), late()]) : fetch(request));
    return kept && answer.status >= 502 && answer.status <= 504 ? kept : answer;
  } catch (error) {
    if (kept) return kept;
    throw error;
  }
}

const late = () => new Promise((done, fail) => { setTimeout(() => fail(new Error("late")), PATIENCE); });

/* What stands in for a page: the way out for itself, the days ahead for every other. */
async function stand(path) {
  const pages = await caches.open(PAGES);
  if (path.startsWith(names.help)) return pages.match(path === names.help ? names.help : names.untold);
  return pages.match(names.pocket);
}

/* A red-flag answer: the stop screen comes whether or not the line works, and the answer is kept until it is sent. */
async function alarm(request) {
  const copy = request.clone();
  try {
    return await fetch(request);
  } catch (error) {
    const pages = await caches.open(PAGES);
    try {
      const given = await copy.formData();
      const person = await self.intervaleQueue.noted("person");
      // a kept page carries the same number each time it is shown: a second tap is a second answer
      const known = (await self.intervaleQueue.all(person)).some((row) => row.id === given.get("answer_id"));
      const body = { answer_id: known ? crypto.randomUUID() : given.get("answer_id"), flag: given.get("flag") };
      if (person && body.flag) await self.intervaleQueue.add("alert", person, body.answer_id, "", body);
    } catch (failed) { /* the screen matters more than the record */ }
    return (await pages.match(names.untold)) || Response.error();
  }
}

self.addEventListener("sync", (event) => {
  if (event.tag === "send") event.waitUntil(send());
});

async function send() {
  const cookie = self.cookieStore && (await self.cookieStore.get("csrftoken"));
  if (!cookie) return;   // the next page sends it
  const person = await self.intervaleQueue.noted("person");
  if ((await self.intervaleQueue.send(person, names, cookie.value)) === "later") throw new Error("later");
  for (const client of await self.clients.matchAll()) client.postMessage("sent");
}

/* A notification from the clinic: a sentence without anything of the plan in it, and the page it opens. */
self.addEventListener("push", (event) => {
  let told = {};
  try { told = event.data ? event.data.json() : {}; } catch (error) { /* something must be shown, and it is */ }
  event.waitUntil(self.registration.showNotification(told.title || "Intervale", {
    tag: told.tag || "intervale", icon: names.icon, data: { path: inside(told.url) },
  }));
});

self.addEventListener("notificationclick", (event) => {
  event.notification.close();
  event.waitUntil((async () => {
    const address = new URL((event.notification.data || {}).path || names.scope, self.location.origin).href;
    const open = (await self.clients.matchAll({ type: "window" })).find((each) => each.url === address);
    return open ? open.focus() : self.clients.openWindow(address);
  })());
});

/* Only pages of this portal are opened, whatever an address says. */
function inside(url) {
  try {
    const address = new URL(url, self.location.origin);
    if (address.origin === self.location.origin && address.pathname.startsWith(names.scope)) return address.pathname;
  } catch (error) { /* no address */ }
  return names.scope;
}
