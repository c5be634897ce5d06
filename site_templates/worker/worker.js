/* The worker: answers from what the phone keeps of one build of the site, whole or not at all.

   SITE, written in by the build, names the build and its list of files with their digests. Every build has a
   cache of its own; a file whose digest is another than listed is never kept. A new build is fetched beside the
   old one, and used when it is whole: at the next page opened when no other is open, or when the crew says so.
   A page that is kept gets every file from what is kept, one that is not gets every file from the network. */
"use strict";

const ROOT = new URL("./", self.location).pathname;
const PREFIX = "wallwork " + SITE.job + " " + ROOT + " ";
const NAME = PREFIX + SITE.build;
const ASKED = ROOT + "offline/asked?"; // and when the site last said that this build is its own
const TYPES = { css: "text/css", html: "text/html", js: "text/javascript", json: "application/json", svg: "image/svg+xml" };
const AT_ONCE = 4; // files fetched at a time
const OPENED = 4; // packs kept unpacked in memory
const PATIENCE = 20000; // ms that a newer build may take before the page says that there is one

// -- keeping

function address(path) {
  return ROOT + path.split("/").map(encodeURIComponent).join("/");
}

async function sum(bytes) {
  const hash = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  return Array.from(hash, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

async function others() {
  const names = await caches.keys();
  return names.filter((name) => name.startsWith(PREFIX) && name !== NAME);
}

/* Put a file of the list into this build's cache: from another build's when its digest is the same. */
async function take(file) {
  const cache = await caches.open(NAME);
  const url = address(file.file);
  if (await cache.match(url)) return;
  for (const name of await others()) {
    const old = await (await caches.open(name)).match(url);
    if (old && old.headers.get("X-Sum") === file.sum) return cache.put(url, old);
  }
  // Hosts judge a file's age by its date, which says little: what is not as listed is fetched whole once more.
  for (const how of ["no-cache", "reload"]) {
    const answer = await fetch(url, { cache: how, credentials: "same-origin" });
    if (!answer.ok || answer.redirected) throw new Error(file.file + ": " + answer.status);
    const bytes = await answer.arrayBuffer();
    if ((await sum(bytes)) === file.sum) {
      return cache.put(url, new Response(bytes, { headers: { "X-Sum": file.sum } }));
    }
  }
  throw new Error(file.file + " is of another build");
}

async function takeAll(files, tell) {
  const waiting = files.slice();
  let done = 0;
  async function next() {
    while (waiting.length) {
      const file = waiting.shift();
      await take(file);
      done += file.bytes;
      if (tell) tell(done);
    }
  }
  await Promise.all(Array.from({ length: AT_ONCE }, next));
}

let listed = null;

/* The list, from this build's cache; null before it was taken. */
async function theList() {
  if (!listed) {
    const kept = await caches.match(address(SITE.list.file), { cacheName: NAME });
    listed = kept ? await kept.json() : null;
  }
  return listed;
}

async function holds(file, cacheName) {
  return Boolean(await caches.match(address(file.file), { cacheName: cacheName }));
}

/* The walls that a build's cache holds whole. */
async function wallsOf(cacheName) {
  const kept = await caches.match(address(SITE.list.file), { cacheName: cacheName });
  const walls = new Set();
  const short = new Set();
  for (const pack of kept ? (await kept.json()).packs : []) {
    const here = await holds(pack, cacheName);
    pack.walls.forEach((wall) => (here ? walls : short).add(wall));
  }
  return new Set([...walls].filter((wall) => !short.has(wall)));
}

function packsWith(list, walls) {
  return list.packs.filter((pack) => pack.walls.some((wall) => walls.has(wall)));
}

/* Keep in this build what the phone kept in an older one. */
async function catchUp(tell) {
  const list = await theList();
  for (const name of await others()) {
    await takeAll(packsWith(list, await wallsOf(name)), tell);
  }
}

self.addEventListener("install", (event) => {
  event.waitUntil((async () => {
    if (typeof DecompressionStream === "undefined") throw new Error("this browser unpacks nothing");
    await take(SITE.list);
    await takeAll((await theList()).common);
    await catchUp();
  })());
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    try {
      await catchUp(); // what was taken along while this build waited
    } catch (error) { /* without a network, the rest stays */ }
    for (const name of await others()) await caches.delete(name);
    await self.clients.claim();
  })());
});

// -- answering

const opened = new Map();

