/* Small comforts on top of pages that work without them. No page needs this file. */
(function () {
  "use strict";

  /* Print buttons show only where they work. */
  document.querySelectorAll("[data-print]").forEach(function (button) {
    button.hidden = false;
    button.addEventListener("click", function () { window.print(); });
  });

  /* A filter is sent when a choice changes; the button stays for the text fields. */
  document.addEventListener("change", function (event) {
    var form = event.target.closest && event.target.closest("form[data-autosubmit]");
    if (form && event.target.name && event.target.matches("select, input[type=checkbox], input[type=radio]")) {
      form.requestSubmit();
    }
  });

  /* A double tap sends a form once; the server would take it as one anyway. */
  document.addEventListener("submit", function (event) {
    var form = event.target;
    if (event.defaultPrevented || form.method !== "post") { return; }
    if (form.dataset.sent) { event.preventDefault(); event.stopPropagation(); return; }
    form.dataset.sent = "yes";
    window.setTimeout(function () { delete form.dataset.sent; }, 1500);
  }, true);
  window.addEventListener("pageshow", function () {
    document.querySelectorAll("form[data-sent]").forEach(function (form) { delete form.dataset.sent; });
  });

  /* Places on a phone without popover: the button shows and hides them. */
  var open = document.querySelector(".mast-open");
  var places = document.getElementById("places");
  if (open && places && !("popover" in HTMLElement.prototype)) {
    places.hidden = window.innerWidth < 1024;
    open.addEventListener("click", function () {
      places.hidden = !places.hidden;
      open.setAttribute("aria-expanded", String(!places.hidden));
    });
  }

  /* What htmx could not send or get is said, and stays until it works again. */
  var notice = document.getElementById("net-notice");
  function clock() {
    var now = new Date();
    return String(now.getHours()).padStart(2, "0") + ":" + String(now.getMinutes()).padStart(2, "0");
  }
  function say(text) {
    if (!notice) { return; }
    if (notice.hidden) { notice.querySelector("p").textContent = text; }
    notice.hidden = false;
  }
  document.addEventListener("htmx:sendError", function () {
    say("No network since " + clock() + ". What you typed is still here; send it again when the network is back.");
  });
  document.addEventListener("htmx:responseError", function (event) {
    var status = event.detail.xhr ? event.detail.xhr.status : 0;
    if (status === 403) {
      say("This page lay open too long, or your role is to read. Nothing was written. Load the page again.");
    } else {
      say("The workshop's machine answered with a fault at " + clock() + ". Look at the record before you send it again.");
    }
  });
  document.addEventListener("htmx:afterRequest", function (event) {
    if (notice && event.detail.successful) { notice.hidden = true; }
  });
  window.addEventListener("online", function () { if (notice) { notice.hidden = true; } });
})();
