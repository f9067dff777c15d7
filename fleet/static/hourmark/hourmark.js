// Small comforts. Every page works without this file.
(function () {
  "use strict";

  // The menu closes on Escape and on a tap beside it.
  document.addEventListener("keydown", function (event) {
    if (event.key !== "Escape") return;
    document.querySelectorAll("details[data-menu][open]").forEach(function (menu) {
      menu.open = false;
      menu.querySelector("summary").focus();
    });
  });
  document.addEventListener("click", function (event) {
    document.querySelectorAll("details[data-menu][open]").forEach(function (menu) {
      if (!menu.contains(event.target)) menu.open = false;
    });
  });

  // A form sends once, however often a greasy thumb taps.
  document.addEventListener("submit", function (event) {
    var form = event.target;
    if (!form.matches("form[data-once]") || event.defaultPrevented) return;
    if (form.dataset.sent) { event.preventDefault(); return; }
    form.dataset.sent = "yes";
    form.querySelectorAll("button:not([type=button])").forEach(function (button) {
      button.setAttribute("aria-disabled", "true");
    });
  });
  // Coming back with the browser's Back button finds a form that can be sent again.
  window.addEventListener("pageshow", function () {
    document.querySelectorAll("form[data-once]").forEach(function (form) {
      delete form.dataset.sent;
      form.querySelectorAll("[aria-disabled]").forEach(function (button) {
        button.removeAttribute("aria-disabled");
      });
    });
  });

  // What is wrong is read first.
  var wrong = document.querySelector("[data-focus]");
  if (wrong) wrong.focus();

  // Scrolling past a number must not change it.
  document.addEventListener("wheel", function (event) {
    if (event.target.type === "number" && event.target === document.activeElement) event.target.blur();
  }, { passive: true });

  // What an address names may lie in something folded; not every browser opens it.
  function unfold() {
    var named = document.getElementById(location.hash.slice(1));
    var folded = named && named.closest("details:not([open])");
    if (!folded) return;
    for (; folded; folded = folded.closest("details:not([open])")) folded.open = true;
    named.scrollIntoView();
  }
  window.addEventListener("hashchange", unfold);
  unfold();

  // Paper can't be unfolded.
  var unfolded = [];
  window.addEventListener("beforeprint", function () {
    unfolded = Array.from(document.querySelectorAll("main details:not([open])"));
    unfolded.forEach(function (each) { each.open = true; });
  });
  window.addEventListener("afterprint", function () {
    unfolded.forEach(function (each) { each.open = false; });
    unfolded = [];
  });

  document.querySelectorAll("[data-print]").forEach(function (button) {
    button.hidden = false;
    button.addEventListener("click", function () { window.print(); });
  });
})();
