// Answers where there is no signal: with the pages as they were seen last.
"use strict";
const KEPT = "capful {{style}} {{script}}";
const ALWAYS = ["{{style}}", "{{script}}", "/assets/icon.svg", "/offline"];

self.addEventListener("install", (event) => {
  const filled = caches.open(KEPT).then((cache) => cache.addAll(ALWAYS));
  event.waitUntil(filled.then(() => self.skipWaiting()));
});
self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) if (name !== KEPT) await caches.delete(name);
    await self.clients.claim();
  })());
});
self.addEventListener("fetch", (event) => {
  const { request } = event;
  const own = new URL(request.url).origin === self.location.origin;
  if (!own || request.method !== "GET") return;
  const asset = new URL(request.url).pathname.startsWith("/assets/");
  if (!asset && request.mode !== "navigate") return;
  event.respondWith((async () => {
    const cache = await caches.open(KEPT);
    if (asset) {
      const known = await cache.match(request);
      if (known) return known;
    }
    try {
      const answer = await fetch(request);
      // What was done on the way is told once: the page is kept without it.
      const page = new URL(request.url);
      page.searchParams.delete("done");
      if (answer.ok && !answer.redirected) await cache.put(page.toString(), answer.clone());
      return answer;
    } catch (error) {
      const page = new URL(request.url);
      page.searchParams.delete("done");
      return (await cache.match(page.toString())) || (await cache.match("/offline"));
    }
  })());
});
