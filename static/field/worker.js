// The service worker of /field/: it keeps one version of the app's files, whole or not at all, and
// answers with them. It never touches writes and keeps no answers. The server puts the list in.
const SHELL = /* the list */ { version: "", files: [] };
const NAME = `shell ${SHELL.version}`;
const KEEP = 30 * 24 * 3600 * 1000;
const KNOWN = new Map(SHELL.files.map((file) => [file.url, file.sha256]));

async function hash(bytes) {
  const digest = await crypto.subtle.digest("SHA-256", bytes);
  return [...new Uint8Array(digest)].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

// One file that is missing or differs stops the install: the version before goes on working.
async function keepShell() {
  const cache = await caches.open(NAME);
  for (const { url, sha256 } of SHELL.files) {
    const response = await fetch(url, { cache: "reload" });
    if (!response.ok || response.redirected) throw new Error(`${url} did not come: ${response.status}`);
    if ((await hash(await response.clone().arrayBuffer())) !== sha256) throw new Error(`${url} is of another version.`);
    await cache.put(url, response);
  }
  await cache.put("/field/kept-at", new Response(String(Date.now())));
}

async function clearOld() {
  for (const name of await caches.keys()) {
    if (!name.startsWith("shell ") || name === NAME) continue;
    const kept = await (await caches.open(name)).match("/field/kept-at");
    if (!kept || Number(await kept.text()) < Date.now() - KEEP) await caches.delete(name);
  }
}

addEventListener("install", (event) => event.waitUntil(keepShell()));
addEventListener("activate", (event) => event.waitUntil(Promise.all([clearOld(), clients.claim()])));

addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== location.origin) return;
  const isPage = request.mode === "navigate" && url.pathname === "/field/";
  if (!isPage && !KNOWN.has(url.pathname)) return;
  event.respondWith(
    caches
      .open(NAME)
      .then((cache) => cache.match(url.pathname))
      .then((kept) => kept ?? fetch(request)),
  );
});

addEventListener("message", (event) => {
  if (event.data.type === "take over") skipWaiting();
  if (event.data.type === "check") event.waitUntil(check().then((missing) => event.ports[0].postMessage({ missing })));
});

// Read every file back from where it is kept.
async function check() {
  const cache = await caches.open(NAME);
  const missing = [];
  for (const { url, sha256 } of SHELL.files) {
    const kept = await cache.match(url);
    if (!kept || (await hash(await kept.arrayBuffer())) !== sha256) missing.push(url);
  }
  return missing;
}
