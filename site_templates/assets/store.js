/* The crew's entries in this browser. An entry is written once and never changed: a later one of the same kind and
   id counts instead, whatever the clock says, since entries are numbered as they come. One is kept when its
   transaction has completed with strict durability, and not before. A classic script: pages from a disk need it too. */
(function () {
  "use strict";

  var NAME = "wallwork-record";
  var VERSION = 1;
  var wallwork = (window.wallwork = window.wallwork || {});
  var at = window.wallworkAt || (() => {}); // tests end the browser at these points
  var opened = null;
  var channel = null;
  try {
    channel = new BroadcastChannel(NAME); // the other tabs of this job
  } catch (error) {
    /* they look again when they are looked at */
  }

  function uuid() {
    var bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 15) | 64;
    bytes[8] = (bytes[8] & 63) | 128;
    var hex = Array.from(bytes, byte => (byte + 256).toString(16).slice(1)).join("");
    return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
  }

  function open() {
    opened =
      opened ||
      new Promise((resolve, reject) => {
        var asked = indexedDB.open(NAME, VERSION);
        asked.onupgradeneeded = () => {
          var entries = asked.result.createObjectStore("entries", { keyPath: "n", autoIncrement: true });
          entries.createIndex("transit", ["job", "transit"]);
          asked.result.createObjectStore("records", { keyPath: ["job", "transit", "work"] });
          asked.result.createObjectStore("photos", { keyPath: ["job", "transit", "digest"] });
          asked.result.createObjectStore("device", { keyPath: "key" });
          at("made");
        };
        asked.onsuccess = () => {
          var base = asked.result;
          // The system may close it when memory is short, or another tab may need it newer: it is opened again.
          base.onclose = base.onversionchange = () => {
            opened = null;
            base.close();
          };
          resolve(base);
        };
        asked.onerror = () => {
          reject(asked.error);
        };
      }).catch(error => {
        opened = null;
        throw error;
      });
    return opened;
  }

  /* Run work(transaction, give) and resolve with what was given once the transaction has completed. */
  function run(stores, mode, work, again) {
    return open()
      .then(base => {
        return new Promise((resolve, reject) => {
          var given;
          var act = base.transaction(stores, mode, { durability: "strict" });
          act.oncomplete = () => {
            resolve(given);
          };
          act.onabort = () => {
            reject(act.error || new DOMException("", "AbortError"));
          };
          work(act, value => {
            given = value;
          });
        });
      })
      .catch(error => {
        if (again || error.name === "QuotaExceededError") throw error;
        opened = null;
        return run(stores, mode, work, true);
      });
  }

  function got(request, then) {
    request.onsuccess = () => {
      then(request.result);
    };
  }

  /* Keep an entry, and the photo that belongs to it. Resolves with the entry, numbered, when it is safe. */
  function keep(entry, photo) {
    at("before");
    return run(["entries", "records", "photos"], "readwrite", (act, give) => {
      var records = act.objectStore("records");
      got(records.get([entry.job, entry.transit, entry.work]), found => {
        // Made in the same transaction as the first entry: two tabs can't make two.
        var record = found || { job: entry.job, transit: entry.transit, work: entry.work, record: uuid() };
        if (!found) records.add(record);
        var whole = Object.assign({}, entry, { record: record.record });
        if (photo) act.objectStore("photos").put(photo);
        got(act.objectStore("entries").add(whole), n => {
          give(Object.assign(whole, { n: n }));
        });
        at("put");
      });
    }).then(kept => {
      at("kept");
      if (channel) channel.postMessage({ job: kept.job, transit: kept.transit });
      return kept;
    });
  }

  /* Every entry of a transit, of whatever work, in the order they were made. */
  function read(job, transit) {
    return run(["entries"], "readonly", (act, give) => {
      got(act.objectStore("entries").index("transit").getAll([job, transit]), found => {
        give(
          found.sort((one, other) => one.n - other.n)
        );
      });
    });
  }

  /* Photos of a transit by digest; one that is gone is left out. */
  function photos(job, transit, digests) {
    return run(["photos"], "readonly", (act, give) => {
      var found = {};
      give(found);
      digests.forEach(digest => {
        got(act.objectStore("photos").get([job, transit, digest]), photo => {
          if (photo) found[digest] = photo.bytes;
        });
      });
    });
  }

  /* Records of a transit that were handed in and changed its layout, of whatever work: [{record, changed}]. */
  function home(job, transit) {
    return run(["records"], "readonly", (act, give) => {
      got(act.objectStore("records").getAll(IDBKeyRange.bound([job, transit], [job, transit, []])), found => {
        give(found.flatMap(record => record.home || []));
      });
    });
  }

  /* What this device is called and who uses it; change(device) may alter it. */
  function device(change) {
    return run(["device"], change ? "readwrite" : "readonly", (act, give) => {
      var store = act.objectStore("device");
      got(store.get("device"), found => {
        var device = found || { key: "device", id: uuid(), name: "", people: [], now: -1 };
        if (change) {
          change(device);
          store.put(device);
        }
        give(device);
      });
    });
  }

  /* Remove one record that was handed in, up to its last exported entry: what came later stays, as a new record.
     changed: what of the layout it changed. That is remembered, until a page was made with the record. */
  function forget(job, transit, work, upto, changed) {
    var next = uuid(); // the record that went home is whole: what follows is another
    at("before");
    return run(["entries", "records", "photos"], "readwrite", act => {
      var entries = act.objectStore("entries");
      got(entries.index("transit").getAll([job, transit]), found => {
        var photos = {};
        found.forEach(entry => {
          var stays = entry.work !== work || (entry.n > upto && entry.what !== "export");
          var digest = entry.data.digest;
          if (digest) photos[digest] = photos[digest] || stays;
          if (!stays) entries.delete(entry.n);
          else if (entry.work === work) entries.put(Object.assign({}, entry, { record: next }));
        });
        Object.keys(photos).forEach(digest => {
          if (!photos[digest]) act.objectStore("photos").delete([job, transit, digest]);
        });
        var records = act.objectStore("records");
        got(records.get([job, transit, work]), before => {
          var home = ((before && before.home) || []).concat(before && changed.length ? [{ record: before.record, changed: changed }] : []);
          records.put({ job: job, transit: transit, work: work, record: next, home: home });
        });
        at("put");
      });
    }).then(() => {
      at("kept");
      if (channel) channel.postMessage({ job: job, transit: transit });
    });
  }

  /* Call when(job, transit) whenever another tab has kept something. */
  function heard(when) {
    if (channel)
      channel.onmessage = event => {
        when(event.data.job, event.data.transit);
      };
  }

  /* What counts of a list of entries: the last of each kind and id, without those that were taken back. */
  function counting(entries) {
    var last = new Map();
    entries.forEach(entry => {
      last.set(entry.what + " " + entry.id, entry);
    });
    return Array.from(last.values()).filter(entry => !entry.data.gone);
  }

  wallwork.store = { keep: keep, read: read, photos: photos, device: device, forget: forget, home: home, heard: heard, at: at };
  wallwork.counting = counting;
})();
