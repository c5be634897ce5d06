/* What leaves the phone: entries become a record of format 1, or 2 with a girth, the record and its photos one zip, photos are shrunk.
   The zip stores its files as they are; a photo is drawn anew, so that nothing of its place is left in it. */
(function () {
  "use strict";

  var wallwork = (window.wallwork = window.wallwork || {});
  var WIDEST = 1600; // px along a photo's longer side
  var QUALITY = 0.8;

  /* Return text as a record may hold it: no signs that can't be seen or that turn the line, no pictograms. */
  function clean(text, lines) {
    var kept = lines ? "\n\t" : "";
    return text
      .normalize("NFC")
      .replace(/\r\n?/g, "\n")
      .replace(/[\p{Z}\s]/gu, space => kept.includes(space) ? space : " ")
      .replace(/\p{C}|\p{Extended_Pictographic}/gu, sign => kept.includes(sign) ? sign : "")
      .trim();
  }

  /* Return a moment as this device's clock has it, with its distance from UTC. */
  function moment(date) {
    function two(number) {
      return String(number).padStart(2, "0");
    }
    var east = -date.getTimezoneOffset();
    var off = (east < 0 ? "-" : "+") + two(Math.floor(Math.abs(east) / 60)) + ":" + two(Math.abs(east) % 60);
    var day = [date.getFullYear(), two(date.getMonth() + 1), two(date.getDate())].join("-");
    return day + "T" + [two(date.getHours()), two(date.getMinutes()), two(date.getSeconds())].join(":") + off;
  }

  /* -- the record */

  /* Return the record of entries, all of one work. about: {madeBy, revision, number, device, extra}. */
  function recordOf(entries, about) {
    var people = {};
    var slugs = new Map();
    function slug(person) {
      if (!person) return undefined;
      var key = person.name + "\n" + person.role;
      if (!slugs.has(key)) {
        slugs.set(key, "p" + (slugs.size + 1));
        people[slugs.get(key)] = person.role ? { name: person.name, role: person.role } : { name: person.name };
      }
      return slugs.get(key);
    }
    function entered(entry, more) {
      var made = { at: entry.at, by: slug(entry.by) };
      if (entry.data.reason) made.reason = entry.data.reason;
      if (entry.data.note) made.note = entry.data.note;
      return Object.assign(made, more);
    }
    function pick(data, names) {
      var made = {};
      names.forEach(name => {
        if (data[name] !== undefined && data[name] !== "" && data[name] !== null) made[name] = data[name];
      });
      return made;
    }
    function all(what, make) {
      return counting
        .filter(entry => entry.what === what)
        .map(make);
    }
    function plain(what, names) {
      return all(what, entry => entered(entry, pick(entry.data, names)));
    }
    /* Entries that are kept one by one and stand together in the record; the last of them says when and by whom. */
    function joined(what, key, names) {
      var groups = new Map();
      all(what, entry => {
        var id = key(entry.data);
        var before = groups.get(id);
        var made = Object.assign(before || {}, entered(entry, pick(entry.data, names)));
        groups.set(id, made);
      });
      return Array.from(groups.values());
    }

    var counting = wallwork.counting(entries);
    var first = entries[0];
    var steps = {};
    all("step", entry => {
      steps[entry.id] = entered(entry, { done: true });
    });
    all("value", entry => {
      var step = (steps[entry.data.step] = steps[entry.data.step] || entered({ at: entry.at, by: entry.by, data: {} }, { done: false }));
      var value = entered(entry, { read: entry.data.read, value: entry.data.value });
      step.values = (step.values || []).concat([value]);
    });
    // A row has its exceptions, and one that nobody called within has no more than those: none of them is left out.
    var rows = all("row", entry => entered(entry, { bay: entry.data.bay, row: entry.data.row, within: entry.data.within }));
    all("gap", entry => {
      var own = rows.find(row => row.bay === entry.data.bay && row.row === entry.data.row);
      if (!own) rows.push((own = entered({ at: entry.at, by: entry.by, data: {} }, { bay: entry.data.bay, row: entry.data.row, within: false })));
      own.exceptions = (own.exceptions || []).concat([entered(entry, pick(entry.data, ["position", "gap"]))]);
    });
    var record = {
      format: all("measured", entry => entry.data.girth).some(Boolean) ? 2 : 1,
      job: first.job,
      transit: first.transit,
      work: first.work,
      record: first.record,
      export: about.number,
      made_by: about.madeBy,
      device: { clock: moment(new Date()) },
    };
    if (about.revision) record.revision = about.revision;
    if (about.device) record.device.name = about.device;
    var zone = clean(Intl.DateTimeFormat().resolvedOptions().timeZone || "", false);
    if (zone) record.device.zone = zone;
    var lists = {
      measured: plain("measured", ["cables", "type", "drum", "diameters", "girth", "part", "a", "b", "gaps"]),
      rows: rows,
      unlisted: plain("unlisted", ["tag", "diameter", "position"]),
      not_pulled: plain("not-pulled", ["tag"]),
      counts: joined("count", data => data.bay, ["bay", "rows", "plates", "blocks", "spares", "fillers"]),
      bolts: joined(
        "bolt",
        data => [data.of, data.bay, data.bolt, data.again].join(),
        ["of", "bay", "bolt", "protrusion", "torque_nm", "again"]
      ),
      tests: all("test", entry => {
        return entered(entry, Object.assign(pick(entry.data, ["kind", "result", "figures"]), entry.data.witness ? { witness: slug(entry.data.witness) } : {}));
      }),
      places: plain("place", ["position", "role", "part", "cable", "a", "b"]),
      photos: plain("photo", ["digest", "step", "side"]),
    };
    Object.keys(lists).forEach(name => {
      if (lists[name].length) record[name] = lists[name];
    });
    if (Object.keys(steps).length) record.steps = steps;
    all("side", entry => {
      record.working_side = entered(entry, { side: entry.data.side });
    });
    all("note", entry => {
      record.note = entry.data.note;
    });
    if (Object.keys(people).length) record.people = people;
    return record;
  }

  /* -- bytes */

  var PRIMES = [];
  for (var candidate = 2; PRIMES.length < 64; candidate++) {
    if (PRIMES.every(prime => candidate % prime)) PRIMES.push(candidate);
  }
  function fraction(root) {
    return ((root - Math.floor(root)) * 4294967296) | 0;
  }
  var ROUNDS = PRIMES.map(prime => fraction(Math.cbrt(prime)));
  var START = PRIMES.slice(0, 8).map(prime => fraction(Math.sqrt(prime)));

  /* Return the SHA-256 of bytes (FIPS 180-4). The browser's own needs https, which not every site has. */
  function sha256(bytes) {
    var length = bytes.length;
    var padded = new Uint8Array(((length + 72) >> 6) << 6);
    padded.set(bytes);
    padded[length] = 128;
    var view = new DataView(padded.buffer);
    view.setUint32(padded.length - 8, Math.floor(length / 536870912));
    view.setUint32(padded.length - 4, length << 3);
    var h = START.slice();
    var w = new Int32Array(64);
    for (var at = 0; at < padded.length; at += 64) {
      for (var i = 0; i < 64; i++) {
        if (i < 16) {
          w[i] = view.getInt32(at + i * 4);
        } else {
          var x = w[i - 15];
          var y = w[i - 2];
          w[i] = w[i - 16] + w[i - 7] + (turn(x, 7) ^ turn(x, 18) ^ (x >>> 3)) + (turn(y, 17) ^ turn(y, 19) ^ (y >>> 10));
        }
      }
      var s = h.slice();
      for (i = 0; i < 64; i++) {
        var e = s[4];
        var a = s[0];
        var one = s[7] + (turn(e, 6) ^ turn(e, 11) ^ turn(e, 25)) + ((e & s[5]) ^ (~e & s[6])) + ROUNDS[i] + w[i];
        var two = (turn(a, 2) ^ turn(a, 13) ^ turn(a, 22)) + ((a & s[1]) ^ (a & s[2]) ^ (s[1] & s[2]));
        s = [(one + two) | 0, a, s[1], s[2], (s[3] + one) | 0, e, s[5], s[6]];
      }
      h = h.map((value, i) => (value + s[i]) | 0);
    }
    return h.map(value => (value >>> 0).toString(16).padStart(8, "0")).join("");
  }
  function turn(value, by) {
    return (value >>> by) | (value << (32 - by));
  }

  var CRC = Array.from({ length: 256 }, (_, value) => {
    for (var bit = 0; bit < 8; bit++) value = value & 1 ? (value >>> 1) ^ 0xedb88320 : value >>> 1;
    return value;
  });
  function crc32(bytes) {
    var crc = -1;
    for (var i = 0; i < bytes.length; i++) crc = (crc >>> 8) ^ CRC[(crc ^ bytes[i]) & 255];
    return ~crc;
  }

  /* Return files [[name, bytes]] as the parts of a zip that stores them: local headers, directory, end (APPNOTE 4.3). */
  function zip(files) {
    var parts = [];
    var directory = [];
    var offset = 0;
    function bytesOf(list) {
      // [size in bytes, value] by turns, least byte first
      var bytes = new Uint8Array(list.reduce((sum, pair) => sum + pair[0], 0));
      var at = 0;
      list.forEach(pair => {
        for (var i = 0; i < pair[0]; i++) bytes[at++] = pair[1] >>> (8 * i);
      });
      return bytes;
    }
    files.forEach(file => {
      var name = new TextEncoder().encode(file[0]);
      var size = file[1].length;
      // needs 2.0, names in UTF-8, stored, 1 January 1980
      var common = [[2, 20], [2, 0x800], [2, 0], [2, 0], [2, 33], [4, crc32(file[1])], [4, size], [4, size], [2, name.length], [2, 0]];
      parts.push(bytesOf([[4, 0x04034b50]].concat(common)), name, file[1]);
      directory.push(
        bytesOf([[4, 0x02014b50], [2, 20]].concat(common, [[2, 0], [2, 0], [2, 0], [4, 0], [4, offset]])), name
      );
      offset += 30 + name.length + size;
    });
    var length = directory.reduce((sum, part) => sum + part.length, 0);
    var count = files.length;
    var end = bytesOf([[4, 0x06054b50], [2, 0], [2, 0], [2, count], [2, count], [4, length], [4, offset], [2, 0]]);
    return parts.concat(directory, [end]);
  }

  /* -- photos */

  /* Return {digest, bytes} of a photo: shrunk, upright, and nothing left of where it was taken. */
  function shrink(file) {
    return picture(file).then(source => {
      var scale = Math.min(1, WIDEST / Math.max(source.width, source.height));
      var canvas = document.createElement("canvas");
      canvas.width = Math.max(1, Math.round(source.width * scale));
      canvas.height = Math.max(1, Math.round(source.height * scale));
      canvas.getContext("2d").drawImage(source, 0, 0, canvas.width, canvas.height);
      if (source.close) source.close();
      return new Promise((resolve, reject) => {
        canvas.toBlob(blob => { (blob ? resolve : reject)(blob); }, "image/jpeg", QUALITY);
      });
    }).then(blob => blob.arrayBuffer()).then(buffer => ({ digest: sha256(new Uint8Array(buffer)), bytes: buffer }));
  }

  function picture(file) {
    return new Promise((resolve, reject) => {
      var image = new Image(); // turned upright by every browser since 2020
      var address = URL.createObjectURL(file);
      image.onload = () => {
        URL.revokeObjectURL(address);
        resolve(image);
      };
      image.onerror = () => {
        URL.revokeObjectURL(address);
        reject(new Error("no picture"));
      };
      image.src = address;
    });
  }

  wallwork.clean = clean;
  wallwork.moment = moment;
  wallwork.handover = { recordOf: recordOf, sha256: sha256, zip: zip, shrink: shrink };
})();
