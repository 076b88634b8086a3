"use strict";
(function () {
  var readout = document.getElementById("readout");
  document.documentElement.classList.add("scripted");

  function each(within, what, act) {
    Array.prototype.forEach.call(within.querySelectorAll(what), act);
  }

  // What a mark tells: its title becomes a label, so that a browser does not show it a second time.
  each(document, "svg title", function (title) {
    var of = title.parentNode;
    of.setAttribute("data-told", title.textContent);
    if (of.hasAttribute("role")) { of.setAttribute("aria-label", title.textContent); }
    of.removeChild(title);
  });

  // What a line of a link is, the table of links of its chapter says; what a device is, its plan.
  each(document, "main section", function (chapter) {
    var links = {}, devices = {};
    each(chapter, "table[data-title^='Links that carry'] tbody tr", function (row) {
      var of = Array.prototype.map.call(row.cells, function (one) { return one.textContent.trim(); });
      var told = of[0] + " sends to " + of[1] + " " + of[2] + " % of the time; ";
      if (of[3]) { told += of[1] + " sends to " + of[0] + " " + of[3] + " % of the time; "; }
      told += of[4] + " dB to spare, " + (of[6] ? "measured" : "predicted") + (of[5] ? ", " + of[5] + " m" : "");
      told += "; in the way: " + of[7];
      links[of[0] + "~" + of[1]] = links[of[1] + "~" + of[0]] = told;
    });
    each(chapter, ".device[tabindex]", function (one) {
      devices[one.getAttribute("data-device")] = one.getAttribute("data-told");
    });
    each(chapter, "[data-link]", function (one) {
      one.setAttribute("data-told", links[one.getAttribute("data-link")] || "");
    });
    each(chapter, ".device:not([tabindex])", function (one) {
      var told = devices[one.getAttribute("data-device")];
      if (told) { one.setAttribute("data-told", told); one.setAttribute("aria-label", told); }
    });
  });

  // The lines of a device light up while it is pointed at.
  function light(device, isOn) {
    var id = device.getAttribute("data-device");
    each(device.closest("svg"), "[data-link]", function (one) {
      if (one.getAttribute("data-link").split("~").indexOf(id) >= 0) {
        one.classList.toggle("lit", isOn);
      }
    });
  }
  each(document, ".device", function (one) {
    ["pointerenter", "focus"].forEach(function (what) {
      one.addEventListener(what, function () { light(one, true); });
    });
    ["pointerleave", "blur"].forEach(function (what) {
      one.addEventListener(what, function () { light(one, false); });
    });
  });

  function tell(mark) {
    readout.textContent = mark.getAttribute("data-told");
    readout.hidden = false;
  }

  function hush() {
    readout.hidden = true;
  }

  // One stop of the Tab key a picture; arrow keys go from mark to mark.
  each(document, "svg", function (picture) {
    var marks = picture.querySelectorAll(".mark[data-told], .device[data-told]");
    each(picture, "[data-told]", function (one) {
      one.addEventListener("pointerenter", function () { tell(one); });
      one.addEventListener("focus", function () { tell(one); });
      one.addEventListener("blur", hush);
    });
    picture.addEventListener("pointerleave", hush);
    Array.prototype.forEach.call(marks, function (mark, at) {
      mark.setAttribute("tabindex", at ? "-1" : "0");
      mark.addEventListener("keydown", function (event) {
        var step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
        var next = step && marks[at + step];
        if (next) {
          event.preventDefault();
          mark.setAttribute("tabindex", "-1");
          next.setAttribute("tabindex", "0");
          next.focus();
        }
      });
    });
  });
  document.addEventListener("keydown", function (event) {
    if (event.key === "Escape") { hush(); }
  });

  function number(text) {
    var found = /-?[0-9][0-9,]*\.?[0-9]*(e-?[0-9]+)?/.exec(text);
    return found ? parseFloat(found[0].replace(/,/g, "")) : NaN;
  }

  function compare(one, other, isText) {
    if (isText) { return one.localeCompare(other, "en", { numeric: true }); }
    var a = number(one), b = number(other);
    if (isNaN(a) || isNaN(b)) { return isNaN(a) - isNaN(b); }
    return a - b;
  }

  function sort(table, heads, at) {
    var head = heads[at], body = table.tBodies[0];
    var isUp = head.getAttribute("aria-sort") !== "ascending";
    var isText = !head.classList.contains("figures");
    var rows = Array.prototype.map.call(body.rows, function (row, place) {
      return { row: row, text: row.cells[at].textContent.trim(), place: place };
    });
    rows.sort(function (one, other) {
      var by = compare(one.text, other.text, isText);
      return (isUp ? by : -by) || one.place - other.place;
    });
    rows.forEach(function (one) { body.appendChild(one.row); });
    Array.prototype.forEach.call(heads, function (one) { one.removeAttribute("aria-sort"); });
    head.setAttribute("aria-sort", isUp ? "ascending" : "descending");
  }

  // A table as comma-separated text; what a spreadsheet would run has an apostrophe before it.
  function cell(one) {
    var text = one.innerText.replace(/\s*\n\s*/g, " ").trim();
    if (/^[=+\-@]/.test(text) && isNaN(Number(text.replace(/,/g, "")))) { text = "'" + text; }
    return '"' + text.replace(/"/g, '""') + '"';
  }

  function take(table) {
    var lines = Array.prototype.map.call(table.rows, function (row) {
      return Array.prototype.map.call(row.cells, cell).join(",");
    });
    var link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([lines.join("\n") + "\n"], { type: "text/csv" }));
    link.download = table.getAttribute("data-file") + ".csv";
    link.click();
    URL.revokeObjectURL(link.href);
  }

  each(document, "table[data-file]", function (table) {
    var heads = table.tHead.rows[0].cells;
    var taking = document.createElement("button");
    taking.type = "button";
    taking.className = "take";
    taking.textContent = "Take along (CSV)";
    taking.setAttribute("aria-label", "Take along as CSV: " + table.getAttribute("data-title"));
    taking.addEventListener("click", function () { take(table); });
    table.parentNode.parentNode.insertBefore(taking, table.parentNode.nextSibling);
    if (table.tBodies[0].rows.length < 2) { return; }
    Array.prototype.forEach.call(heads, function (head, at) {
      if (!head.textContent.trim()) { return; }
      var button = document.createElement("button");
      button.type = "button";
      while (head.firstChild) { button.appendChild(head.firstChild); }
      head.appendChild(button);
      button.addEventListener("click", function () { sort(table, heads, at); });
    });
  });

  // On paper everything is unfolded.
  var folded = [];
  window.addEventListener("beforeprint", function () {
    folded = Array.prototype.filter.call(document.querySelectorAll("details"), function (one) {
      return !one.open;
    });
    folded.forEach(function (one) { one.open = true; });
  });
  window.addEventListener("afterprint", function () {
    folded.forEach(function (one) { one.open = false; });
  });
})();
