/* Diameter in, layers out: by looking it up in tables that Wallwork made, to which the instrument's error belongs.
   Lengths are whole thousandths of a mm. Nothing is computed here but whether a number lies between two others. */
(function () {
  "use strict";

  var wallwork = (window.wallwork = window.wallwork || {});

  /* Return a plain decimal as thousandths, null for anything else. */
  function thousandths(text) {
    var found = /^(0|[1-9][0-9]{0,5})(?:\.([0-9]{1,3}))?$/.exec(text);
    return found ? +found[1] * 1000 + +((found[2] || "") + "000").slice(0, 3) : null;
  }

  /* Return thousandths as people write them, with one digit after the point at least. */
  function written(value) {
    var text = Math.floor(value / 1000) + "." + ("00" + (value % 1000)).slice(-3);
    return text.replace(/0{1,2}$/, "");
  }

  /* Return the step to which the instrument is read at this reading. bands: [up to or null, step]. */
  function stepAt(bands, reading) {
    return bands.find(band => band[0] === null || reading <= band[0])[1];
  }

  /* Return the rows of a diameter table of the page itself: what is looked up is what stands there to be read. */
  function rowsOf(table) {
    return Array.from(table.querySelectorAll("tbody tr"), row => {
      var peel = row.querySelectorAll(".peel");
      var ends = text => text.split("–").map(thousandths);
      var readings = ends(row.querySelector("th").textContent);
      return peel.length ? readings.concat(+peel[0].textContent, +peel[1].textContent, ends(row.querySelector(".gap").textContent)) : readings;
    });
  }

  /* Return the answer of a table's rows [least, most, a, b, least gap, most gap] for a value. */
  function among(rows, value, isPair) {
    if (!rows.length) return { says: "none" };
    if (value < rows[0][0]) return { says: "thin", end: isPair ? rows[0][0] / 2 : rows[0][0] };
    var last = rows[rows.length - 1];
    if (value > last[1]) return { says: "thick", end: isPair ? last[1] / 2 : last[1] };
    var row = rows.find(row => row[0] <= value && value <= row[1]);
    if (!row || row.length < 6) return { says: "again" };
    return { says: "peel", a: row[2], b: row[3], gap: [row[4], row[5]], row: [row[0], row[1]] };
  }

  /* Return what readings of a diameter (one, or two across) say: peel, thin, thick, again, unround, step or none. */
  function across(table, bands, readings) {
    var coarse = readings.find(reading => reading % stepAt(bands, reading) !== 0);
    if (coarse !== undefined) return { says: "step", end: stepAt(bands, coarse) };
    if (readings.length === 1) return among(table.one, readings[0], false);
    var apart = Math.abs(readings[0] - readings[1]);
    if (table.notRound !== null && apart > table.notRound) return { says: "unround", end: table.notRound, apart: apart };
    return among(table.two, readings[0] + readings[1], true);
  }

  /* Return what a tape's reading round the cable says. */
  function around(table, step, reading) {
    return reading % step !== 0 ? { says: "step", end: step } : among(table.tape, reading, false);
  }

  wallwork.measure = { thousandths: thousandths, written: written, rowsOf: rowsOf, across: across, around: around };
})();