async function unpack(file) {
  const kept = await caches.match(address(file.file), { cacheName: NAME });
  return kept ? new Response(kept.body.pipeThrough(new DecompressionStream("gzip"))).json() : null;
}

/* The pages of a pack that is kept, by address; null when it is not. Asked for by several at a time, unpacked once. */
async function open(file) {
  let pages = opened.get(file.file);
  if (!pages) {
    if (opened.size >= OPENED) opened.delete(opened.keys().next().value);
    opened.set(file.file, (pages = unpack(file)));
    const forget = () => opened.delete(file.file); // it may be kept later
    pages.then((found) => found || forget(), forget);
  }
  return pages;
}

/* Where a path of the site is kept: its file of the list, or null. */
function fileOf(list, path) {
  const parts = path.split("/");
  if (parts[0] === "T" && parts.length > 2) {
    const transit = Object.hasOwn(list.transits, parts[1]) && list.transits[parts[1]];
    return transit ? list.packs[transit[0]] : null;
  }
  if (parts[0] === "W" && parts.length > 2) {
    return list.packs.find((pack) => pack.walls.includes(parts[1])) || null;
  }
  return list.common.find((file) => file.file === path || (file.pages || []).includes(path)) || list.common[0];
}

async function find(path) {
  const list = await theList();
  const file = list && fileOf(list, path);
  if (!file) return null;
  if (file.file === path) return (await caches.match(address(path), { cacheName: NAME })) || null;
  const pack = await open(file);
  const page = pack && Object.hasOwn(pack.pages, path) ? pack.pages[path] : null;
  if (!page) return null;
  const type = TYPES[path.slice(path.lastIndexOf(".") + 1)];
  let piece = 0;
  const text = page.map((distance) => pack.pieces[(piece += distance)]).join("");
  return new Response(text, { headers: { "Content-Type": type + "; charset=utf-8" } });
}

function pathOf(url) {
  try {
    return decodeURIComponent(url.pathname.slice(ROOT.length));
  } catch (error) {
    return url.pathname.slice(ROOT.length);
  }
}

function lead(path, fragment) {
  return Response.redirect(new URL(address(path) + (fragment ? "#" + encodeURIComponent(fragment) : ""), self.location), 302);
}

/* Where an address of a label leads: null when the phone can't tell. "newer" is a revision nobody told it of. */
function led(list, path) {
  const parts = /^T\/([^/]+)(?:\/([^/]+))?\/?$/.exec(path);
  if (!parts) return path === "" || path.endsWith("/") ? { to: path + "index.html" } : { to: path };
  if (parts[2] && parts[2].includes(".")) return { to: path };
  const transit = Object.hasOwn(list.transits, parts[1]) ? list.transits[parts[1]] : null;
  if (!transit) return null;
  if (!parts[2] || parts[2] === transit[1]) return { to: "T/" + parts[1] + "/index.html" };
  if (transit.indexOf(parts[2], 2) > 0) return { to: "T/" + parts[1] + "/" + parts[2] + "/index.html" };
  return { newer: parts[1] + "/" + parts[2] };
}

/* Let the build that waits take over; false when it could not yet take all that this one keeps, or says nothing. */
function giveWay(waiting) {
  return new Promise((resolve) => {
    const channel = new MessageChannel();
    channel.port1.onmessage = (event) => resolve(!event.data.failed);
    setTimeout(resolve, PATIENCE, false);
    waiting.postMessage({ ask: "use" }, [channel.port2]);
  });
}

/* A page that opens itself anew when the build that was given way to has taken over. It must not ask before: what is
   asked of a worker in the moment in which it ends may never be answered. */
function handOver() {
  // It may have been told before it listened: then it asks after a while.
  const words = "<!doctype html><meta name=color-scheme content='light dark'><script>" +
    "navigator.serviceWorker.addEventListener('controllerchange', () => location.reload());" +
    "setTimeout(() => location.reload(), 3000);</script>";
  return new Response(words, { headers: { "Content-Type": "text/html" } });
}

/* Whether a newer build that is here could take over: not while another page is open. */
async function gaveWay() {
  const waiting = self.registration.waiting;
  return Boolean(waiting) && (await self.clients.matchAll({ type: "window" })).length < 2 && giveWay(waiting);
}

