// Beside the pages: keeps the shell (one page that holds nothing private, and its files), so that it opens without a signal.
// VERSION, SHELL and KEPT stand above this line when the shop gives it out. No other page is kept, whosever it is.
const CACHE = `witnessmark-shell-${VERSION}`;

self.addEventListener("install", (event) => {
  event.waitUntil((async () => {
    const cache = await caches.open(CACHE);
    for (const address of KEPT) {
      const answer = await fetch(address, { cache: "reload", credentials: "omit" });
      if (!answer.ok || answer.redirected) throw new Error(`${address} answered ${answer.status}`);
      await cache.put(address, answer);
    }
    await self.skipWaiting();
  })());
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) if (name.startsWith("witnessmark-shell-") && name !== CACHE) await caches.delete(name);
    await self.clients.claim();
  })());
});

// The shop answers while it can be reached; what is kept here answers when it cannot.
self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== self.location.origin) return;
  if (request.mode === "navigate") {
    event.respondWith(fetch(request).catch(async () => (await caches.open(CACHE)).match(SHELL)));
  } else if (KEPT.includes(url.pathname)) {
    event.respondWith(fetch(request).catch(async () => (await caches.open(CACHE)).match(url.pathname) ?? Response.error()));
  }
});
