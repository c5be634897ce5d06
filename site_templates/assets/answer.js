// What the worker answers in the place of a page that is not kept: the fragment says what was asked for.
"use strict";
document.addEventListener("DOMContentLoaded", function () {
  var asked = "";
  try { asked = decodeURIComponent(location.hash.slice(1)); } catch (error) { /* not of the worker's making */ }
  var parts = /newer(\.[\w-]+)?\.html$/.test(location.pathname) ? asked.split("/") : null;
  var root = new URL("../", location.href);
  function write(selector, text) {
    document.querySelectorAll(selector).forEach(function (place) { place.textContent = text; });
  }
  if (!asked) return;
  var again = document.getElementById("again");
  if (parts) {
    write("#asked", parts[0]);
    write("#label-revision, .label-revision", parts[1] || "?");
    write(".phone-revision", parts[2] || wallwork.say("not issued"));
    again.href = new URL("T/" + parts.slice(0, 2).map(encodeURIComponent).join("/"), root);
    document.getElementById("kept").href = new URL("T/" + encodeURIComponent(parts[0]) + "/index.html", root);
  } else {
    var names = /^[TW]\/([^/]+)/.exec(asked);
    if (names) write("#asked", names[1]);
    again.href = new URL(asked.split("/").map(encodeURIComponent).join("/"), root);
  }
});
