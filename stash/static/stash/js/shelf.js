/* A colour may be picked beside the field in which it is typed. Without script it is only typed. */
(function () {
  "use strict";

  function addPicker(text) {
    var picker = document.createElement("input");
    picker.type = "color";
    picker.className = "colour-pick";
    picker.setAttribute("aria-label", "Pick the " + text.name);
    function follow() {
      if (/^#[0-9a-f]{6}$/i.test(text.value)) picker.value = text.value.toLowerCase();
    }
    picker.addEventListener("input", function () { text.value = picker.value; });
    text.addEventListener("input", follow);
    follow();
    text.after(picker);
  }

  document.addEventListener("DOMContentLoaded", function () {
    document.querySelectorAll("input[data-colour]").forEach(addPicker);
  });
})();
