/* Entering at the wall: ticks, values, photos and measurements on a transit's page, each kept the moment it is made
   (store.js) and shown as kept only then. Whatever anybody typed is put on the page as text, never as markup. */
(function () {
  "use strict";

  var wallwork = window.wallwork || {};
  var block = document.getElementById("work");
  if (!block || !wallwork.store || !wallwork.measure || !wallwork.handover) return;
  var work = JSON.parse(block.textContent);
  var say = wallwork.say;
  var store = wallwork.store;
  var measure = wallwork.measure;
  wallwork.work = work;
  var RESULTS = { held: say("held"), leaked: say("leaked"), stopped: say("stopped before its end") };
  var entries = []; // kept, of whatever work, in the order of their numbers
  var home = []; // records that were handed in and changed the layout: [{record, changed}]
  var unkept = []; // made, and the store refused them: here as long as the page is open
  var device = { id: "", name: "", people: [], now: -1 };
  var last = new Map(); // what counts of this work, by kind and id
  var exported = 0; // entries up to this number left the phone in an export
  var trouble = "";
  var isStepping = false;
  var at = null; // the key of the step at work
  var isAsked = false;
  var isSetUp = false;
  var isReady = false;
  var isPrinting = false;
  var steps = Array.from(document.querySelectorAll("#steps .step[data-key]"));
  var byKey = new Map(steps.map(step => [step.dataset.key, step]));

  /* Return an element. Properties that begin with "on" are listened to, others are attributes; children are text. */
  function make(name, properties, children) {
    var made = document.createElement(name);
    Object.keys(properties || {}).forEach(key => {
      var value = properties[key];
      if (key.slice(0, 2) === "on") made.addEventListener(key.slice(2), value);
      else if (value !== false && value !== undefined && value !== null) made.setAttribute(key, value === true ? "" : value);
    });
    made.append.apply(made, [].concat(children === undefined ? [] : children).filter(child => child !== null));
    return made;
  }
  function button(text, press, kind) {
    return make("button", { type: "button", class: kind, onclick: press }, text);
  }
  function mine(what, id) {
    return last.get(what + " " + id);
  }
  function all(what) {
    return Array.from(last.values()).filter(entry => entry.what === what);
  }
  /* The drawings of the plan, wherever stepping has put them; not those of the record. */
  function drawings(within) {
    return document.querySelectorAll("#layout .drawing-screen" + (within || "") + ", #steps .drawing-screen" + (within || ""));
  }
  function person() {
    return device.people[device.now];
  }
  function time(entry) {
    return entry.at.slice(11, 16);
  }

  /* -- keeping */

  /* Keep an entry. Whoever has no name yet is asked for it first: once a device. */
  function add(what, id, data, more) {
    more = more || {};
    if (!isReady) {
      ready.then(() => add(what, id, data, more));
      return;
    }
    if (!person() && !more.by && what !== "export") {
      askPerson(() => { add(what, id, data, more); });
      return;
    }
    var entry = {
      job: work.job,
      transit: work.transit,
      work: more.work || work.work,
      revision: more.work ? more.revision : work.revision,
      device: device.id,
      what: what,
      id: String(id),
      data: data,
      by: more.by || person(),
      at: wallwork.moment(new Date()),
    };
    var photo = more.photo && { job: work.job, transit: work.transit, digest: data.digest, bytes: more.photo };
    stayAwake();
    if (!isAsked && navigator.storage && navigator.storage.persist) navigator.storage.persist();
    isAsked = true;
    return store.keep(entry, photo).then(
      kept => {
        trouble = "";
        insert([kept]);
        draw();
        store.at("shown");
      },
      error => {
        // Still in the page's memory, and in an export; never shown as kept.
        if (what !== "export") unkept.push({ entry: entry, photo: photo });
        trouble =
          error && error.name === "QuotaExceededError"
            ? say("Not kept: this phone has no room left. Export now, then make room.")
            : say("Not kept: the browser's store can't be written. Export now and tell the planner.");
        draw();
      }
    );
  }

  function tryAgain() {
    var waiting = unkept.splice(0);
    waiting.reduce((before, one) => {
      return before.then(() => {
        return store.keep(one.entry, one.photo).then(
          kept => { insert([kept]); },
          () => { unkept.push(one); }
        );
      });
    }, Promise.resolve()).then(() => {
      if (!unkept.length) trouble = "";
      draw();
    });
  }

  function insert(found) {
    var known = new Set(entries.map(entry => entry.n));
    entries = entries
      .concat(found.filter(entry => !known.has(entry.n)))
      .sort((one, other) => one.n - other.n);
  }

  /* Look into the store anew: another tab may have written, or handed in. */
  function look() {
    return Promise.all([store.read(work.job, work.transit), store.home(work.job, work.transit)]).then(
      found => {
        entries = found[0];
        home = found[1];
        draw();
      },
      () => {
        trouble = say("This browser keeps nothing here: a private window, or its store is shut. Write on paper.");
        draw();
      }
    );
  }

  function ofWork(digest) {
    return entries.filter(entry => entry.work === digest);
  }
  function exportedOf(digest) {
    return ofWork(digest).reduce((most, entry) => entry.what === "export" ? Math.max(most, entry.data.upto) : most, 0);
  }
  function waitingOf(digest) {
    var upto = exportedOf(digest);
    return ofWork(digest).filter(entry => entry.what !== "export" && entry.n > upto).length;
  }
  function otherWorks() {
    return Array.from(new Set(entries.map(entry => entry.work))).filter(digest => digest !== work.work);
  }

  /* -- the sheet on which everything is entered */

  var sheet = make("dialog", { class: "entry" });
  document.body.append(sheet);
  sheet.addEventListener("close", () => { sheet.replaceChildren(); });

  /* Open a sheet: {title, lines, fields, keep, done(values) -> nothing or a word of what is missing, answer(values)}.
     A value outside its window needs a reason; done gets it as values.reason. */
  function ask(what) {
    var inputs = {};
    var active = null;
    var message = make("p", { class: "wrong", role: "alert" });
    var answer = make("div", { class: "answer", "aria-live": "polite" });
    var form = make("form", { method: "dialog", novalidate: true });
    var reason = field({ name: "reason", label: say("Why it stays so"), kind: "long" });
    var pad = make("div", { class: "pad" });
    var rows = make("div", { class: "entry-fields" });
    var more = make("div", { class: "entry-fields" });
    reason.hidden = true;

    function field(of) {
      var id = "entry-" + of.name;
      var line = make("div", { class: "entry-field " + of.kind });
      line.append(make("label", { for: id }, of.label));
      var input;
      if (of.kind === "choice") {
        input = make("select", { id: id }, of.options.map(option => make("option", { value: option[0], selected: option[0] === of.value }, option[1])));
      } else if (of.kind === "long") {
        input = make("textarea", { id: id, rows: 2, maxlength: 2000 });
        input.value = of.value || "";
      } else {
        var isNumber = of.kind === "number" || of.kind === "count";
        input = make("input", { id: id, type: "text", autocomplete: "off", maxlength: isNumber ? 10 : of.most || 160 });
        if (isNumber) input.inputMode = "none"; // the page's own keypad: the answer never hides behind a keyboard
        input.value = of.value === undefined || of.value === null ? "" : of.value;
        if (of.window) line.append(make("span", { class: "entry-window" }, of.window));
      }
      input.addEventListener("focus", () => {
        active = of.kind === "number" || of.kind === "count" ? input : null;
        pad.hidden = !active;
      });
      input.addEventListener("input", changed);
      line.append(input);
      inputs[of.name] = { of: of, input: input };
      return line;
    }
    function people(of) {
      var part = make("div", { class: "people" });
      var known = device.people.filter(one => one.name !== of.not);
      var name = field({ name: of.name, label: of.label, kind: "text", value: of.value ? of.value.name : "" });
      var role = field({ name: of.name + "-role", label: say("Role"), kind: "text", value: of.value ? of.value.role : of.role });
      if (known.length)
        part.append(make("div", { class: "chips" }, known.map(one => {
          return button(one.role ? one.name + ", " + one.role : one.name, () => {
            inputs[of.name].input.value = one.name;
            inputs[of.name + "-role"].input.value = one.role;
            changed();
          });
        })));
      part.append(name, role);
      return part;
    }
    function values() {
      var found = {};
      Object.keys(inputs).forEach(name => {
        var of = inputs[name].of;
        var text = wallwork.clean(inputs[name].input.value, of.kind === "long");
        if (of.kind === "number") text = text.replace(",", ".").replace(/^0+(?=\d)/, "").replace(/^\./, "0.").replace(/\.$/, "");
        if (of.kind === "count") text = text.replace(/^0+(?=\d)/, "");
        found[name] = text;
      });
      return found;
    }
    function refused(found) {
      var wrong = "";
      Object.keys(inputs).forEach(name => {
        var of = inputs[name].of;
        var text = found[name];
        if (!wrong && of.needed && !text) wrong = say("Missing: {what}", { what: of.label });
        if (!wrong && text && of.kind === "number" && measure.thousandths(text) === null) wrong = say("Write a number such as 12.5: {what}", { what: of.label });
        if (!wrong && text && of.kind === "count" && !/^\d{1,6}$/.test(text)) wrong = say("Write a whole number: {what}", { what: of.label });
      });
      return wrong;
    }
    /* Return what is out of its window, in words; '' where nothing is. */
    function outside(found) {
      return Object.keys(inputs).map(name => beyond(found[name], inputs[name].of)).concat(what.odd ? what.odd(found) : []).filter(Boolean).join(" ");
    }
    function changed() {
      message.textContent = "";
      var found = values();
      Object.keys(inputs).forEach(name => {
        inputs[name].input.classList.toggle("outside", Boolean(beyond(found[name], inputs[name].of)));
      });
      if (what.answer) answer.replaceChildren.apply(answer, what.answer(found, inputs));
      if (!outside(found)) reason.hidden = true;
    }
    function press(sign) {
      if (!active) return;
      active.value = sign === "" ? active.value.slice(0, -1) : (active.value + sign).slice(0, active.maxLength);
      changed();
    }
    ["1", "2", "3", "4", "5", "6", "7", "8", "9", ".", "0", ""].forEach(sign => {
      var key = button(sign || "⌫", () => { press(sign); });
      if (!sign) key.setAttribute("aria-label", say("Delete"));
      if (sign === ".") key.setAttribute("aria-label", say("Point"));
      key.addEventListener("pointerdown", event => { event.preventDefault(); }); // the field keeps the focus
      pad.append(key);
    });
    [[what.fields, rows], [what.more, more]].forEach(part => {
      part[1].append.apply(part[1], (part[0] || []).map(of => (of.kind === "person" ? people(of) : field(of))));
    });
    pad.hidden = true;
    form.append(
      make("header", { class: "entry-head" }, [
        make("h2", { id: "entry-title" }, what.title),
        button(say("Back"), () => { sheet.close(); }, "back"),
      ]),
      make("div", { class: "entry-body" }, (what.lines || []).map(line => line.nodeType ? line : make("p", {}, line)).concat([rows, answer, more, reason, message])),
      make("footer", { class: "entry-foot" }, [
        pad,
        what.keep === null ? null : make("button", { type: "submit", class: "keep" }, what.keep || say("Keep")),
      ])
    );
    form.addEventListener("submit", event => {
      event.preventDefault();
      var found = values();
      var wrong = refused(found);
      var odd = wrong ? "" : outside(found);
      if (odd && !found.reason) {
        wrong = odd + " " + say("Measure again, or say why it stays so.");
        reason.hidden = false;
      }
      if (!odd) found.reason = "";
      wrong = wrong || what.done(found);
      if (wrong) {
        message.textContent = wrong;
        message.scrollIntoView({ block: "nearest" });
        return;
      }
      sheet.close();
    });
    sheet.setAttribute("aria-labelledby", "entry-title");
    sheet.replaceChildren(form);
    if (!sheet.open) sheet.showModal();
    var first = rows.querySelector("input, select, textarea");
    if (first && what.fields[0].kind !== "person") first.focus();
    changed();
  }

  /* Return by how much a number is out of its window, in words; '' where it is not, or is no number yet. */
  function beyond(text, of) {
    var value = text ? measure.thousandths(text) : null;
    var least = of.least ? measure.thousandths(of.least) : null;
    var most = of.upmost ? measure.thousandths(of.upmost) : null;
    if (value === null) return "";
    if (least !== null && value < least) return say("{by} {unit} short of the window.", { by: plain(least - value), unit: of.unit || "" });
    if (most !== null && value > most) return say("{by} {unit} past the window.", { by: plain(value - most), unit: of.unit || "" });
    return "";
  }
  function plain(value) {
    return measure.written(value).replace(/\.0$/, "");
  }
  function windowText(set) {
    if (!set.least && !set.most) return "";
    var ends = !set.least ? "≤ " + set.most : set.least === set.most ? set.least : set.least + "–" + set.most;
    return ends + (set.unit ? " " + set.unit : "");
  }

  /* Return a field of a sheet: its kind, name, label, what stands in it, and what else holds of it. */
  function put(kind, name, label, value, more) {
    return Object.assign({ kind: kind, name: name, label: label, value: value }, more);
  }

  function remember(one) {
    var found = device.people.findIndex(known => known.name === one.name && known.role === one.role);
    if (found < 0) {
      device.people.push(one);
      found = device.people.length - 1;
    }
    return found;
  }
  function saveDevice() {
    var now = { name: device.name, people: device.people.slice(-20), now: device.now };
    store.device(kept => {
      Object.assign(kept, now);
    }).catch(() => { /* asked again next time */ });
  }
  function askPerson(then) {
    ask({
      title: say("Who enters here?"),
      lines: [say("Once on this phone. A name typed here is a name, not a signature.")],
      fields: [put("person", "who", say("Name"), person())],
      done: values => {
        if (!values.who) return say("Missing: {what}", { what: say("Name") });
        device.now = remember({ name: values.who, role: values["who-role"] });
        saveDevice();
        draw();
        if (then) setTimeout(then);
        return "";
      },
    });
  }

  /* -- steps */

  function titleOf(step) {
    return step.querySelector("h4").textContent;
  }
  function numberOf(step) {
    return step.value;
  }
  function isHold(step) {
    return step.classList.contains("hold") || step.classList.contains("witness");
  }

  function tick(step) {
    var key = step.dataset.key;
    var done = mine("step", key);
    at = key;
    if (done) {
      ask({
        title: say("Step {number}", { number: numberOf(step) }),
        lines: [say("Ticked at {time} by {name}.", { time: time(done), name: done.by.name })],
        fields: [],
        keep: say("Take the tick back"),
        done: () => { add("step", key, { gone: true }); },
      });
    } else if (isHold(step)) {
      if (!person()) {
        askPerson(() => { tick(step); });
        return;
      }
      ask({
        title: say("Step {number}: released by", { number: numberOf(step) }),
        lines: [titleOf(step), say("A second person releases it. A name typed here is a name, not a signature.")],
        fields: [
          put("person", "who", say("Name"), "", { not: person().name, role: step.dataset.party }),
          put("long", "note", say("Note")),
        ],
        keep: say("Released"),
        done: values => {
          if (!values.who) return say("Missing: {what}", { what: say("Name") });
          if (values.who === person().name) return say("This is the one who enters. A second person releases it.");
          var by = { name: values.who, role: values["who-role"] };
          remember(by);
          saveDevice();
          var note = say("Entered by {name}", { name: person().name });
          add("step", key, { note: values.note ? values.note + "\n" + note : note }, { by: by });
          return "";
        },
      });
    } else {
      add("step", key, {});
    }
  }

  /* Where a line that a step writes down is kept: the kind and id of its entry, and what it holds. */
  function placeOf(line) {
    var set = line.dataset;
    if (set.ask === "count") return ["count", set.bay + "." + set.field, { bay: +set.bay }, set.field];
    if (set.ask === "bolt") {
      var bolt = { of: set.of, bay: +set.bay, bolt: +set.bolt, again: Boolean(set.again) };
      return ["bolt", [set.of, set.bay, set.bolt, set.again, set.field].join("."), bolt, set.field];
    }
    var step = line.closest(".step").dataset.key;
    return ["value", step + " " + set.read, { step: step, read: +set.read }, "value"];
  }

  function enter(line) {
    var set = line.dataset;
    var place = placeOf(line);
    var kept = mine(place[0], place[1]);
    var label = line.firstElementChild.textContent;
    var isNumber = set.ask === "number" || set.ask === "bolt";
    var of = {
      name: "value",
      label: label,
      kind: set.ask === "count" ? "count" : isNumber ? "number" : set.ask === "person" ? "person" : "text",
      value: kept ? kept.data[place[3]] : "",
      least: set.least,
      upmost: set.most,
      unit: set.unit,
      window: windowText(set),
      needed: true,
    };
    if (of.kind === "person") of.value = kept ? { name: kept.data.value, role: "" } : null;
    at = line.closest(".step").dataset.key;
    ask({
      title: say("Step {number}", { number: numberOf(line.closest(".step")) }),
      lines: kept && kept.data.reason ? [say("Reason: {reason}", { reason: kept.data.reason })] : [],
      fields: [of],
      done: values => {
        var value = values.value;
        if (!value) return say("Missing: {what}", { what: label });
        if (of.kind === "person") {
          remember({ name: value, role: values["value-role"] });
          saveDevice();
          if (values["value-role"]) value = (value + ", " + values["value-role"]).slice(0, 160);
        }
        var data = Object.assign({}, place[2]);
        data[place[3]] = of.kind === "count" ? +value : value;
        if (values.reason) data.reason = values.reason;
        add(place[0], place[1], data);
        return "";
      },
    });
  }

  /* -- measuring */

  function typeKey(type) {
    return [type.type || type.cables[0], type.drum || "", type.part].join("\n");
  }
  function measured(type) {
    return mine("measured", typeKey(type));
  }

  function readingsOf(values) {
    return [values.one, values.two].filter(Boolean).map(measure.thousandths);
  }
  function answerOf(type, values) {
    var table = work.tables[type.part];
    if (values.girth) {
      var girth = measure.thousandths(values.girth);
      return girth === null ? null : measure.around(table, work.tape, girth);
    }
    var readings = readingsOf(values);
    if (!readings.length || readings.indexOf(null) >= 0 || !values.one) return null;
    return measure.across(table, work.bands, readings);
  }
  /* What an answer without layers means, and what to do. */
  function verdict(answer, part) {
    var size = work.tables[part].size;
    if (answer.says === "thick") return say("Too thick for {part}, {size} mm: its readings end at {end} mm. Do not peel. Leave this place open and tell the planner.", { part: part, size: size, end: measure.written(answer.end) });
    if (answer.says === "thin") return say("Too thin for {part}, {size} mm: its readings begin at {end} mm. Do not peel. Leave this place open and tell the planner.", { part: part, size: size, end: measure.written(answer.end) });
    if (answer.says === "unround") return say("Not round enough: {apart} mm apart, {end} mm are allowed. Measure at a second place. There too: call the planner.", { apart: measure.written(answer.apart), end: measure.written(answer.end) });
    if (answer.says === "step") return say("This instrument reads to {end} mm. Write what it shows.", { end: measure.written(answer.end) });
    return say("No number of layers holds this reading. Measure again, then let the gap decide.");
  }

  function askMeasure(type) {
    var kept = measured(type);
    var was = kept ? kept.data : {};
    var table = work.tables[type.part];
    var read = was.diameters || [];
    var gap = { least: measure.written(type.gap[0]), upmost: measure.written(type.gap[1]), unit: "mm" };
    var filled = kept ? {} : { a: "", b: "" };
    var title = type.type ? type.type + (type.drum ? " · " + type.drum : "") : type.cables.join(", ");
    gap.window = gap.least + "–" + gap.upmost;
    ask({
      title: title,
      lines: [
        say("{cables}, block {part}, {size} mm. Planned Ø {likely} mm, {least} to {most}.", {
          cables: type.cables.join(", "), part: type.part, size: table.size, likely: type.likely, least: type.least, most: type.most,
        }),
      ],
      fields: [
        put("number", "one", say("Ø across, mm"), read[0]),
        put("number", "two", say("a quarter turn on"), read[1]),
      ].concat(work.tape && table.tape ? [put("number", "girth", say("or a tape round it, mm"), was.girth)] : []),
      more: [
        put("count", "a", say("Peeled from A"), was.a),
        put("count", "b", say("Peeled from B"), was.b),
        put("number", "least", say("Smallest gap"), (was.gaps || [])[0], gap),
        put("number", "most", say("Largest gap"), (was.gaps || [])[1], gap),
      ],
      answer: (values, inputs) => {
        var answer = answerOf(type, values);
        if (!answer) return [];
        // The answer is filled in; whoever peeled otherwise writes over it.
        ["a", "b"].forEach(half => {
          var input = inputs[half].input;
          if (input.value === String(filled[half])) input.value = filled[half] = answer.says === "peel" ? answer[half] : "";
        });
        if (answer.says !== "peel") return [make("p", { class: "not-peeled" }, verdict(answer, type.part))];
        return [
          make("p", { class: "peels" }, [
            make("span", {}, ["A ", make("b", {}, String(answer.a)), make("small", {}, say("out of the upper half"))]),
            make("span", {}, ["B ", make("b", {}, String(answer.b)), make("small", {}, say("out of the lower half"))]),
          ]),
          make("p", { class: "expected" }, [
            say("Gap to expect {least} to {most} mm.", { least: measure.written(answer.gap[0]), most: measure.written(answer.gap[1]) }),
            " ",
            answer.a === answer.b ? "" : say("Half {half} gives one more.", { half: answer.a > answer.b ? "A" : "B" }),
          ]),
        ];
      },
      odd: values => {
        var answer = answerOf(type, values);
        var given = values.a + " " + values.b;
        if (!answer || given === " ") return [];
        if (answer.says !== "peel") return [say("Layers are written down, and the table has none for this reading.")];
        return given === answer.a + " " + answer.b ? [] : [say("The table says A {a}, B {b}.", { a: answer.a, b: answer.b })];
      },
      done: values => {
        var answer = answerOf(type, values);
        if (!answer) return say("Missing: {what}", { what: say("Ø across, mm") });
        if (values.girth && values.one) return say("Write across or round, not both: one of them counts.");
        if (answer.says === "step") return verdict(answer, type.part);
        if (Boolean(values.a) !== Boolean(values.b)) return say("Write down both halves, A and B.");
        var gaps = [values.least, values.most].filter(Boolean);
        var data = { cables: type.cables, type: type.type, drum: type.drum, part: type.part };
        if (values.girth) data.girth = values.girth;
        else data.diameters = [values.one, values.two].filter(Boolean);
        if (values.a) Object.assign(data, { a: +values.a, b: +values.b });
        if (gaps.length) data.gaps = gaps;
        if (values.reason) data.reason = values.reason;
        if (answer.says !== "peel") data.note = verdict(answer, type.part);
        add("measured", typeKey(type), data);
        return "";
      },
    });
  }

  function typesOf(step) {
    return work.types.filter(type => type.step === step.dataset.key);
  }

  /* -- other forms */

  function askException(step) {
    var bay = +step.dataset.bay;
    var row = +step.dataset.row;
    var places = work.blocks.filter(one => one.bay === bay && one.row === row && one.cable);
    ask({
      title: say("A gap that is not within"),
      lines: [say("Too wide: take out one layer more. Too narrow: take a new half with one layer more left in. Try again. If it still is not within, stop, call the planner, and write down what was said.")],
      fields: [
        put("choice", "position", say("Place"), "", { options: places.map(one => [one.at, one.at + " " + held(one).join(", ")]) }),
        put("number", "gap", say("Gap, mm"), "", { needed: true }),
        put("long", "why", say("Why it stays so"), "", { needed: true }),
      ],
      done: values => {
        add("gap", values.position, { bay: bay, row: row, position: values.position, gap: values.gap, reason: values.why });
        return "";
      },
    });
  }
  function askUnlisted() {
    ask({
      title: say("A cable that is not on the list"),
      lines: [say("Do not put it in. Write down its tag and call the planner.")],
      fields: [
        put("text", "tag", say("Its tag"), "", { needed: true, most: 40 }),
        put("number", "diameter", say("Ø across, mm")),
        put("text", "position", say("Place, if it went in"), "", { most: 40 }),
        put("long", "why", say("What the planner said")),
      ],
      done: values => {
        add("unlisted", values.tag, { tag: values.tag, diameter: values.diameter, position: values.position, reason: values.why });
        return "";
      },
    });
  }
  function askNotPulled() {
    var tags = work.blocks.flatMap(held).map(tag => [tag, tag]);
    ask({
      title: say("Listed, not pulled"),
      lines: [say("Leave its place shut, with the plug in.")],
      fields: [
        put("choice", "tag", say("Cable"), "", { options: tags }),
        put("long", "why", say("What the planner said")),
      ],
      done: values => {
        add("not-pulled", values.tag, { tag: values.tag, reason: values.why });
        return "";
      },
    });
  }
  function askTest(step) {
    var key = step.dataset.key;
    var was = (mine("test", key) || { data: {} }).data;
    ask({
      title: titleOf(step),
      fields: [
        put("text", "kind", say("Kind of test"), was.kind, { needed: true }),
        put("choice", "result", say("Result"), was.result, { options: Object.entries(RESULTS) }),
        put("text", "figures", say("Pressure and time"), was.figures),
        put("person", "who", say("Witnessed by"), was.witness),
        put("long", "note", say("Note"), was.note),
      ],
      done: values => {
        var data = { kind: values.kind, result: values.result, figures: values.figures, note: values.note };
        if (values.who) {
          data.witness = { name: values.who, role: values["who-role"] };
          remember(data.witness);
          saveDevice();
        }
        add("test", key, data);
        return "";
      },
    });
  }
  function askSide() {
    var kept = mine("side", "side");
    ask({
      title: say("The working side was changed"),
      lines: [say("Planned: {side}. The drawing of the other side is mirrored: work by that one, and tell the planner.", { side: work.sides[0] })],
      fields: [
        put("choice", "side", say("Blocks go in from"), kept ? kept.data.side : work.sides[1], { options: work.sides.map(side => [side, side]) }),
        put("long", "why", say("Why"), kept ? kept.data.reason : "", { needed: true }),
      ],
      done: values => {
        add("side", "side", values.side === work.sides[0] ? { gone: true } : { side: values.side, reason: values.why });
        return "";
      },
    });
  }
  function askPlace(one) {
    var kept = mine("place", one.at);
    var was = kept ? kept.data : { role: one.role, part: one.part, cable: one.cable };
    var cables = work.blocks.flatMap(held);
    ask({
      title: say("Place {place} is not as drawn", { place: one.at }),
      fields: [
        put("choice", "role", say("What lies there"), was.role, { options: [["cable", say("a cable")], ["spare", say("a spare")], ["filler", say("a filler")], ["nothing", say("nothing")]] }),
        put("choice", "cable", say("Cable"), was.cable, { options: [["", "–"]].concat(cables.map(tag => [tag, tag])) }),
        put("text", "part", say("Part"), was.part, { most: 32 }),
        put("long", "why", say("Why"), was.reason, { needed: true }),
      ],
      done: values => {
        if (values.role === "cable" && !values.cable) return say("Missing: {what}", { what: say("Cable") });
        if (values.part && !/^[A-Za-z0-9](?:[A-Za-z0-9./x-]{0,30}[A-Za-z0-9])?$/.test(values.part)) return say("Write the part as it is marked: {what}", { what: values.part });
        var data = { position: one.at, role: values.role, part: values.role === "nothing" ? "" : values.part, reason: values.why };
        if (values.role === "cable") data.cable = values.cable;
        add("place", one.at, data);
        return "";
      },
    });
  }
  function askNote(what, id, data, title) {
    var kept = mine(what, id);
    ask({
      title: title,
      fields: [put("long", "note", say("Note"), kept ? kept.data.note : "")],
      done: values => {
        add(what, id, values.note ? Object.assign({}, data, { note: values.note }) : { gone: true });
        return "";
      },
    });
  }

  /* -- photos */

  var chooser = make("input", { type: "file", accept: "image/*", capture: "environment", hidden: true });
  var wanted = {};
  document.body.append(chooser);
  chooser.addEventListener("change", () => {
    var file = chooser.files[0];
    var for_ = wanted;
    chooser.value = "";
    if (!file) return;
    wallwork.handover.shrink(file).then(
      photo => {
        var data = { digest: photo.digest };
        if (for_.step) data.step = for_.step;
        if (for_.side) data.side = for_.side;
        add("photo", photo.digest, data, { photo: photo.bytes });
      },
      () => {
        ask({ title: say("No photo"), lines: [say("This file is no photo that the browser can show. Take another.")], fields: [], keep: null, done: () => {} });
      }
    );
  });
  function takePhoto(step, side) {
    wanted = { step: step, side: side };
    chooser.click();
  }

  /* -- what a block is */

  /* The cables of a block, left to right. */
  function held(one) {
    return one.cable ? [one.cable].concat(one.others || []) : [];
  }
  function lineOf(tag) {
    return work.types.find(type => type.cables.indexOf(tag) >= 0);
  }
  function showBlock(index) {
    var one = work.blocks[index];
    var type = one.cable && lineOf(one.cable);
    var kept = type && measured(type);
    var facts = [];
    function fact(name, value) {
      if (value) facts.push(make("dt", {}, name), make("dd", {}, value));
    }
    fact(say("Cable"), held(one).join(", "));
    if (!one.cable) fact(say("What lies there"), one.role === "spare" ? say("Spare: the plug stays in") : say("Filler: solid block"));
    if (type && !one.others) fact(say("Ø, mm"), type.likely + (type.least === type.most ? "" : " (" + type.least + "–" + type.most + ")"));
    fact(say("Block"), (one.size ? one.size + " mm, " : "") + one.part);
    if (one.others) {
      held(one).forEach((tag, at) => {
        var its = lineOf(tag);
        var entry = its && measured(its);
        var peel = entry && entry.data.a !== undefined ? entry.data : its && its.a !== undefined ? its : null;
        fact(one.at + "abcdefghi"[at] + " " + tag, its && its.likely + " mm, " + (peel ? "A " + peel.a + "  B " + peel.b : say("measure first")));
      });
      if (type) fact(say("Gap, mm"), measure.written(type.gap[0]) + "–" + measure.written(type.gap[1]));
    } else if (type) {
      if (kept && kept.data.a !== undefined) fact(say("Layers, by the measured Ø"), "A " + kept.data.a + "  B " + kept.data.b);
      else fact(say("Layers"), type.a === undefined ? say("measure first") : "A " + type.a + "  B " + type.b);
      fact(say("Gap, mm"), measure.written(type.gap[0]) + "–" + measure.written(type.gap[1]));
    } else if (one.cable) {
      fact(say("Layers"), say("Not known yet: ask before you peel."));
    }
    var changed = mine("place", one.at);
    if (changed) fact(say("Not as drawn"), changed.data.role + " " + (changed.data.cable || "") + " · " + changed.data.reason);
    var count = work.blocks.length;
    ask({
      title: one.bay ? say("Place {place}", { place: one.at }) : one.cable,
      lines: [
        make("dl", { class: "facts" }, facts),
        make("div", { class: "entry-buttons" }, [
          button(say("Block before"), () => { showBlock((index + count - 1) % count); }),
          button(say("Next block"), () => { showBlock((index + 1) % count); }),
          ...held(one).map(lineOf).filter((its, at, all) => its && all.indexOf(its) === at).map(its => button(one.others ? say("Measure") + " " + its.cables[0] : say("Measure"), () => { askMeasure(its); })),
          one.bay ? button(say("Not as drawn"), () => { askPlace(one); }) : null,
        ]),
      ],
      fields: [],
      keep: null,
      done: () => {},
    });
    mark(one.at);
  }
  /* Mark a block on the drawings: the one whose sheet is open, or none. */
  function mark(position) {
    drawings(" .block").forEach(drawn => {
      drawn.classList.toggle("now", drawn.dataset.position === position);
    });
  }
  sheet.addEventListener("close", () => { mark(null); });
  drawings().forEach(drawing => {
    drawing.addEventListener("click", event => {
      // A finger is wider than a small block: the nearest one is taken.
      var near = null;
      var best = 40;
      drawing.querySelectorAll(".block").forEach(drawn => {
        var box = drawn.getBoundingClientRect();
        var far = Math.hypot(
          Math.max(box.left - event.clientX, 0, event.clientX - box.right),
          Math.max(box.top - event.clientY, 0, event.clientY - box.bottom)
        );
        if (far < best) {
          best = far;
          near = drawn;
        }
      });
      if (!near) return;
      var index = work.blocks.findIndex(one => one.at === near.dataset.position || work.blocks.length === 1);
      if (index >= 0) showBlock(index);
    });
  });

  /* -- export */

  function filesOf(digest, number) {
    var own = ofWork(digest).filter(entry => entry.what !== "export");
    var lost = digest === work.work ? unkept : [];
    own = own.concat(lost.map(one => Object.assign({ record: own.length ? own[0].record : undefined }, one.entry)));
    var latest = own[own.length - 1];
    var record = wallwork.handover.recordOf(own, {
      number: number,
      madeBy: work.madeBy,
      revision: digest === work.work ? work.revision : latest.revision,
      device: device.name,
    });
    var digests = (record.photos || []).map(photo => photo.digest);
    return store.photos(work.job, work.transit, digests).catch(() => ({})).then(photos => {
      lost.forEach(one => {
        if (one.photo) photos[one.photo.digest] = one.photo.bytes;
      });
      if (record.photos) record.photos = record.photos.filter(photo => photos[photo.digest]);
      var text = JSON.stringify(record, null, 1) + "\n";
      var files = [["record.json", new TextEncoder().encode(text)]];
      new Set(digests).forEach(name => {
        if (photos[name]) files.push(["photos/" + name + ".jpg", new Uint8Array(photos[name])]);
      });
      var base = [record.transit, record.revision || "not-issued", record.record.slice(0, 8), number].join("_");
      return {
        zip: new File(wallwork.handover.zip(files), base + ".zip", { type: "application/zip" }),
        loose: files.map(file => {
          return file[0] === "record.json"
            ? new File([file[1]], "record.txt", { type: "text/plain" })
            : new File([file[1]], file[0].slice(7), { type: "image/jpeg" });
        }),
        upto: own.reduce((most, entry) => Math.max(most, entry.n || 0), 0),
        count: own.length,
      };
    });
  }

  function askExport(digest) {
    var number = 1 + ofWork(digest).filter(entry => entry.what === "export").length;
    filesOf(digest, number).then(made => {
      function gone() {
        var entry = ofWork(digest)[0];
        add("export", number, { number: number, upto: made.upto }, { work: digest, revision: entry ? entry.revision : work.revision });
        sheet.close();
      }
      function can(files) {
        try {
          return Boolean(navigator.canShare && navigator.canShare({ files: files }));
        } catch (error) {
          return false;
        }
      }
      var shared = can([made.zip]) ? [made.zip] : can(made.loose) ? made.loose : null;
      var link = make("a", { class: "keep", href: URL.createObjectURL(made.zip), download: made.zip.name, onclick: () => { setTimeout(gone, 500); } }, say("Save as a file"));
      ask({
        title: say("Export"),
        lines: [
          say("One file: {name}. Entries in it, with their photos: {count}.", { count: made.count, name: made.zip.name }),
          say("Nothing leaves this phone's store: remove it here only when the planner has the file."),
          make("div", { class: "entry-buttons" }, [
            link,
            shared
              ? button(shared.length > 1 ? say("Share as text and photos") : say("Share"), () => {
                  navigator.share({ files: shared, title: made.zip.name }).then(gone, () => { /* it was not shared */ });
                }, "keep")
              : null,
          ]),
        ],
        fields: [],
        keep: null,
        done: () => {},
      });
    });
  }

  function askForget(digest) {
    ask({
      title: say("Handed in"),
      lines: [
        say("Has the planner the file? Ask before you go on: then this phone forgets what was exported, its photos too."),
      ],
      fields: [],
      keep: say("The planner has it: remove it here"),
      done: () => {
        store.forget(work.job, work.transit, digest, exportedOf(digest), changedBy(ofWork(digest))).then(look, look);
        return "";
      },
    });
  }

  /* -- drawing the page */

  function tickSign() {
    var sign = document.createElementNS("http://www.w3.org/2000/svg", "svg");
    sign.setAttribute("viewBox", "0 0 24 24");
    sign.setAttribute("aria-hidden", "true");
    var path = document.createElementNS("http://www.w3.org/2000/svg", "path");
    path.setAttribute("d", "M4 13l5.5 5.5L20 6");
    sign.append(path);
    return sign;
  }

  /* Wait until the layout was seen: a slow phone takes longer to set up the steps than to draw the page. */
  function seen() {
    return new Promise(go => {
      if (document.visibilityState !== "visible") go();
      requestAnimationFrame(() => { setTimeout(go); });
      setTimeout(go, 1000); // a window that is covered draws nothing
    });
  }

  function setUp() {
    var led = location.hash && document.getElementById(location.hash.slice(1));
    var isLed = led && Math.abs(led.getBoundingClientRect().top) < innerHeight / 2;
    Object.keys(work.tables).forEach(part => {
      work.tables[part].one = measure.rowsOf(document.getElementById("table-" + part));
    });
    steps.forEach(step => {
      var words = step.querySelector(".step-words");
      var box = make("button", { type: "button", class: "tick", "aria-pressed": "false", onclick: () => { tick(step); } }, tickSign());
      step.querySelector(".step-number").append(box);
      step.querySelectorAll(".reads li[data-ask]").forEach(line => {
        if (line.dataset.ask === "form") return;
        var value = button("", () => {
          if (line.dataset.ask === "photo") takePhoto(step.dataset.key, line.dataset.side);
          else enter(line);
        }, "value");
        line.append(value);
      });
      words.append(make("ul", { class: "entries" }), make("div", { class: "forms" }));
    });
    document.querySelectorAll(".measure-cell a").forEach(link => {
      var type = lineOf(link.dataset.tag);
      if (!type) return;
      link.addEventListener("click", event => {
        event.preventDefault();
        askMeasure(type);
      });
    });
    document.querySelector("#steps > h2").after(
      make("p", { class: "list-or-one" }, button("", () => { step(!isStepping); }, "one"))
    );
    document.getElementById("steps").append(
      make("nav", { class: "stepping-bar" }, [
        button("", () => { go(-1); }, "before"),
        button("", () => { go(1); }, "after"),
      ])
    );
    document.querySelectorAll(".tabs [hidden], #entered").forEach(hidden => { hidden.hidden = false; });
    document.addEventListener("wallwork-language", () => { draw(); });
    steps.forEach(one => {
      one.addEventListener("focusin", () => { showRow(one); });
    });
    isSetUp = true;
    draw();
    if (isLed) led.scrollIntoView(); // the steps before it have grown
  }

  function taker(what, entry, text) {
    return make("li", {}, [
      make("span", {}, text),
      button(say("Take back"), () => { add(what, entry.id, Object.assign({}, entry.data, { gone: true })); }),
    ]);
  }
  function told(entry) {
    return " · " + entry.by.name + " " + time(entry);
  }

  function drawStep(step) {
    var key = step.dataset.key;
    var done = mine("step", key);
    var box = step.querySelector(".tick");
    var isAt = at === key;
    step.classList.toggle("done", Boolean(done));
    step.classList.toggle("now", isAt);
    box.setAttribute("aria-pressed", done ? "true" : "false");
    box.setAttribute("aria-label", say("Step {number} done", { number: numberOf(step) }));
    step.querySelectorAll(".reads li[data-ask]").forEach(line => {
      var value = line.querySelector(".value");
      if (!value) return;
      if (line.dataset.ask === "photo") {
        var photos = all("photo").filter(entry => entry.data.step === key && entry.data.side === line.dataset.side);
        value.textContent = photos.length ? say("{count} kept", { count: photos.length }) : say("Take");
        return;
      }
      var place = placeOf(line);
      var kept = mine(place[0], place[1]);
      var text = kept ? String(kept.data[place[3]]) : "";
      var isOut = Boolean(kept && kept.data.reason);
      value.textContent = text ? text + (line.dataset.unit ? " " + line.dataset.unit : "") : "–";
      value.setAttribute("aria-label", line.firstElementChild.textContent + ": " + value.textContent);
      value.classList.toggle("given", Boolean(text));
      value.classList.toggle("outside", isOut);
    });
    var list = [];
    if (done) list.push(make("li", { class: "done-line" }, say("Done {time}, {name}", { time: time(done), name: done.by.name + (done.by.role ? ", " + done.by.role : "") })));
    step.querySelectorAll(".reads li[data-ask]").forEach(line => {
      var place = line.dataset.ask !== "form" && placeOf(line);
      var kept = place && mine(place[0], place[1]);
      if (kept && kept.data.reason) list.push(make("li", { class: "why" }, say("{value}: {reason}", { value: kept.data[place[3]], reason: kept.data.reason })));
    });
    all("photo").forEach(entry => {
      if (entry.data.step === key) list.push(taker("photo", entry, say("Photo") + told(entry)));
    });
    var note = mine("value-note", key);
    if (note) list.push(make("li", {}, note.data.note));
    var forms = [];
    if (step.dataset.form === "measure") {
      typesOf(step).forEach(type => {
        var kept = measured(type);
        if (kept) list.push(make("li", {}, summary(kept)));
        forms.push(button(say("Measure {part}", { part: type.part }), () => { at = key; askMeasure(type); }, kept ? "" : "first"));
      });
    } else if (step.dataset.form === "row") {
      var id = step.dataset.bay + "." + step.dataset.row;
      var row = mine("row", id);
      var cabled = work.blocks.some(one => one.bay === +step.dataset.bay && one.row === +step.dataset.row && one.cable);
      if (row) list.push(taker("row", row, say("Gaps of this row are within their windows") + told(row)));
      all("gap").forEach(entry => {
        if (entry.data.bay + "." + entry.data.row === id)
          list.push(taker("gap", entry, say("{place}: gap {gap} mm, {reason}", { place: entry.data.position, gap: entry.data.gap, reason: entry.data.reason })));
      });
      if (cabled) {
        if (!row) forms.push(button(say("All gaps within"), () => { at = key; add("row", id, { bay: +step.dataset.bay, row: +step.dataset.row, within: true }); }, "first"));
        forms.push(button(say("One is not"), () => { at = key; askException(step); }));
      }
    } else if (step.dataset.form === "cables") {
      all("unlisted").forEach(entry => { list.push(taker("unlisted", entry, say("Not on the list: {tag}", { tag: entry.data.tag }))); });
      all("not-pulled").forEach(entry => { list.push(taker("not-pulled", entry, say("Not pulled: {tag}", { tag: entry.data.tag }))); });
      forms.push(button(say("Not on the list"), () => { at = key; askUnlisted(); }), button(say("Listed, not pulled"), () => { at = key; askNotPulled(); }));
    } else if (step.dataset.form === "test") {
      var test = mine("test", key);
      if (test) list.push(taker("test", test, test.data.kind + ": " + RESULTS[test.data.result] + told(test)));
      forms.push(button(say("Result of the test"), () => { at = key; askTest(step); }, test ? "" : "first"));
    }
    if (isAt || isStepping) forms.push(button(say("Photo"), () => { takePhoto(key); }));
    step.querySelector(".entries").replaceChildren.apply(step.querySelector(".entries"), list);
    step.querySelector(".forms").replaceChildren.apply(step.querySelector(".forms"), forms);
  }

  function summary(kept) {
    var data = kept.data;
    var parts = [];
    if (data.diameters) parts.push("Ø " + data.diameters.join(" / "));
    if (data.girth) parts.push(say("tape {girth} mm", { girth: data.girth }));
    if (data.a !== undefined) parts.push("A " + data.a + " B " + data.b);
    if (data.gaps) parts.push(say("gap {gap}", { gap: data.gaps.join("–") }));
    if (data.note) parts.push(data.note);
    if (data.reason) parts.push(data.reason);
    return parts.join(" · ");
  }

  function drawMeasured() {
    document.querySelectorAll(".measure-cell a[data-tag]").forEach(link => {
      var type = lineOf(link.dataset.tag);
      var kept = type && measured(type);
      kept = !isPrinting && kept;
      link.textContent = !kept ? say("Measure") : kept.data.a !== undefined ? "A " + kept.data.a + "   B " + kept.data.b : say("Leave open");
      link.classList.toggle("measured", Boolean(kept));
    });
  }

  function drawRows() {
    drawings(" .row").forEach(drawn => {
      var place = byKey.get("place-row." + drawn.dataset.bay + "." + drawn.dataset.row);
      drawn.classList.toggle("done", Boolean(place && mine("step", place.dataset.key)));
    });
  }
  /* Show on the drawing which row a step speaks of. */
  function showRow(step) {
    var has = Boolean(step && step.dataset.row);
    drawings().forEach(drawing => {
      drawing.classList.toggle("stepping", has);
      drawing.querySelectorAll(".row").forEach(row => {
        row.classList.toggle("now", has && row.dataset.bay === step.dataset.bay && row.dataset.row === step.dataset.row);
      });
    });
  }

  function firstOpen() {
    return steps.find(step => !mine("step", step.dataset.key)) || steps[steps.length - 1];
  }

  function draw() {
    if (!isSetUp) return;
    last = new Map();
    var own = ofWork(work.work).concat(unkept.map(one => one.entry));
    // What was not kept is exported, and not shown as done.
    wallwork.counting(ofWork(work.work)).forEach(entry => { last.set(entry.what + " " + entry.id, entry); });
    exported = exportedOf(work.work);
    if (!at && own.length) at = firstOpen().dataset.key;
    steps.forEach(drawStep);
    drawMeasured();
    drawRows();
    drawOneStep();
    drawEntered();
    drawKept();
    drawAdding();
  }

  /* Return what entries, all of one work, changed of the layout. */
  function changedBy(list) {
    return wallwork.counting(list)
      .filter(entry => entry.what === "place" || entry.what === "not-pulled" || (entry.what === "unlisted" && entry.data.position))
      .map(entry => entry.id);
  }

  /* Adding a cable was worked out for one layout: where entries here made another of it, the page says no. */
  function drawAdding() {
    var part = document.querySelector(".adding");
    var refusal = document.querySelector(".refusal");
    if (!part) return;
    var changed = [work.work].concat(otherWorks()).flatMap(digest => changedBy(ofWork(digest)))
      .concat(changedBy(unkept.map(one => one.entry)));
    var gone = home.filter(one => !(work.home || []).includes(one.record)).flatMap(one => one.changed);
    if (refusal) refusal.remove();
    part.classList.toggle("refused", Boolean(changed.length || gone.length));
    if (gone.length && !changed.length)
      part.append(make("p", { class: "refusal" }, say("Refused: what was handed in from this phone changed the layout ({what}), and this page was made without it. Ask the planner for the newer page.", { what: gone.join(", ") })));
    if (changed.length)
      part.append(make("p", { class: "refusal" }, say("Refused: entries on this phone changed the layout ({what}), and this was worked out without them. Export them and hand them in: the planner works it out anew.", { what: changed.join(", ") })));
  }

  function drawOneStep() {
    var toggle = document.querySelector(".list-or-one button");
    toggle.textContent = isStepping ? say("Whole list") : say("One step at a time");
    document.body.classList.toggle("one-step", isStepping);
    var index = steps.findIndex(step => step.dataset.key === at);
    var bar = document.querySelector(".stepping-bar");
    bar.firstChild.textContent = say("Step before");
    bar.lastChild.textContent = say("Next step");
    bar.firstChild.disabled = index <= 0;
    bar.lastChild.disabled = index === steps.length - 1;
    var start = document.querySelector(".go");
    var done = steps.filter(step => mine("step", step.dataset.key)).length;
    if (start && done) {
      var open = firstOpen();
      start.href = "#" + open.id;
      start.querySelector("strong").textContent = done === steps.length ? say("All steps are ticked") : say("Go on with step {number}", { number: numberOf(open) });
      start.querySelector("strong + span").textContent = titleOf(open);
      start.querySelector(".go-count").textContent = say("{done} of {all} steps ticked", { done: done, all: steps.length });
    }
  }

  /* A link to a step makes it the step at work. */
  function led() {
    var target = location.hash && document.getElementById(location.hash.slice(1));
    if (target && target.dataset.key) at = target.dataset.key;
  }
  addEventListener("hashchange", () => {
    led();
    if (isStepping) {
      draw();
      show();
    }
  });
  function step(wish) {
    isStepping = wish;
    if (!at) led();
    at = at || firstOpen().dataset.key;
    stayAwake();
    draw();
    show();
  }
  function go(by) {
    var index = steps.findIndex(one => one.dataset.key === at) + by;
    at = steps[Math.max(0, Math.min(steps.length - 1, index))].dataset.key;
    draw();
    show();
  }
  /* Put the drawing where it is needed: above a step that speaks of a row while stepping, else on top of the page. */
  function place(step) {
    var home = document.querySelector("#layout .sheet");
    var drawing = drawings('[data-side="working"]')[0];
    var isRow = Boolean(drawing && isStepping && step && step.dataset.row);
    showRow(isStepping ? step : null);
    tellInFull(isStepping ? step : null);
    if (isRow) step.querySelector(".step-body").before(drawing);
    else if (drawing && drawing.parentNode !== home) home.append(drawing);
    if (drawing) crop(drawing, isRow && drawing.querySelector(".row.now"));
  }
  /* A step that is seen alone tells its cautions in full: those told in a line are put there whole. */
  function tellInFull(alone) {
    document.querySelectorAll(".safety.again").forEach(full => full.remove());
    document.querySelectorAll(".step > .told").forEach(line => {
      line.hidden = line.parentNode === alone;
      if (!line.hidden) return;
      var full = document.getElementById(line.hash.slice(1)).cloneNode(true);
      full.removeAttribute("id");
      full.classList.add("again");
      line.before(full);
    });
  }
  function show() {
    place(byKey.get(at));
    (isStepping ? document.getElementById("steps") : byKey.get(at)).scrollIntoView();
  }
  /* Paper shows the plan and blank boxes, whatever was entered here. */
  addEventListener("beforeprint", () => {
    isPrinting = true;
    var wish = isStepping;
    isStepping = false;
    place(null);
    isStepping = wish;
    drawings(" .row").forEach(row => row.classList.remove("done"));
    drawMeasured();
  });
  addEventListener("afterprint", () => {
    isPrinting = false;
    draw();
    if (isStepping) place(byKey.get(at));
  });
  function crop(drawing, row) {
    var whole = (drawing.dataset.whole = drawing.dataset.whole || drawing.getAttribute("viewBox"));
    var box = whole.split(" ");
    if (row) {
      var seen = row.getBBox();
      box[1] = seen.y - 12;
      box[3] = seen.height + 24;
    }
    drawing.setAttribute("viewBox", box.join(" "));
  }

  function drawKept() {
    var bar = document.getElementById("kept");
    var waiting = waitingOf(work.work) + otherWorks().reduce((sum, digest) => sum + waitingOf(digest), 0);
    var own = entries.filter(entry => entry.what !== "export");
    var latest = own[own.length - 1];
    bar.hidden = !own.length && !trouble;
    bar.classList.toggle("trouble", Boolean(trouble));
    bar.textContent =
      trouble ||
      (waiting ? say("Entries not yet exported: {count}", { count: waiting }) : say("Every entry is exported")) +
        (latest ? " · " + say("kept {time}", { time: latest.at.slice(11, 19) }) : "");
    document.body.classList.toggle("has-kept", !bar.hidden);
    document.getElementById("held").textContent = !own.length
      ? ""
      : waiting
        ? say("Entries here: {count}, not yet exported: {waiting}", { count: own.length, waiting: waiting })
        : say("Entries here: {count}, all exported", { count: own.length });
  }

  function drawEntered() {
    var part = document.getElementById("entered");
    var me = person();
    var own = ofWork(work.work).filter(entry => entry.what !== "export");
    var done = steps.filter(step => mine("step", step.dataset.key)).length;
    var side = mine("side", "side");
    var note = mine("note", "note");
    var made = [make("h2", {}, say("Record"))];
    function line(text, press, label) {
      made.push(make("p", { class: "entered-line" }, [make("span", {}, text), button(label, press)]));
    }
    if (unkept.length)
      made.push(make("div", { class: "trouble" }, [
        make("p", {}, trouble),
        make("p", {}, say("Entries only on this screen: {count}. They go into an export.", { count: unkept.length })),
        button(say("Try to keep them again"), tryAgain),
      ]));
    made.push(make("p", { class: "hint" }, [
      say("{done} of {all} steps ticked. Entries on this phone: {count}.", { done: done, all: steps.length, count: own.length })
    ]));
    line(me ? say("Entered by {name}", { name: me.name + (me.role ? ", " + me.role : "") }) : say("Nobody has said who enters here."), () => { askPerson(); }, me ? say("Change") : say("Name"));
    line(device.name ? say("This phone: {name}", { name: device.name }) : say("This phone has no name."), () => {
      ask({
        title: say("What is this phone called?"),
        fields: [put("text", "name", say("Name"), device.name)],
        done: values => {
          device.name = values.name;
          saveDevice();
          draw();
          return "";
        },
      });
    }, say("Name"));
    line(side ? say("Worked from {side}, not as planned: {reason}", { side: side.data.side, reason: side.data.reason }) : say("Worked from {side}, as planned.", { side: work.sides[0] }), askSide, say("Change"));
    line(note ? note.data.note : say("No note on this transit."), () => { askNote("note", "note", {}, say("Note on this transit")); }, say("Write"));
    line(say("Photos: {count}", { count: all("photo").length }), () => { takePhoto(); }, say("Take"));
    var places = all("place");
    if (places.length)
      made.push(make("ul", { class: "entries" }, places.map(entry => {
        return taker("place", entry, say("Place {place}", { place: entry.data.position }) + ": " + entry.data.role + " " + (entry.data.cable || "") + " · " + entry.data.reason);
      })));
    otherWorks().forEach(digest => {
      var older = ofWork(digest).filter(entry => entry.what !== "export");
      if (!older.length) return;
      var revision = older[older.length - 1].revision;
      made.push(make("div", { class: "older" }, [
        make("p", {}, revision
          ? say("Entries made on revision {revision}, whose work was another: {count}. They are kept, and go out as a record of their own.", { count: older.length, revision: revision })
          : say("Entries made on other work, before this revision was issued: {count}. They are kept, and go out as a record of their own.", { count: older.length })),
        make("div", { class: "entry-buttons" }, [
          button(say("Export them"), () => { askExport(digest); }),
          exportedOf(digest) && !waitingOf(digest) ? button(say("Handed in"), () => { askForget(digest); }) : null,
        ]),
      ]));
    });
    if (own.length || unkept.length) {
      made.push(button(waitingOf(work.work) + unkept.length ? say("Export the record") : say("Export the record again"), () => { askExport(work.work); }, "keep"));
      if (exported)
        made.push(make("p", { class: "entered-line" }, [
          make("span", {}, waitingOf(work.work) ? say("Exported, and more was entered since.") : say("Exported. It stays on this phone until you say that it was handed in.")),
          waitingOf(work.work) ? null : button(say("Handed in"), () => { askForget(work.work); }),
        ]));
    }
    part.replaceChildren.apply(part, made);
  }

  /* -- the screen stays on while somebody works */

  var lock = null;
  function stayAwake() {
    if (lock || !navigator.wakeLock || document.visibilityState !== "visible") return;
    lock = true;
    navigator.wakeLock.request("screen").then(
      given => {
        lock = given;
        given.addEventListener("release", () => { lock = null; });
      },
      () => { lock = null; }
    );
  }

  var ready = wallwork.ready = seen().then(setUp).then(store.device).then(
    found => {
      device = found;
      if (!found.people.length && !found.name) saveDevice(); // its id is made once
    },
    () => { /* look() says that nothing is kept here */ }
  ).then(look).then(() => { isReady = true; });
  store.heard((job, transit) => {
    if (job === work.job && transit === work.transit) look();
  });
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState !== "visible") return;
    if (entries.length) stayAwake();
    look();
  });
})();
