// A service worker: the page opens while the server is away, where the browser lets one work at all
// (a certificate that it trusts). The server names here what belongs to the page that it gives, so
// that another page has another worker, which keeps it whole, and lets the one before go.

const kept = 'fieldpeg-@VERSION@';
const files = ['@SCRIPT@', '@GERMAN@', '@STYLE@', '@ICON@'];
const pages = ['/', '/join', '/hello', '/board'];  // all the same one
const patienceMs = 2000;

async function keep() {
  const cache = await caches.open(kept);
  await cache.addAll(['/', ...files]);
  await self.skipWaiting();
}

async function letOthersGo() {
  const names = await caches.keys();
  await Promise.all(names.filter((name) => name !== kept).map((name) => caches.delete(name)));
  await self.clients.claim();
}

// By the path alone: what stands behind # in the address is a ticket's secret.
async function had(path) {
  const cache = await caches.open(kept);
  return cache.match(path, {ignoreVary: true});
}

async function file(request, path) {
  return (await had(path)) || fetch(request);
}

// The server's, if it answers in time.
async function page(request) {
  const fresh = fetch(request);
  const old = await had('/');
  if (!old) return fresh;
  const later = new Promise((done) => setTimeout(() => done(old), patienceMs));
  return Promise.race([fresh.catch(() => old), later]);
}

self.addEventListener('install', (event) => event.waitUntil(keep()));
self.addEventListener('activate', (event) => event.waitUntil(letOthersGo()));
self.addEventListener('fetch', (event) => {
  const {request} = event;
  const {origin, pathname} = new URL(request.url);
  if (request.method !== 'GET' || origin !== self.location.origin) return;
  if (files.includes(pathname)) event.respondWith(file(request, pathname));
  else if (pages.includes(pathname)) event.respondWith(page(request));
});
