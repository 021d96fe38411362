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
  /* Puts back what was typed while the answer was on its way; true where there was something. */
  function put(before, then, place) {
    var found = false;
    Object.keys(then).forEach(function (name) {
      var field = before[name] === then[name] ? null : form().elements[place(name)];
      if (!field || field.tagName === undefined) { return; }
      if (field.type === "checkbox") { field.checked = then[name]; } else { field.value = then[name]; }
      found = true;
    });
    return found;
  }
  /* Each line's number by all that stands in it but its phase; -1 where two lines are the same. */
  function lines(values) {
    var told = {}, numbers = {};
    Object.keys(values).sort().forEach(function (name) {
      var part = /^line-(\d+)-(.+)$/.exec(name);
      if (part && part[2] !== "phase") { told[part[1]] = (told[part[1]] || "") + part[2] + "=" + values[name] + "\n"; }
    });
    Object.keys(told).forEach(function (at) { numbers[told[at]] = told[at] in numbers ? -1 : Number(at); });
    return { told: told, numbers: numbers };
  }
  /* Where a field went: a line that was moved, or stood below one taken out, carries another number. */
  function places(before, now) {
    var old = lines(before), fresh = lines(now);
    return function (name) {
      var part = /^((?:id_)?line-)(\d+)(-.+)$/.exec(name);
      if (!part) { return name; }
      var at = old.numbers[old.told[part[2]]] === Number(part[2]) ? fresh.numbers[old.told[part[2]]] : -1;
      return at >= 0 ? part[1] + at + part[3] : "";
    };
  }
  function same(name) { return name; }
  function opened() {
    return Array.prototype.map.call(desk.querySelectorAll("details[id][open]"), function (fold) { return fold.id; });
  }
  function unfold(node) {
    for (var fold = node.closest("details"); fold; fold = fold.parentElement.closest("details")) { fold.open = true; }
  }

  var SETTLED_MS = 40;     /* by then htmx knows the buttons of an answer */
  var PATIENCE_MS = 10000; /* longer than that no button waits for another's answer */
  var sent = {};
  var kept = null;

  /* -- A button comes first: typing asks for figures by a request of its own, which gives way -------- */

  var pressed = false; /* a button was pressed after the last change, so its answer holds the figures */
  var busy = null;     /* the request of a button, until its answer stands */
  var waiting = "";    /* the button that was pressed meanwhile */

  function follows(node) { return node.id === "desk-live"; }
  function answered(request) {
    if (busy !== request) { return; }
    var button = waiting && document.getElementById(waiting);
    busy = null;
    waiting = "";
    if (button && request.status === 200 && !desk.querySelector("[aria-invalid=true]")) { button.click(); }
  }

  desk.addEventListener("change", function () { pressed = false; }, true);
  document.addEventListener("click", function (event) {
    var button = event.target.closest("#desk-form button[name=do], button[form=desk-form]");
    if (!button) { return; }
    pressed = true;
    if (!busy) { return; }
    event.preventDefault();
    event.stopPropagation();
    if (!button.closest(".line-acts") && button.id !== "desk-move") { waiting = button.id; }
  }, true);
  desk.addEventListener("htmx:confirm", function (event) {
    if (follows(event.detail.elt) && (pressed || busy)) { event.preventDefault(); }
  });
  desk.addEventListener("htmx:configRequest", function () { sent = standing(); });
  desk.addEventListener("htmx:beforeSend", function (event) {
    var request = event.detail.xhr;
    if (follows(event.detail.requestConfig.elt)) { return; }
    busy = request;
    request.addEventListener("loadend", function () { window.setTimeout(answered, SETTLED_MS, request); });
    window.setTimeout(answered, PATIENCE_MS, request);
  });
  window.addEventListener("pageshow", function () { pressed = false; busy = null; waiting = ""; });

  /* -- An answer to typing changes figures alone where the fields are the same ----------------------- */

  desk.addEventListener("htmx:beforeSwap", function (event) {
    if (event.detail.target !== desk || !form()) { return; }
    var live = follows(event.detail.requestConfig.elt);
    var fresh = new DOMParser().parseFromString(event.detail.serverResponse, "text/html");
    var other = fresh.getElementById("desk-form");
    if (live && other && other.dataset.shape === form().dataset.shape) {
      event.detail.shouldSwap = false;
      figures(fresh);
      return;
    }
    var active = document.activeElement;
    var caret = active && active.form === form() && typeof active.selectionStart === "number";
    kept = {
      then: standing(),
      moved: !live && /^(up|down|out|move):/.test(event.detail.requestConfig.parameters.do),
      open: opened(),
      at: active && desk.contains(active) ? active.id : "",
      caret: caret ? [active.selectionStart, active.selectionEnd] : null
    };
  });

  function figures(fresh) {
    form().toggleAttribute("data-unsaved", fresh.getElementById("desk-form").hasAttribute("data-unsaved"));
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
    fresh.querySelectorAll("#desk-table input.pct").forEach(function (node) {
      var old = document.getElementById(node.id);
      ["aria-invalid", "aria-describedby"].forEach(function (name) {
        if (!old) { return; }
        if (node.hasAttribute(name)) { old.setAttribute(name, node.getAttribute(name)); } else { old.removeAttribute(name); }
      });
    });
  }

  desk.addEventListener("htmx:afterSwap", function (event) {
    if (event.detail.target !== desk || !kept || !form()) { return; }
    kept.open.forEach(function (id) { if (document.getElementById(id)) { document.getElementById(id).open = true; } });
    var place = kept.moved ? places(sent, standing()) : same;
    if (put(sent, kept.then, place)) {
      window.setTimeout(function () { form().dispatchEvent(new Event("change", { bubbles: true })); }, SETTLED_MS);
    }
    var typed = kept.caret && document.getElementById(place(kept.at));
    var offered = desk.querySelector("[autofocus]");
    if (typed && offered) { offered.removeAttribute("autofocus"); } /* htmx would go there a moment later */
    var wanted = typed || offered || (kept.at && document.getElementById(kept.at));
    if (wanted) {
      unfold(wanted);
      wanted.focus({ preventScroll: true });
      if (typed) { typed.setSelectionRange(kept.caret[0], kept.caret[1]); }
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
