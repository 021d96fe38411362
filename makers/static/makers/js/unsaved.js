/* Asks before a page is left whose form holds what is not saved. The form's own buttons never ask: they save,
   work out again, or lead on only when nothing would be lost. Without it those buttons do the same. */
(function () {
  "use strict";

  var sending = false;

  function form() { return document.querySelector("form[data-asks-before-leaving]"); }
  function kept(field) { return /^(line-\d+-|ph_)/.test(field.name || ""); }
  function changed(field) {
    if (field.type === "checkbox") { return field.checked !== field.defaultChecked; }
    if (field.tagName === "SELECT") {
      return Array.prototype.some.call(field.options, function (one) { return one.selected !== one.defaultSelected; });
    }
    return field.value !== field.defaultValue;
  }
  function unsaved() {
    var at = form();
    if (!at) { return false; }
    return "unsaved" in at.dataset || Array.prototype.some.call(at.elements, function (field) { return kept(field) && changed(field); });
  }

  document.addEventListener("submit", function (event) {
    if (event.target === form() && !event.defaultPrevented) { sending = true; }
  });
  window.addEventListener("pageshow", function () { sending = false; });
  window.addEventListener("beforeunload", function (event) {
    if (sending || !unsaved()) { return; }
    event.preventDefault();
    event.returnValue = ""; /* what browsers before 2023 ask for */
  });
})();
