/* A colour may be picked beside the field in which it is typed. Without script it is only typed. */
(function () {
  "use strict";

  function addPicker(text) {
    var picker = document.createElement("input");
    picker.type = "color";
    picker.className = "colour-pick";
    picker.value = "#b9b2a3";
    picker.setAttribute("aria-label", "Pick the " + text.name);
    // A picker always holds a colour, and its own first one is black: until one is chosen it is pale and says so.
    function follow() {
      var chosen = /^#[0-9a-f]{6}$/i.test(text.value);
      picker.classList.toggle("none-yet", !chosen);
      picker.title = chosen ? "" : "none chosen yet";
      if (chosen) picker.value = text.value.toLowerCase();
    }
    picker.addEventListener("input", function () { text.value = picker.value; follow(); });
    text.addEventListener("input", follow);
    follow();
    text.after(picker);
  }

  document.addEventListener("DOMContentLoaded", function () {
    document.querySelectorAll("input[data-colour]").forEach(addPicker);
  });
})();
