// Keeps the sheet for when there is no network: what was fetched last is shown, a newer one is kept
// for the next time.
const CACHE = "brinebayes-sheet";
const FILES = ["./", "manifest.webmanifest", "icon.svg"];

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(CACHE).then((cache) => cache.addAll(FILES)).then(() => self.skipWaiting()));
});
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));
self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== self.location.origin) return;
  event.respondWith(
    caches.open(CACHE).then(async (cache) => {
      const kept = await cache.match(event.request, { ignoreSearch: true });
      const fresh = fetch(event.request).then((answer) => {
        if (answer.ok) cache.put(event.request, answer.clone());
        return answer;
      });
      if (!kept) return fresh;
      event.waitUntil(fresh.catch(() => null));
      return kept;
    }),
  );
});
