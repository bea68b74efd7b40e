// Keeps the loader's pages for when the network is gone. Whoever signs out takes the kept pages with them.
"use strict";
const KEPT = "loader-1";
self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));
self.addEventListener("fetch", (event) => {
  const request = event.request, url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== self.location.origin) return;
  const isPage = url.pathname.startsWith("/loader") && !url.pathname.endsWith(".pdf") && !url.pathname.endsWith("/state");
  if (!isPage && !url.pathname.startsWith("/static/")) return;
  event.respondWith((async () => {
    const cache = await caches.open(KEPT);
    try {
      const answer = await fetch(request);
      if (answer.redirected && answer.url.includes("/sign-in")) await caches.delete(KEPT);
      else if (answer.ok) await cache.put(request, answer.clone());
      return answer;
    } catch (gone) {
      const kept = await cache.match(request, { ignoreSearch: true });
      if (kept) return kept;
      throw gone;
    }
  })());
});
