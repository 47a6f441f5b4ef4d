// Help with reading; every word of the page is there without it. Sorts tables, shows the row behind a dot
// of a picture, marks the rows of the raw data behind a figure. Nothing is loaded, stored or sent.
(function () {
  "use strict";
  var page = document;

  function all(selector, within) {
    return Array.prototype.slice.call((within || page).querySelectorAll(selector));
  }

  function value(row, column) {
    var text = row.cells[column].textContent.trim();
    var number = parseFloat(text.replace(/\u2212/g, "-").replace(/[\u202f\u00a0\s]/g, "").replace(/^[<>≤≥±]/, ""));
    return { text: text, number: number };
  }

  function compare(a, b) {
    if (!isNaN(a.number) && !isNaN(b.number)) return a.number - b.number;
    if (isNaN(a.number) !== isNaN(b.number)) return isNaN(a.number) ? 1 : -1;
    return a.text < b.text ? -1 : a.text > b.text ? 1 : 0;
  }

  function sort(table, column, head) {
    var body = table.tBodies[0];
    var down = head.getAttribute("aria-sort") === "ascending";
    var rows = all("tr", body).map(function (row, place) {
      return { row: row, place: place, key: value(row, column) };
    });
    rows.sort(function (a, b) {
      return (down ? compare(b.key, a.key) : compare(a.key, b.key)) || a.place - b.place;
    });
    all("th[aria-sort]", table.tHead).forEach(function (other) { other.removeAttribute("aria-sort"); });
    head.setAttribute("aria-sort", down ? "descending" : "ascending");
    rows.forEach(function (item) { body.appendChild(item.row); });
  }

  all("table.plain:not(.worth):not(.verdicts)").forEach(function (table) {
    var heads = table.tHead && table.tHead.rows.length === 1 ? Array.prototype.slice.call(table.tHead.rows[0].cells) : [];
    if (!heads.length || table.tBodies.length !== 1 || table.tBodies[0].rows.length < 3) return;
    var whole = all("tr", table.tBodies[0]).every(function (row) { return row.cells.length === heads.length; });
    if (!whole) return;
    heads.forEach(function (head, column) {
      if (!head.textContent.trim()) return;
      var button = page.createElement("button");
      button.type = "button";
      button.className = "sort";
      while (head.firstChild) button.appendChild(head.firstChild);
      head.appendChild(button);
      button.addEventListener("click", function () { sort(table, column, head); });
    });
  });

  function listing(name) {
    return all("pre.listing").filter(function (pre) { return pre.getAttribute("data-name") === name; })[0];
  }

  function numberOf(line) {
    var found = /^[ABX ] *(\d+)(  |$)/.exec(line);
    return found ? Number(found[1]) : 0;
  }

  function inside(ranges, number) {
    return ranges.split(",").some(function (range) {
      var ends = range.split("-").map(Number);
      return number >= ends[0] && number <= (ends.length > 1 ? ends[1] : ends[0]);
    });
  }

  function show(name, ranges) {
    var pre = listing(name), first = null;
    if (!pre) return false;
    var lines = pre.textContent.split("\n");
    pre.textContent = "";
    lines.forEach(function (line, i) {
      var text = i < lines.length - 1 ? line + "\n" : line;
      if (!inside(ranges, numberOf(line))) { pre.appendChild(page.createTextNode(text)); return; }
      var mark = page.createElement("mark");
      mark.textContent = text;
      first = first || mark;
      pre.appendChild(mark);
    });
    if (!first) return false;
    first.scrollIntoView({ block: "center" });
    pre.focus({ preventScroll: true });
    return true;
  }

  all("a[data-rows]").forEach(function (link) {
    link.addEventListener("click", function (event) {
      if (show(link.getAttribute("data-name"), link.getAttribute("data-rows"))) event.preventDefault();
    });
  });

  var tip = page.createElement("p");
  tip.className = "tip screen";
  tip.setAttribute("role", "status");
  tip.hidden = true;
  page.body.appendChild(tip);

  function rowText(name, row) {
    var pre = listing(name);
    var lines = pre ? pre.textContent.split("\n") : [];
    var found = lines.filter(function (line) { return numberOf(line) === row; })[0];
    return found ? (lines[0].slice(1).trim().replace(/^1 +/, "") + "\n" + found.slice(1).trim()) : "";
  }

  all("figure[data-name]").forEach(function (figure) {
    var name = figure.getAttribute("data-name");
    all("use[data-row]", figure).forEach(function (dot) {
      var row = Number(dot.getAttribute("data-row"));
      dot.style.cursor = "pointer";
      dot.addEventListener("pointerenter", function () {
        var box = dot.getBoundingClientRect();
        tip.textContent = rowText(name, row) || dot.textContent;
        tip.hidden = false;
        tip.style.left = Math.max(4, Math.min(box.left, page.documentElement.clientWidth - tip.offsetWidth - 4)) + "px";
        tip.style.top = (box.bottom + 6 + tip.offsetHeight < window.innerHeight ? box.bottom + 6 : box.top - tip.offsetHeight - 6) + "px";
      });
      dot.addEventListener("pointerleave", function () { tip.hidden = true; });
      dot.addEventListener("click", function () { tip.hidden = true; show(name, String(row)); });
    });
  });
})();
