// The report's only script: sorts and filters the summary. Without it the page reads just as well.

export const PAGE_SCRIPT = `
(function () {
  "use strict";
  var table = document.getElementById("summary");
  if (!table) return;
  document.documentElement.classList.add("scripted");
  var body = table.tBodies[0];
  var heads = Array.prototype.slice.call(table.tHead.rows[0].cells);
  function key(row, column) {
    var cell = row.cells[column];
    var value = cell.getAttribute("data-value");
    return value === null ? cell.textContent : Number(value);
  }
  function sort(column, direction) {
    var rows = Array.prototype.slice.call(body.rows);
    rows.sort(function (a, b) {
      var x = key(a, column), y = key(b, column);
      var order = typeof x === "number" ? x - y : x.localeCompare(y, "en", { numeric: true });
      return order * direction;
    });
    rows.forEach(function (row) { body.appendChild(row); });
    heads.forEach(function (head, i) {
      if (i === column) head.setAttribute("aria-sort", direction > 0 ? "ascending" : "descending");
      else head.removeAttribute("aria-sort");
    });
  }
  heads[0].setAttribute("aria-sort", "ascending");
  heads.forEach(function (head, column) {
    var button = document.createElement("button");
    button.type = "button";
    button.title = "Sort by this column";
    button.textContent = head.textContent;
    head.textContent = "";
    head.appendChild(button);
    button.addEventListener("click", function () {
      sort(column, head.getAttribute("aria-sort") === "ascending" ? -1 : 1);
    });
  });
  var words = document.getElementById("filter-words");
  var verdict = document.getElementById("filter-verdict");
  var count = document.getElementById("filter-count");
  function filter() {
    var wanted = words.value.toLowerCase();
    var shown = 0;
    Array.prototype.forEach.call(body.rows, function (row) {
      var isWord = row.textContent.toLowerCase().indexOf(wanted) >= 0;
      var verdicts = row.getAttribute("data-verdict").split(" ");
      var isShown = isWord && (verdict.value === "" || verdicts.indexOf(verdict.value) >= 0);
      row.hidden = !isShown;
      if (isShown) shown += 1;
      var section = document.getElementById(row.getAttribute("data-case"));
      if (section) section.hidden = !isShown;
    });
    count.textContent = shown + " of " + body.rows.length + " shown";
  }
  words.addEventListener("input", filter);
  verdict.addEventListener("change", filter);
  filter();
})();
`;
