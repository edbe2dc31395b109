/* Winding from the phone: the screen stays on where the browser lets it, and the button keeps the thumb's place. */
(function () {
  "use strict";

  var note = document.getElementById("awake");
  var lock = null;

  function say(kind) {
    if (!note) return;
    note.hidden = false;
    note.textContent = note.dataset[kind];
  }

  function stayAwake() {
    if (document.visibilityState !== "visible" || lock) return;
    if (!("wakeLock" in navigator)) {
      say("off");
      return;
    }
    navigator.wakeLock.request("screen").then(function (held) {
      lock = held;
      say("on");
      // The browser lets go by itself when the page is out of sight; it is asked anew when it is back.
      held.addEventListener("release", function () { lock = null; });
    }, function () { say("off"); });
  }

  document.addEventListener("visibilitychange", stayAwake);
  stayAwake();

  // After a swap the focus is on nothing: give it back to the button, for keys and for ears.
  document.addEventListener("htmx:afterSwap", function (event) {
    if (event.detail.target.id !== "step") return;
    var next = document.querySelector("#step .step-next");
    if (next) next.focus({ preventScroll: true });
  });
})();
