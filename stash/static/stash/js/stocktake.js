/* Counting along the shelf with a connection that comes and goes. The page holds all it needs and never leaves:
   a count is first kept in this browser under a key of its own, then sent, again and again until the studio has
   answered for that key. Figures are sent as they were typed; nothing is reckoned here. */
(function () {
  "use strict";

  var AT_ONCE = 20;
  var PATIENCE = 15000;
  var AGAIN_AFTER = 5000;

  var root = document.querySelector("[data-stocktake]");
  if (!root) return;
  var card = document.getElementById("card");
  var form = card && card.querySelector("form");
  var rows = Array.prototype.slice.call(document.querySelectorAll("#cones > li[data-cone]"));

  function byId(id) { return document.getElementById(id); }
  function rowOf(cone) { return rows.find(function (row) { return row.dataset.cone === String(cone); }); }

  // --- What is kept in this browser: one entry a count, so that two windows do not write over each other ------

  var prefix = "warpshelf.count." + root.dataset.stocktake + ".";
  var memory = {};
  var lasting = true;
  try {
    localStorage.setItem(prefix, "");
    localStorage.removeItem(prefix);
  } catch (error) {
    lasting = false;
  }

  function keep(item) {
    try {
      localStorage.setItem(prefix + item.key, JSON.stringify(item));
      delete memory[item.key];
    } catch (error) {
      lasting = false;
      memory[item.key] = item;
    }
  }

  function forget(key) {
    delete memory[key];
    try { localStorage.removeItem(prefix + key); } catch (error) { lasting = false; }
  }

  function kept() {
    var items = Object.values(memory);
    try {
      for (var at = 0; at < localStorage.length; at += 1) {
        var name = localStorage.key(at);
        if (name.indexOf(prefix) === 0 && name.length > prefix.length) items.push(read(name));
      }
    } catch (error) {
      lasting = false;
    }
    return items.filter(Boolean).sort(function (one, other) { return one.at - other.at; });
  }

  function read(name) {
    try { return JSON.parse(localStorage.getItem(name)); } catch (error) { return null; }
  }

  function waiting() { return kept().filter(function (item) { return !item.refused; }); }

  // randomUUID is missing on plain http.
  function newKey() {
    return Array.from(crypto.getRandomValues(new Uint8Array(16)), function (byte) {
      return byte.toString(16).padStart(2, "0");
    }).join("");
  }

  // --- What is seen ----------------------------------------------------------------------------------------------

  function words(item) {
    if (item.finding === "absent") return "not here";
    return (item.is_estimate ? "about " : "") + item.scale + (item.yarn_only ? ", yarn only" : "");
  }

  function pending() {
    var found = {};
    waiting().forEach(function (item) { found[item.cone] = words(item); });
    return found;
  }

  function draw() {
    var unsent = pending();
    var done = 0;
    var again = 0;
    rows.forEach(function (row) {
      var here = unsent[row.dataset.cone];
      row.querySelector(".found").textContent = here ? here + ", not sent" : row.dataset.found;
      row.classList.toggle("unsent", Boolean(here));
      if (here || row.dataset.found) done += 1;
      if (row.classList.contains("again")) again += 1;
      var inHand = Boolean(form) && !card.hidden && row.dataset.cone === form.elements.cone.value;
      if (inHand) row.querySelector("a").setAttribute("aria-current", "true");
      else row.querySelector("a").removeAttribute("aria-current");
    });
    if (form) byId("progress").textContent = done + " counted, " + (rows.length - done) + " left";
    byId("again").textContent = again ? again + " to look at again" : "";
    drawRefused();
    drawStrays();
    drawSending();
  }

  // Cones that belong elsewhere stand on no line of the list until the studio has said which they are.
  function drawStrays() {
    var list = byId("strays");
    if (!list) return;
    var strays = waiting().filter(function (item) { return !item.cone; });
    list.hidden = !strays.length;
    list.replaceChildren.apply(list, strays.map(function (item) {
      var line = document.createElement("li");
      line.textContent = item.code + ": " + words(item) + ", not sent";
      return line;
    }));
  }

  function drawRefused() {
    var list = byId("not-kept");
    var refused = kept().filter(function (item) { return item.refused; });
    list.hidden = !refused.length;
    list.replaceChildren.apply(list, refused.map(function (item) {
      var line = document.createElement("li");
      var said = document.createElement("span");
      said.textContent = item.code + ", " + words(item) + ", could not be kept: " + item.refused + " ";
      var away = document.createElement("button");
      away.type = "button";
      away.className = "btn plain";
      away.textContent = "Put away";
      away.setAttribute("aria-label", "Put away " + item.code);
      away.addEventListener("click", function () { forget(item.key); draw(); });
      line.append(said, away);
      return line;
    }));
  }

  var trouble = "";
  var TROUBLES = {
    unreachable: "No connection; it is tried again by itself.",
    failed: "The studio could not take it; it is tried again by itself.",
    signedOut: "You are signed out. Sign in there and come back here: then it is sent.",
    mayNot: "You may not count here any more. Ask the owner, then load the page again.",
  };

  function drawSending() {
    var count = waiting().length;
    var said = "Not sent: " + count + ".";
    if (count && trouble) said += " " + TROUBLES[trouble];
    if (!lasting) said += " This browser keeps nothing: what is not sent is lost when the page is left.";
    var box = byId("sending");
    // Of a closed stocktake there is nothing to say, unless something waits from before.
    box.hidden = !form && !count;
    box.classList.toggle("troubled", Boolean(count && trouble));
    // The same sentence again would be read aloud again.
    if (byId("sending-words").textContent !== said) byId("sending-words").textContent = said;
    byId("sending-in").hidden = !(count && trouble === "signedOut");
  }

  // --- One cone in hand --------------------------------------------------------------------------------------------

  var last = form && rowOf(form.elements.cone.value);

  function show(row, focus) {
    var fields = form.elements;
    var found = row.querySelector(".found").textContent;
    var known = "core" in row.dataset;
    last = row;
    form.reset();
    fields.cone.value = row.dataset.cone;
    fields.code.value = "";
    fields.scale.value = fields.core.value = fields.note.value = "";
    fields.yarn_only.checked = !known;
    fields.is_estimate.checked = false;
    byId("core").hidden = known;
    byId("card-code").textContent = row.dataset.code;
    byId("card-shade").textContent = row.dataset.shade;
    byId("card-about").textContent = row.dataset.about;
    byId("card-found").hidden = !found;
    byId("card-found-words").textContent = found;
    byId("card-chip").replaceChildren();
    var chip = row.querySelector(".chip");
    if (chip) {
      chip = chip.cloneNode(true);
      chip.classList.add("large");
      byId("card-chip").append(chip);
    }
    open(focus);
    history.replaceState(null, "", "?cone=" + row.dataset.cone);
  }

  // One that the page does not list: which it is the studio finds out when the count is sent.
  function showStray(code) {
    var fields = form.elements;
    var listed = rows.find(function (row) { return row.dataset.code.toLowerCase() === code.toLowerCase(); });
    if (listed) {
      show(listed, true);
      return;
    }
    form.reset();
    fields.cone.value = "";
    fields.code.value = code;
    fields.scale.value = fields.core.value = fields.note.value = "";
    fields.yarn_only.checked = fields.is_estimate.checked = false;
    byId("core").hidden = true;
    byId("card-code").textContent = code;
    byId("card-shade").textContent = "found here";
    byId("card-about").textContent = "not on the list of this place";
    byId("card-found").hidden = true;
    byId("card-chip").replaceChildren();
    open(true);
    history.replaceState(null, "", "?code=" + encodeURIComponent(code));
  }

  function open(focus) {
    var fields = form.elements;
    form.querySelectorAll(".form-errors").forEach(function (part) { part.remove(); });
    form.querySelector("details").open = false;
    say("");
    card.hidden = false;
    byId("all-done").hidden = true;
    draw();
    if (focus) fields.scale.focus({ preventScroll: true });
    card.scrollIntoView({ block: "nearest" });
  }

  function next() {
    var unsent = pending();
    // After one that is not on the list, the one that was in hand before it comes again.
    var at = Math.max(-1, rows.indexOf(last) - (form.elements.cone.value ? 0 : 1));
    var from = rows.slice(at + 1).concat(rows.slice(0, at + 1));
    var row = from.find(function (one) { return !one.dataset.found && !unsent[one.dataset.cone]; });
    if (row) {
      show(row, true);
      return;
    }
    card.hidden = true;
    byId("all-done").hidden = false;
    draw();
    byId("all-done").querySelector("a").focus();
  }

  function say(sentence) {
    byId("say").textContent = sentence;
    if (sentence) form.elements.scale.setAttribute("aria-invalid", "true");
    else form.elements.scale.removeAttribute("aria-invalid");
  }

  function take(finding) {
    var fields = form.elements;
    var row = rowOf(fields.cone.value);
    if (finding === "weighed" && !/[0-9½¼¾⅓⅔⅛⅜⅝⅞]/.test(fields.scale.value)) {
      say("Give what the scale says, or say that the cone is not here.");
      fields.scale.focus();
      return;
    }
    keep({
      key: newKey(),
      cone: Number(fields.cone.value) || null,
      code: row ? row.dataset.code : fields.code.value || byId("card-code").textContent,
      finding: finding,
      scale: finding === "weighed" ? fields.scale.value.trim() : "",
      yarn_only: fields.yarn_only.checked,
      is_estimate: fields.is_estimate.checked,
      core: fields.core.value.trim(),
      note: fields.note.value.trim(),
      at: Date.now(),
    });
    next();
    send();
  }

  // --- Sending -------------------------------------------------------------------------------------------------------

  var sending = false;
  var timer = 0;
  var seen = Number(root.dataset.seen);

  // The token changes with every signing in, in whichever window: the cookie has the one that holds now.
  function token() {
    var start = root.dataset.csrfCookie + "=";
    var cookie = document.cookie.split("; ").find(function (one) { return one.indexOf(start) === 0; });
    return cookie ? cookie.slice(start.length) : "";
  }

  function later() {
    clearTimeout(timer);
    if (waiting().length) timer = setTimeout(send, AGAIN_AFTER);
  }

  function send() {
    if (sending) return;
    var batch = waiting().slice(0, AT_ONCE);
    if (!batch.length) {
      drawSending();
      return;
    }
    sending = true;
    clearTimeout(timer);
    var now = Date.now();
    ask({
      seen: seen,
      counts: batch.map(function (item) {
        return Object.assign({ age_ms: Math.max(0, now - item.at) }, item);
      }),
    }).then(function (answer) {
      trouble = "";
      hear(answer, batch);
    }, function (why) {
      trouble = TROUBLES[why] ? why : "unreachable";
    }).then(function () {
      sending = false;
      draw();
      if (trouble) later();
      else if (waiting().length) send();
    });
  }

  function ask(body) {
    var abort = new AbortController();
    var limit = setTimeout(function () { abort.abort(); }, PATIENCE);
    return fetch(root.dataset.counts, {
      method: "POST",
      headers: { "Content-Type": "application/json", "X-CSRFToken": token() },
      body: JSON.stringify(body),
      // Being led to the sign-in page is an answer, too.
      redirect: "manual",
      signal: abort.signal,
    }).then(function (response) {
      if (response.type === "opaqueredirect") throw "signedOut";
      if (response.status === 403) throw "mayNot";
      if (response.status === 404) return { gone: "The stocktake is no longer there." };
      if (response.status === 422) {
        return response.json().then(function (answer) { return { gone: answer.error }; });
      }
      if (!response.ok) throw "failed";
      return response.json();
    }).finally(function () { clearTimeout(limit); });
  }

  function hear(answer, batch) {
    if (answer.gone) {
      batch.forEach(function (item) { refuse(item, answer.gone); });
      return;
    }
    var outcomes = {};
    answer.results.forEach(function (result) { outcomes[result.key] = result; });
    batch.forEach(function (item) {
      var result = outcomes[item.key];
      if (!result) refuse(item, "The studio said nothing of it. Count it again.");
      else if (result.outcome === "refused") refuse(item, result.reason);
      else settleFor(item);
    });
    seen = answer.seen;
    answer.news.forEach(function (one) {
      var row = rowOf(one.cone);
      if (!row) row = addRow(one);
      row.dataset.found = one.found;
      row.classList.toggle("again", one.again);
    });
  }

  function addRow(one) {
    var row = document.createElement("li");
    row.dataset.cone = one.cone;
    row.dataset.code = one.code;
    row.dataset.shade = one.shade;
    row.dataset.about = "found here, belongs elsewhere by the books";
    var link = document.createElement("a");
    link.href = "?cone=" + one.cone;
    var which = document.createElement("span");
    which.className = "which";
    var code = document.createElement("b");
    code.className = "num";
    code.textContent = one.code;
    var about = document.createElement("small");
    about.textContent = row.dataset.about;
    which.append(code, " " + one.shade, about);
    link.append(which);
    var found = document.createElement("span");
    found.className = "found";
    row.append(link, " ", found);
    byId("cones").append(row);
    rows.push(row);
    return row;
  }

  // A figure that was taken answers what was refused of the same cone before it.
  function settleFor(item) {
    kept().forEach(function (other) {
      if (other.key === item.key || (other.refused && other.cone === item.cone && other.code === item.code && other.at < item.at)) {
        forget(other.key);
      }
    });
  }

  function refuse(item, reason) {
    item.refused = reason;
    keep(item);
  }

  // --- Beginning -----------------------------------------------------------------------------------------------------

  if (form) {
    form.addEventListener("submit", function (event) {
      event.preventDefault();
      var by = event.submitter;
      take(by && by.name === "finding" ? by.value : "weighed");
    });
    byId("stray").addEventListener("submit", function (event) {
      event.preventDefault();
      var field = byId("stray-code");
      var code = field.value.trim();
      if (!code) return;
      field.value = "";
      showStray(code);
    });
    byId("pass").addEventListener("click", function (event) {
      event.preventDefault();
      next();
    });
    byId("cones").addEventListener("click", function (event) {
      var link = event.target.closest("a");
      var row = link && link.closest("li[data-cone]");
      if (!row || event.ctrlKey || event.metaKey || event.shiftKey) return;
      event.preventDefault();
      show(row, true);
    });
  }

  window.addEventListener("online", send);
  window.addEventListener("storage", function () { draw(); send(); });
  document.addEventListener("visibilitychange", function () { if (!document.hidden) send(); });
  window.addEventListener("focus", send);
  window.addEventListener("beforeunload", function (event) {
    if (!lasting && waiting().length) event.preventDefault();
  });

  draw();
  send();
})();
