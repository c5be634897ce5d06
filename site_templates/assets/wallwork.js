// What scripts say, the language that was chosen, day and night by hand, and what is folded opens when a link
// leads into it. Without this the page is whole.
"use strict";
/* Messages of scripts are their own English; words.<language>.js, loaded before, has the others. A missing one is
   English. say("{n} of {m}", {n: 1, m: 2}) puts values in. The result is text, never markup. */
var wallwork = {
  say: function (text, values) {
    var words = window.wallworkWords || {};
    var found = Object.prototype.hasOwnProperty.call(words, text) ? words[text] : text;
    return found.replace(/\{(\w+)\}/g, function (whole, name) {
      return values && name in values ? String(values[name]) : whole;
    });
  }
};
(function () {
  // The language the crew chose holds on every page that has it. Before anything is drawn, so that nothing jumps.
  var key = "wallwork-language";
  var chosen = null;
  try { chosen = localStorage.getItem(key); } catch (error) { /* private windows forget */ }
  if (chosen && chosen !== document.documentElement.lang) {
    document.querySelectorAll("link[rel=alternate][hreflang]").forEach(function (other) {
      if (other.hreflang === chosen) location.replace(other.href + location.hash);
    });
  }
  document.addEventListener("click", function (event) {
    var link = event.target.closest && event.target.closest("a[hreflang]");
    if (!link) return;
    try { localStorage.setItem(key, link.hreflang); } catch (error) { /* then it holds for this page */ }
    event.preventDefault();
    location.assign(link.href + location.hash);
  });
})();
(function () {
  var root = document.documentElement;
  var key = "wallwork-scheme";
  function kept() {
    try { return localStorage.getItem(key); } catch (error) { return null; }
  }
  if (kept() === "day" || kept() === "night") root.setAttribute("data-scheme", kept());
  function isNight() {
    var chosen = root.getAttribute("data-scheme");
    return chosen ? chosen === "night" : matchMedia("(prefers-color-scheme: dark)").matches;
  }
  document.addEventListener("DOMContentLoaded", function () {
    var button = document.getElementById("scheme");
    if (!button) return;
    function word() { button.textContent = button.getAttribute(isNight() ? "data-day" : "data-night"); }
    button.addEventListener("click", function () {
      var chosen = isNight() ? "day" : "night";
      root.setAttribute("data-scheme", chosen);
      try { localStorage.setItem(key, chosen); } catch (error) { /* private windows forget */ }
      word();
    });
    word();
    button.hidden = false;
  });
  function unfold() {
    var target = location.hash && document.getElementById(location.hash.slice(1));
    var folded = target && target.closest("details");
    if (folded && !folded.open) {
      folded.open = true;
      target.scrollIntoView();
    }
  }
  addEventListener("hashchange", unfold);
  document.addEventListener("DOMContentLoaded", unfold);
  // On paper everything is open; older browsers need telling.
  addEventListener("beforeprint", function () {
    document.querySelectorAll("details:not([open])").forEach(function (details) {
      details.setAttribute("data-closed", "");
      details.open = true;
    });
  });
  addEventListener("afterprint", function () {
    document.querySelectorAll("details[data-closed]").forEach(function (details) {
      details.removeAttribute("data-closed");
      details.open = false;
    });
  });
})();
