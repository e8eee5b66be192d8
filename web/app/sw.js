// The service worker: the whole app is kept on the phone and served from there; /api goes to the network only.
// The server fills in the release, the list and the hashed addresses (server/tepal/api/web_assets.py).
// Order of these scripts matters: precaching refers to the three before it.
importScripts(
  "/app/vendor/workbox-core.js",
  "/app/vendor/workbox-routing.js",
  "/app/vendor/workbox-strategies.js",
  "/app/vendor/workbox-precaching.js",
);

const RELEASE = "RELEASE_DIGEST";
const PRECACHE = [];

workbox.core.setCacheNameDetails({ prefix: "tepal", suffix: "app", precache: "files" });
workbox.precaching.precacheAndRoute(PRECACHE, { ignoreURLParametersMatching: [], cleanURLs: false });
workbox.precaching.cleanupOutdatedCaches();
workbox.routing.registerRoute(
  new workbox.routing.NavigationRoute(workbox.precaching.createHandlerBoundToURL("INDEX_URL"), {
    denylist: [/^\/api\//, /^\/app\//, /\.[a-z0-9]+$/],
  }),
);
// No skipWaiting at install: a page that is open keeps the files it was started with until the person
// agrees (or closes every tab), so that old and new modules never meet.
self.addEventListener("message", (event) => {
  if (event.data?.say === "take over") self.skipWaiting();
  if (event.data?.say === "which release") event.ports[0]?.postMessage({ release: RELEASE });
});
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));
