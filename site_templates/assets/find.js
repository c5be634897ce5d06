/* The finder. A classic script without requests, so that it works from a disk as well.
   Everything found is put on the page as text, never as markup. */
(function () {
  "use strict";

  var SHOWN = 60;
  var data = window.wallworkFind;
  var form = document.querySelector("form.finder");
  if (!data || !form) {
    return;
  }
  var box = form.querySelector("input");
  var tally = form.querySelector(".tally");
  var list = form.querySelector(".found");

  /* How a tag is compared: case, hyphens, spaces, points, slashes and underscores do not matter. */
  function plain(text) {
    return text.normalize("NFKC").toLowerCase().replace(/[\s\-‐‑–_./]+/g, "");
  }

  /* A tag of nothing but such signs is compared as it is. */
  function key(text) {
    return plain(text) || text.toLowerCase();
  }

  var entries = data.transits
    .map(function (transit) {
      return { keys: [key(transit[0]), key(transit[1])], transits: [transit], cable: null };
    })
    .concat(
      data.cables.map(function (cable) {
        var passed = cable[1].map(function (number) {
          return data.transits[number];
        });
        return { keys: [key(cable[0])], transits: passed, cable: cable };
      })
    );

  /* 0 the whole tag, 1 its beginning, 2 somewhere in it, 3 not at all. */
  function rank(entry, wanted) {
    var best = 3;
    entry.keys.forEach(function (candidate) {
      var at = candidate ? candidate.indexOf(wanted) : -1;
      if (at === 0) {
        best = Math.min(best, candidate.length === wanted.length ? 0 : 1);
      } else if (at > 0) {
        best = Math.min(best, 2);
      }
    });
    return best;
  }

  function search(text) {
    var wanted = key(text.trim());
    var ranks = [[], [], []];
    if (wanted) {
      entries.forEach(function (entry) {
        var place = rank(entry, wanted);
        if (place < 3) {
          ranks[place].push(entry);
        }
      });
    }
    return ranks[0].concat(ranks[1], ranks[2]);
  }

  function element(name, className, text) {
    var made = document.createElement(name);
    if (className) {
      made.className = className;
    }
    if (text) {
      made.textContent = text;
    }
    return made;
  }

  function worded(name, values) {
    return form.getAttribute("data-" + name).replace(/\{(\w+)\}/g, function (whole, word) {
      return word in values ? values[word] : whole;
    });
  }

  function transitLink(transit) {
    var link = element("a", "hit");
    link.href = form.getAttribute("data-root") + "T/" + encodeURIComponent(transit[0]) + "/index.html";
    link.appendChild(element("b", "ident", transit[0]));
    link.appendChild(
      element(
        "span",
        "",
        (transit[1] ? transit[1] + " · " : "") + worded("wall", { wall: transit[2] }) + " · " + transit[3] + " / " + transit[4]
      )
    );
    return link;
  }

  function line(entry) {
    var item = element("li", entry.cable ? "of-cable" : "of-transit");
    if (entry.cable) {
      var head = element("p", "found-tag");
      head.appendChild(element("b", "", entry.cable[0]));
      if (entry.cable[2]) {
        head.appendChild(element("span", "", worded("assumed", {})));
      }
      item.appendChild(head);
      if (!entry.transits.length) {
        item.appendChild(element("p", "", worded("no-transit", {})));
      }
    }
    entry.transits.forEach(function (transit) {
      item.appendChild(transitLink(transit));
    });
    return item;
  }

  function show() {
    var asked = box.value.trim();
    var found = search(box.value);
    var lines = document.createDocumentFragment();
    found.slice(0, SHOWN).forEach(function (entry) {
      lines.appendChild(line(entry));
    });
    list.replaceChildren(lines);
    if (!asked) {
      tally.textContent = "";
    } else if (!found.length) {
      tally.textContent = worded("none", {});
    } else {
      tally.textContent = worded(found.length > SHOWN ? "more" : "found", { number: found.length, shown: SHOWN });
    }
  }

  form.hidden = false;
  box.addEventListener("input", show);
  form.addEventListener("submit", function (event) {
    event.preventDefault();
    var first = list.querySelector("a");
    if (first) {
      first.focus();
    }
  });
  if (box.value) {
    show(); // a browser may bring back what was typed before
  }
})();
