/* What the pages need beyond htmx. Nothing is reckoned here: every figure comes from the server. */
(function () {
  "use strict";

  document.documentElement.classList.add("has-script");

  // A failed request must not pass unseen. The sentences stand in the page, so that they are translated and read
  // in one place.
  function say(kind) {
    var list = document.getElementById("messages");
    if (!list) return;
    var item = document.createElement("li");
    item.className = "error";
    item.textContent = list.dataset[kind];
    list.replaceChildren(item);
  }

  document.addEventListener("htmx:sendError", function () { say("unreachable"); });
  document.addEventListener("htmx:timeout", function () { say("unreachable"); });
  document.addEventListener("htmx:responseError", function (event) {
    var status = event.detail.xhr.status;
    say(status === 403 ? "refused" : status === 404 ? "gone" : "failed");
  });

  document.addEventListener("click", function (event) {
    if (event.target.closest("[data-print]")) window.print();
  });

  // After a refused form, the way on begins at the summary of what stands in its way.
  function toErrors(root) {
    var summary = root.querySelector && root.querySelector("[data-form-errors]");
    if (summary) summary.focus();
  }
  document.addEventListener("DOMContentLoaded", function () { toErrors(document); });
})();
