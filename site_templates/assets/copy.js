// This copy of the site: what the phone keeps of it, whether that is current, and what this browser can't promise.
// The worker keeps and answers (worker.js); this script registers it, asks it, and says what it says.
"use strict";
(function () {
  var script = document.currentScript;
  if (!script.hasAttribute("data-overview")) return; // a page that is written right now: nothing is kept of it
  var say = wallwork.say;
  var root = new URL("./", new URL(script.getAttribute("data-overview"), location.href));
  var panel = null;
  var line = null;
  var registration = null;
  var shown = { packs: null, build: "", asked: "", network: true, newer: false, ready: false, replaced: false, going: null, failed: "" };

  // -- what this browser can promise

  var agent = navigator.userAgent;
  var isDisk = location.protocol === "file:";
  var isSecure = window.isSecureContext;
  var canKeep = !isDisk && isSecure && "serviceWorker" in navigator && "DecompressionStream" in window;
  // A view inside another app: Android marks it; on an iPhone it is the one that doesn't call itself Safari.
  var isInApp = /; wv\)/.test(agent) || (/iPhone|iPad|iPod/.test(agent) && !/Safari\//.test(agent) && !navigator.standalone);
  var isSafari = /Safari\//.test(agent) && !/Chrom|Android|Edg\//.test(agent) || /iPhone|iPad|iPod/.test(agent);

  /* Whether the window looks private: some browsers refuse it a file system. Others let no page see it. */
  function looksPrivate() {
    if (!navigator.storage || !navigator.storage.getDirectory) return Promise.resolve(false);
    return navigator.storage.getDirectory().then(function () { return false; }, function () { return true; });
  }

  function limits() {
    var found = [];
    if (isDisk) {
      found.push(say("Opened from a disk: every page is here, and none is ever fetched or made current. What is entered is kept by this browser for every folder it opens from a disk."));
      return Promise.resolve(found);
    }
    if (!isSecure) {
      found.push(say("Served without https: this browser keeps no page. Without a network this page will not open. Ask the planner for the https address."));
    } else if (!("serviceWorker" in navigator)) {
      found.push(say("This browser keeps no page here, as private windows and views inside another app do. Without a network this page will not open. Open it in the phone's own browser."));
    } else if (!canKeep) {
      found.push(say("This browser is too old to keep pages. Without a network this page will not open."));
    }
    if (isInApp) {
      found.push(say("This looks like a view inside another app, such as a scanner's. What it keeps may be gone when that app closes, and the phone's browser doesn't see it. Open the page in the browser."));
    }
    if (isSafari && !isInApp && !navigator.standalone) {
      found.push(say("Safari deletes what a site keeps after seven days of use without a visit, entries too, unless the site is on the home screen. Put it there, and export what you enter the same day."));
    }
    return looksPrivate().then(function (isPrivate) {
      if (isPrivate) {
        found.push(say("This looks like a private window: everything it keeps, entries too, is gone when it is closed."));
      } else if (canKeep) {
        found.push(say("A private window forgets everything when it is closed, and not every browser lets a page see that it is one."));
      }
      return navigator.storage && navigator.storage.persisted ? navigator.storage.persisted() : true;
    }).then(function (isLasting) {
      if (canKeep && !isLasting) found.push(say("This browser may clear what is kept when the phone runs short of room."));
      return found;
    }, function () { return found; });
  }

  // -- the worker

  function ask(worker, question, tell) {
    return new Promise(function (resolve) {
      var channel = new MessageChannel();
      channel.port1.onmessage = function (event) {
        if (event.data.whole !== undefined) return tell && tell(event.data);
        if (event.data.state) {
          shown.packs = event.data.state.packs;
          shown.build = event.data.state.build;
          shown.asked = event.data.state.asked;
        }
        shown.failed = event.data.failed || "";
        resolve();
      };
      worker.postMessage(question, [channel.port2]);
    });
  }

  function watch(worker) {
    if (!worker) return;
    worker.addEventListener("statechange", function () {
      shown.ready = Boolean(registration.waiting && navigator.serviceWorker.controller);
      if (worker.state === "redundant" && !registration.waiting) shown.newer = shown.newer && !shown.ready;
      show();
    });
  }

  function keep(question) {
    shown.going = { done: 0, whole: 0, area: question.area };
    show();
    return ask(registration.active, question, function (progress) {
      progress.area = question.area;
      shown.going = progress;
      show();
    }).then(function () {
      shown.going = null;
      show();
    });
  }

  /* Ask the site which build it has. The answer never comes from what is kept. */
  function askSite() {
    var address = new URL("offline/build.json", root);
    return fetch(address, { cache: "no-store", credentials: "same-origin" }).then(function (answer) {
      if (!answer.ok) throw new Error(answer.status);
      return answer.json();
    }).then(function (site) {
      shown.network = true;
      shown.newer = Boolean(shown.build) && site.build !== shown.build;
      if (!shown.newer) {
        return ask(registration.active, { ask: "note", at: new Date().toISOString() });
      }
      registration.update().catch(function () { /* asked again later */ });
    }, function () { shown.network = false; }).then(show);
  }

  function start() {
    navigator.serviceWorker.register(new URL("worker.js", root), { updateViaCache: "none" }).then(function (made) {
      registration = made;
      shown.ready = Boolean(made.waiting && navigator.serviceWorker.controller);
      watch(made.installing);
      watch(made.waiting);
      made.addEventListener("updatefound", function () { watch(made.installing); });
      return navigator.serviceWorker.ready;
    }).then(function () {
      var wall = panel && panel.getAttribute("data-wall");
      var isSaving = navigator.connection && navigator.connection.saveData;
      return ask(registration.active, { ask: "state" }).then(function () {
        show();
        var here = wall && shown.packs.filter(function (pack) { return pack.walls.indexOf(wall) >= 0 && !pack.kept; });
        if (here && here.length && !(isSaving && panel.hasAttribute("data-transit"))) return keep({ ask: "keep", wall: wall });
      });
    }).then(askSite, function () {
      shown.failed = "cut";
      shown.network = navigator.onLine;
      show();
    });
    var before = navigator.serviceWorker.controller;
    navigator.serviceWorker.addEventListener("controllerchange", function () {
      // Never opened anew by itself: someone may be writing. Entries that were made are kept in any case.
      shown.replaced = Boolean(before);
      shown.ready = false;
      if (shown.pressed) location.reload();
      show();
    });
    addEventListener("online", askSite);
    addEventListener("offline", function () { shown.network = false; show(); });
    document.addEventListener("visibilitychange", function () {
      if (document.visibilityState === "visible" && registration) askSite();
    });
  }

  // -- what is shown

  function element(name, className, text) {
    var made = document.createElement(name);
    if (className) made.className = className;
    if (text) made.textContent = text;
    return made;
  }

  function day() {
    var then = new Date(shown.asked);
    var isToday = then.toDateString() === new Date().toDateString();
    var options = { hour: "2-digit", minute: "2-digit", hourCycle: "h23" };
    if (!isToday) Object.assign(options, { day: "numeric", month: "short" });
    return new Intl.DateTimeFormat(document.documentElement.lang || undefined, options).format(then);
  }

  function room(bytes) {
    var kilo = Math.max(1, Math.round(bytes / 1000));
    return kilo < 1000 ? say("{size} kB", { size: kilo }) : say("{size} MB", { size: (kilo / 1000).toFixed(1) });
  }

  function isHere() {
    var wall = panel && panel.getAttribute("data-wall");
    if (!shown.packs) return false;
    return wall
      ? shown.packs.every(function (pack) { return pack.walls.indexOf(wall) < 0 || pack.kept; })
      : true;
  }

  /* One sentence: is it here, is it current. */
  function sentence() {
    if (isDisk) return say("From a disk, as it was put there.");
    if (!canKeep) return say("Not kept by this browser: needs the network.");
    if (shown.going) {
      return shown.going.whole
        ? say("Being kept: {done} of {whole}.", { done: room(shown.going.done), whole: room(shown.going.whole) })
        : say("Being kept.");
    }
    if (shown.ready || shown.replaced) return say("Kept. A newer site is here: open it.");
    if (shown.failed === "full") return say("Not kept: the phone has no room.");
    if (!isHere()) return shown.network ? say("Not kept yet: needs the network.") : say("Not kept, and no network.");
    if (shown.newer) return say("Kept, but older than the site. The newer one is being fetched.");
    if (shown.network) return shown.asked ? say("Kept. Current at {time}.", { time: day() }) : say("Kept.");
    return shown.asked ? say("Kept. No network; current at {time}.", { time: day() }) : say("Kept. No network.");
  }

  function button(words, act) {
    var made = element("button", "copy-do", words);
    made.type = "button";
    made.addEventListener("click", act);
    return made;
  }

  /* An area: how much it is, whether it is here, and the button to take it along. */
  function areaRow(area) {
    var packs = shown.packs.filter(function (pack) { return pack.area === area; });
    var here = packs.every(function (pack) { return pack.kept; });
    var sum = function (name) { return packs.reduce(function (all, pack) { return all + pack[name]; }, 0); };
    var row = element("div", "copy-area");
    var words = element("p");
    words.appendChild(element("b", "", say("Area {area}", { area: area })));
    words.appendChild(element("span", "", say("Transits: {number}. Size: {size}.", { number: sum("transits"), size: room(sum("bytes")) })));
    row.appendChild(words);
    if (shown.going && shown.going.area === area) {
      var bar = element("progress");
      bar.max = shown.going.whole || 1;
      bar.value = shown.going.done;
      bar.setAttribute("aria-label", say("Area {area}", { area: area }));
      row.appendChild(bar);
    } else if (here) {
      row.appendChild(element("p", "copy-here", say("Taken along")));
    } else {
      row.appendChild(button(say("Take this area along"), function () {
        if (navigator.storage && navigator.storage.persist) navigator.storage.persist();
        keep({ ask: "keep", area: area });
      }));
    }
    return row;
  }

  function show() {
    var isKnown = !canKeep || shown.packs || shown.failed;
    var words = isKnown ? sentence() : "";
    if (line && isKnown) {
      if (line.textContent !== words) line.textContent = words;
      line.parentNode.hidden = false;
    }
    if (!panel || !isKnown) return;
    panel.hidden = false;
    var state = panel.querySelector(".copy-state");
    if (state.textContent !== words) state.textContent = words;
    var rows = panel.querySelector(".copy-areas");
    if (shown.packs) {
      var own = panel.getAttribute("data-area");
      var areas = own ? [own] : shown.packs.map(function (pack) { return pack.area; });
      var focused = rows.contains(document.activeElement);
      rows.replaceChildren.apply(rows, areas.filter(function (area, at) { return areas.indexOf(area) === at; }).map(areaRow));
      if (shown.ready || shown.replaced) {
        rows.prepend(button(say("Open the newer site"), function () {
          if (shown.replaced || !registration.waiting) return location.reload();
          shown.pressed = true;
          ask(registration.waiting, { ask: "use" }).then(show);
        }));
      }
      if (shown.failed) {
        rows.append(element("p", "copy-failed", shown.failed === "full"
          ? say("The phone has no room for all of it. What was kept before is still here.")
          : say("The network broke off. What was kept before is still here; try again.")));
      }
      if (focused) {
        var next = rows.querySelector("button");
        if (next) next.focus();
      }
    }
  }

  document.addEventListener("DOMContentLoaded", function () {
    panel = document.getElementById("copy");
    line = document.querySelector("#copy-line span");
    show();
    limits().then(function (found) {
      if (!panel) return;
      var list = panel.querySelector(".copy-limits");
      list.replaceChildren.apply(list, found.map(function (words) { return element("li", "", words); }));
    });
    if (canKeep) start();
  });
})();
