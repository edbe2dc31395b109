/* The rows beside a typed colour or pick order: buttons, arrow keys and dragging. Nothing is reckoned here. Every change
   is asked of the server with the whole form, and its answer holds the new line and the rows drawn from it; so the typed
   line stays the one truth, and both stay in step. */
(function () {
  "use strict";

  var PAUSE = 250;

  function each(list, call) { Array.prototype.forEach.call(list, call); }
  function pathOf(node) { var row = node.closest("li[data-path]"); return row ? row.dataset.path : ""; }

  function Editor(root) {
    this.root = root;
    this.form = root.closest("form");
    this.field = this.form.elements[root.dataset.order];
    this.note = root.querySelector(".order-note");
    this.asked = 0;
    this.timer = 0;
    this.listen();
  }

  Editor.prototype.parts = function () { return this.root.querySelector(".order-parts"); };

  Editor.prototype.listen = function () {
    var editor = this;
    // Shades are named in other fields of the plan, and the widths to choose from follow from all of them.
    this.form.addEventListener("input", function (event) {
      if (editor.root.contains(event.target) || event.target.closest(".order-editor")) return;
      var mine = event.target === editor.field;
      var fit = editor.root.querySelector(".order-fit");
      if (!mine && !/^shade_/.test(event.target.name || "") && !(fit && fit.open)) return;
      if (mine) editor.root.classList.add("behind");
      clearTimeout(editor.timer);
      editor.timer = setTimeout(function () { editor.ask({ do: "read" }, null); }, mine ? PAUSE : 3 * PAUSE);
    });
    // What is typed in a row is no field of the plan; the plan hears of it through the line.
    ["input", "change"].forEach(function (kind) {
      editor.root.addEventListener(kind, function (event) {
        event.stopPropagation();
        var at = event.target.dataset.do;
        if (kind === "change" && at) {
          editor.ask({ do: at, row: pathOf(event.target), value: event.target.value }, event.target.dataset.at);
        }
      });
    });
    this.root.addEventListener("click", function (event) {
      var button = event.target.closest("button[data-do]");
      if (button) editor.press(button);
    });
    this.root.addEventListener("keydown", function (event) { editor.key(event); });
    this.root.addEventListener("pointerdown", function (event) {
      var grip = event.target.closest(".grip");
      if (grip && event.button === 0) editor.drag(grip, event);
    });
  };

  Editor.prototype.press = function (button) {
    var what = { do: button.dataset.do };
    if (button.dataset.value) what.value = button.dataset.value;
    if ("ticked" in button.dataset) what.row = this.ticked();
    else if (pathOf(button)) what.row = pathOf(button);
    else if (what.do === "add" && this.ticked().length === 1) what.row = this.ticked();
    this.ask(what, button.dataset.at || (what.do === "add" ? "number" : what.do));
  };

  Editor.prototype.ticked = function () {
    var found = [];
    each(this.root.querySelectorAll("input[type=checkbox]:checked"), function (box) { found.push(pathOf(box)); });
    return found;
  };

  Editor.prototype.key = function (event) {
    if (event.key === "Enter" && event.target.matches(".count")) {
      event.preventDefault();
      event.target.blur();
      return;
    }
    if (!event.target.closest(".grip")) return;
    var way = { ArrowUp: "up", ArrowDown: "down" }[event.key];
    if (way) {
      event.preventDefault();
      this.ask({ do: way, row: pathOf(event.target) }, "grip");
    }
  };

  Editor.prototype.body = function (what) {
    var body = new FormData(this.form);
    body.set("order", this.root.dataset.order);
    Object.keys(what).forEach(function (name) {
      [].concat(what[name]).forEach(function (value) { body.append(name, value); });
    });
    return body;
  };

  // An answer that comes after a later question is let go: it was drawn from an older line.
  Editor.prototype.ask = function (what, at) {
    var editor = this;
    var mine = ++this.asked;
    clearTimeout(this.timer);
    fetch(this.root.dataset.address, { method: "POST", body: this.body(what), credentials: "same-origin" })
      .then(function (answer) {
        return answer.text().then(function (text) {
          if (mine !== editor.asked) return;
          if (answer.status === 422) editor.say(text, true);
          // Nothing: the line cannot be read yet, since it is being typed.
          else if (answer.ok && !text) editor.say("", false);
          else if (answer.ok && !answer.redirected) editor.show(text, what.do !== "read", at);
          else editor.fail(answer.status === 403 || answer.redirected ? "refused" : "failed");
        });
      })
      .catch(function () { if (mine === editor.asked) editor.fail("unreachable"); });
  };

  Editor.prototype.fail = function (kind) {
    this.say(document.getElementById("messages").dataset[kind], true);
  };

  Editor.prototype.say = function (words, wrong) {
    this.note.textContent = words;
    this.note.classList.toggle("wrong", Boolean(words && wrong));
  };

  Editor.prototype.show = function (html, changed, at) {
    var open = {};
    each(this.parts().querySelectorAll("details"), function (one) { open[one.classList[0]] = one.open; });
    var typing = !changed && this.root.contains(document.activeElement) ? document.activeElement : null;
    if (typing && typing.matches(".count")) return;
    var page = new DOMParser().parseFromString(html, "text/html");
    var parts = page.querySelector(".order-parts");
    if (!parts) { this.fail("failed"); return; }
    each(parts.querySelectorAll("details"), function (one) { one.open = Boolean(open[one.classList[0]]); });
    this.parts().replaceWith(parts);
    // The card of thread beside each key of the plan is drawn by the server too.
    each(parts.querySelectorAll("[data-card]"), function (card) {
      var place = document.querySelector('.keys [data-key="' + card.dataset.card + '"]');
      if (place) place.replaceChildren(card.firstElementChild.cloneNode(true));
    });
    this.root.classList.remove("behind");
    this.say(parts.dataset.said, false);
    if (!changed) return;
    this.write(parts);
    this.focus(parts, at);
  };

  // The line and what changes with it go into the plan's own fields, as if they had been typed.
  Editor.prototype.write = function (parts) {
    var form = this.form;
    this.field.value = parts.dataset.line;
    each(parts.attributes, function (one) {
      var name = one.name.indexOf("data-set-") === 0 ? one.name.slice(9) : "";
      if (name && form.elements[name]) form.elements[name].value = one.value;
    });
    this.field.removeAttribute("aria-invalid");
    form.dispatchEvent(new Event("input", { bubbles: true }));
  };

  Editor.prototype.focus = function (parts, at) {
    var row = parts.dataset.focus ? parts.querySelector('li[data-path="' + parts.dataset.focus + '"] > .row') : null;
    var wanted = row && (row.querySelector('[data-at="' + at + '"]:not(:disabled)') || row.querySelector(".grip"));
    wanted = wanted || parts.querySelector('button[data-do="' + at + '"]') || parts.querySelector(".row-tools button");
    if (!wanted || !wanted.offsetParent) wanted = parts.querySelector("summary");
    if (!wanted) return;
    wanted.focus({ preventScroll: true });
    if (wanted.matches(".count")) wanted.select();
    wanted.scrollIntoView({ block: "nearest" });
  };

  // --- Dragging: the row under the finger shows where the row would go -------------------------------------------------

  Editor.prototype.places = function (moving) {
    var found = [];
    each(this.root.querySelectorAll(".rows > li"), function (row) {
      if (moving.contains(row)) return;
      var box = row.querySelector(".row").getBoundingClientRect();
      found.push({ row: row, top: box.top, middle: (box.top + box.bottom) / 2, bottom: box.bottom });
    });
    return found;
  };

  function afterRow(row) {
    // Below the head of a repeat lies its own first place.
    if (row.matches(".again")) return row.dataset.path + ".0";
    var parts = row.dataset.path.split(".");
    parts[parts.length - 1] = String(Number(parts[parts.length - 1]) + 1);
    return parts.join(".");
  }

  Editor.prototype.drag = function (grip, start) {
    var editor = this;
    var moving = grip.closest("li[data-path]");
    var before = "";
    var begun = false;

    function clear() {
      each(editor.root.querySelectorAll(".drop-above, .drop-below"), function (row) {
        row.classList.remove("drop-above", "drop-below");
      });
    }

    function move(event) {
      if (!begun && Math.abs(event.clientY - start.clientY) < 5) return;
      begun = true;
      moving.classList.add("moving");
      clear();
      before = "";
      var near = null;
      editor.places(moving).forEach(function (place) {
        if (!near || Math.abs(event.clientY - place.middle) < Math.abs(event.clientY - near.middle)) near = place;
      });
      if (!near) return;
      var above = event.clientY < near.middle;
      near.row.querySelector(".row").classList.add(above ? "drop-above" : "drop-below");
      before = above ? near.row.dataset.path : afterRow(near.row);
    }

    function end(event) {
      grip.removeEventListener("pointermove", move);
      grip.removeEventListener("pointerup", end);
      grip.removeEventListener("pointercancel", end);
      document.removeEventListener("keydown", escape);
      clear();
      moving.classList.remove("moving");
      if (begun && before && event.type === "pointerup") {
        editor.ask({ do: "place", row: moving.dataset.path, before: before }, "grip");
      }
    }

    function escape(event) {
      if (event.key !== "Escape") return;
      before = "";
      end(event);
    }

    grip.setPointerCapture(start.pointerId);
    grip.addEventListener("pointermove", move);
    grip.addEventListener("pointerup", end);
    grip.addEventListener("pointercancel", end);
    document.addEventListener("keydown", escape);
  };

  document.addEventListener("DOMContentLoaded", function () {
    each(document.querySelectorAll(".order-editor"), function (root) { new Editor(root); });
  });
})();
