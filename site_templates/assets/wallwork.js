// Day and night by hand, and what is folded opens when a link leads into it. Without this the page is whole.
"use strict";
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
