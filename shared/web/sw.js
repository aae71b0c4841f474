// Keeps the pages (no figures) on the device, so that they open without a line and say so. What the
// feed gives comes first, always.
"use strict";

const SHELL = "ringtally-pages";

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

async function answer(request) {
  try {
    const fresh = await fetch(request);
    if (fresh.ok) {
      const shell = await caches.open(SHELL);
      await shell.put(request, fresh.clone());
    }
    return fresh;
  } catch (error) {
    return (await caches.match(request, { ignoreSearch: true })) || Response.error();
  }
}

self.addEventListener("fetch", (event) => {
  const { origin, pathname } = new URL(event.request.url);
  const page = pathname === "/" || ["/now", "/web/"].some((start) => pathname.startsWith(start)) || pathname.startsWith("/bout/");
  if (event.request.method === "GET" && origin === self.location.origin && page) {
    event.respondWith(answer(event.request));
  }
});