/* Fetch the site's newer build now, and let it take over; false when that is not to be had soon. */
async function follow() {
  const late = new Promise((resolve) => setTimeout(resolve, PATIENCE));
  await Promise.race([late, self.registration.update()]);
  const coming = self.registration.installing;
  if (coming) await Promise.race([late, new Promise((resolve) => coming.addEventListener("statechange", resolve))]);
  // The page that this one takes the place of is counted for a moment yet, so a newer build is offered more than once.
  for (let tries = 0; tries < 10 && self.registration.waiting; tries++) {
    if (await gaveWay()) return true;
    await new Promise((resolve) => setTimeout(resolve, 200));
  }
  return false;
}

async function page(event, path) {
  if (await gaveWay()) return handOver();
  const list = await theList();
  const leads = list && led(list, path);
  if (leads && leads.to && leads.to !== path) return lead(leads.to);
  // What the page will ask for next is unpacked beside it.
  if (list) list.common.filter((file) => file.pages).forEach((file) => open(file).catch(() => null));
  const kept = await find(path);
  if (kept) return kept;
  try {
    const answer = await fetch(event.request);
    if (!(leads && leads.newer)) return answer;
    // The host knows the revision, so it has a newer build: the older page is never shown for the newer label.
    if (answer.status < 400 && (await follow())) return handOver();
  } catch (error) {
    if (!(leads && leads.newer)) return lead("offline/away.html", path);
  }
  return lead("offline/newer.html", leads.newer + "/" + list.transits[leads.newer.split("/")[0]][1]);
}

async function part(event, path) {
  const client = event.clientId ? await self.clients.get(event.clientId) : null;
  const from = client && new URL(client.url);
  const isKept = !from || !from.pathname.startsWith(ROOT) || (await find(pathOf(from)));
  const kept = await find(path);
  if (kept && isKept) return kept;
  try {
    return await fetch(event.request);
  } catch (error) {
    if (kept) return kept;
    throw error;
  }
}

self.addEventListener("fetch", (event) => {
  const request = event.request;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== self.location.origin || !url.pathname.startsWith(ROOT)) return;
  const path = pathOf(url);
  if (path === "offline/build.json" || path === "worker.js") return;
  event.respondWith(request.mode === "navigate" ? page(event, path) : part(event, path));
});

// -- being asked

/* The entries that say when the site last called this build its own, the latest first: one, but after a kill. */
async function notes(cache) {
  const all = (await cache.keys()).map((request) => request.url);
  return all.filter((url) => url.startsWith(self.location.origin + ASKED)).sort().reverse();
}

let noting = Promise.resolve();

/* Note a time. It is a new entry, and older ones go when it is there: an entry that is written over is gone for a
   moment, and a phone that dies then would know no time. One note after another: they delete each other. */
function note(at) {
  noting = noting.catch(() => {}).then(async () => {
    const cache = await caches.open(NAME);
    const own = new URL(ASKED + encodeURIComponent(at), self.location).href;
    if (!(await cache.match(own))) await cache.put(own, new Response(""));
    for (const url of await notes(cache)) if (url !== own) await cache.delete(url);
  });
  return noting;
}

/* What is kept: areas in their order with their walls, transits and bytes, and which packs are here. */
async function state() {
  const list = await theList();
  const packs = [];
  for (const pack of list.packs) {
    packs.push({ area: pack.area, walls: pack.walls, transits: pack.transits, bytes: pack.bytes, kept: await holds(pack, NAME) });
  }
  const [last] = await notes(await caches.open(NAME));
  return { build: SITE.build, packs: packs, asked: last ? decodeURIComponent(last.split("?")[1]) : "" };
}

async function keep(asked, tell) {
  const list = await theList();
  const wanted = list.packs.filter((pack) => pack.area === asked.area || pack.walls.includes(asked.wall));
  const whole = wanted.reduce((bytes, pack) => bytes + pack.bytes, 0);
  await takeAll(wanted, (done) => tell({ done: done, whole: whole }));
  for (const next of [self.registration.installing, self.registration.waiting]) {
    if (next) next.postMessage({ ask: "catch up" });
  }
}

self.addEventListener("message", (event) => {
  const asked = event.data || {};
  const tell = (answer) => event.ports[0] && event.ports[0].postMessage(answer);
  event.waitUntil((async () => {
    try {
      if (asked.ask === "note") await note(asked.at);
      if (asked.ask === "keep") await keep(asked, tell);
      if (asked.ask === "catch up" || asked.ask === "use") await catchUp();
      tell({ state: await state() });
      if (asked.ask === "use") await self.skipWaiting(); // last: whoever asked must end its answer first
    } catch (error) {
      tell({ failed: error.name === "QuotaExceededError" ? "full" : "cut", state: await state().catch(() => null) });
    }
  })());
});
