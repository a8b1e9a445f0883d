// Keeps the program itself for use without reception: one version at a time, whole or not at all. Data is not kept
// here. `PROGRAM` is written in front by the server: version, shell, files, and files only some browsers need.

const NAME = `verglas-${PROGRAM.version}`;

const wanted = () => [PROGRAM.shell, ...PROGRAM.files, ...("BarcodeDetector" in self ? [] : PROGRAM.sometimes)];

async function fetchAll() {
  const cache = await caches.open(NAME);
  await Promise.all(wanted().map(async (address) => {
    const response = await fetch(address, { cache: "no-cache", credentials: "same-origin" });
    if (!response.ok) throw new Error(`${address} answered ${response.status}`);
    await cache.put(address, response);
  }));
}

async function forgetOthers() {
  const names = await caches.keys();
  await Promise.all(names.filter((name) => name.startsWith("verglas-") && name !== NAME).map((name) => caches.delete(name)));
  await self.clients.claim();
}

let opened;

async function fromCache(request, address) {
  opened ??= caches.open(NAME);
  return (await (await opened).match(address)) ?? fetch(request);
}

self.addEventListener("install", (event) => event.waitUntil(fetchAll()));
self.addEventListener("activate", (event) => event.waitUntil(forgetOthers()));
self.addEventListener("message", (event) => { if (event.data === "start") self.skipWaiting(); });
self.addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (request.method !== "GET" || origin !== self.location.origin) return;
  if (request.mode === "navigate" && pathname === PROGRAM.shell) event.respondWith(fromCache(request, PROGRAM.shell));
  else if (PROGRAM.files.includes(pathname) || PROGRAM.sometimes.includes(pathname)) event.respondWith(fromCache(request, pathname));
});
