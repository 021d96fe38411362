/* The formula desk while it is typed: the fields stay as they are and only figures change; lines are dragged.
   Everything here is a comfort: the buttons do the same without it. */
(function () {
  "use strict";

  var desk = document.getElementById("desk");
  if (!desk) { return; }

  function form() { return document.getElementById("desk-form"); }

  /* -- What stands in the fields, what is folded open, where the keyboard is ---------------------- */

  function fields() {
    return Array.prototype.filter.call(form() ? form().elements : [], function (field) {
      return field.name && field.type !== "hidden" && field.tagName !== "BUTTON" && field.tagName !== "FIELDSET";
    });
  }
  function standing() {
    var values = {};
    fields().forEach(function (field) { values[field.name] = field.type === "checkbox" ? field.checked : field.value; });
    return values;
  }
  function put(before, then) {
    fields().forEach(function (field) {
      if (!(field.name in then) || before[field.name] === then[field.name]) { return; }
      if (field.type === "checkbox") { field.checked = then[field.name]; } else { field.value = then[field.name]; }
    });
  }
  function opened() {
    return Array.prototype.map.call(desk.querySelectorAll("details[id][open]"), function (fold) { return fold.id; });
  }
  function unfold(node) {
    for (var fold = node.closest("details"); fold; fold = fold.parentElement.closest("details")) { fold.open = true; }
  }

  var sent = {};
  var kept = null;
  desk.addEventListener("htmx:configRequest", function () { sent = standing(); });

  /* -- An answer to typing changes figures alone where the fields are the same ----------------------- */

  desk.addEventListener("htmx:beforeSwap", function (event) {
    if (event.detail.target !== desk || !form()) { return; }
    var live = event.detail.requestConfig.elt === form();
    var fresh = new DOMParser().parseFromString(event.detail.serverResponse, "text/html");
    var other = fresh.getElementById("desk-form");
    if (live && other && other.dataset.shape === form().dataset.shape) {
      event.detail.shouldSwap = false;
      figures(fresh);
      return;
    }
    var active = document.activeElement;
    kept = { live: live, then: standing(), open: opened(), at: active && desk.contains(active) ? active.id : "" };
  });

  function figures(fresh) {
    fresh.querySelectorAll("[data-live]").forEach(function (node) {
      var old = document.getElementById(node.id);
      if (!old) { return; }
      var open = opened();
      var into = document.importNode(node, true);
      into.removeAttribute("hx-swap-oob");
      old.replaceWith(into);
      if (window.htmx) { window.htmx.process(into); }
      open.forEach(function (id) { if (document.getElementById(id)) { document.getElementById(id).open = true; } });
    });
    fresh.querySelectorAll("[data-live-class]").forEach(function (node) {
      var old = document.getElementById(node.id);
      if (old) { old.className = node.className; }
    });
  }

  desk.addEventListener("htmx:afterSwap", function (event) {
    if (event.detail.target !== desk || !kept) { return; }
    kept.open.forEach(function (id) { if (document.getElementById(id)) { document.getElementById(id).open = true; } });
    if (kept.live) { put(sent, kept.then); }
    var wanted = desk.querySelector("[autofocus]") || (kept.at && document.getElementById(kept.at));
    if (wanted) {
      unfold(wanted);
      wanted.focus({ preventScroll: true });
    }
    kept = null;
  });

  /* -- A line is dragged by its number ------------------------------------------------------------------ */

  var held = null;

  function rowAt(x, y) {
    var node = document.elementFromPoint(x, y);
    return node && node.closest("#desk-table tbody tr");
  }
  function mark(row, below) {
    desk.querySelectorAll(".drop-above, .drop-below").forEach(function (one) {
      one.classList.remove("drop-above", "drop-below");
    });
    if (row) { row.classList.add(below ? "drop-below" : "drop-above"); }
  }
  function letGo() {
    mark(null);
    if (held) { held.row.classList.remove("held"); }
    held = null;
  }

  desk.addEventListener("pointerdown", function (event) {
    var grip = event.target.closest("[data-drag]");
    if (!grip || event.button !== 0) { return; }
    held = { row: grip.closest("tr"), grip: grip, to: null };
    held.row.classList.add("held");
    grip.setPointerCapture(event.pointerId);
    event.preventDefault();
  });
  desk.addEventListener("pointermove", function (event) {
    if (!held) { return; }
    var row = rowAt(event.clientX, event.clientY);
    if (!row) { return; }
    var box = row.getBoundingClientRect();
    var below = row.classList.contains("phase") || event.clientY > box.top + box.height / 2;
    held.to = { row: row, below: below };
    mark(row, below);
  });
  desk.addEventListener("pointerup", function () {
    if (!held) { return; }
    var from = held.row, to = held.to;
    letGo();
    if (!to || to.row === from) { return; }
    var body = to.row.closest("tbody");
    var rows = Array.prototype.filter.call(body.querySelectorAll("tr[data-row]"), function (one) { return one !== from; });
    var place = to.row.classList.contains("phase") ? 0 : rows.indexOf(to.row) + (to.below ? 1 : 0);
    var button = document.getElementById("desk-move");
    button.value = "move:" + from.dataset.row + ":" + body.dataset.phase + ":" + place;
    button.click();
  });
  desk.addEventListener("pointercancel", letGo);
  document.addEventListener("keydown", function (event) { if (event.key === "Escape") { letGo(); } });
})();
