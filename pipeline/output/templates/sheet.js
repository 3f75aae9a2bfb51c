/* What is typed into the boxes, as a file of readings: made in the page, without a network. */
(function () {
  "use strict";
  var boxes = Array.prototype.slice.call(document.querySelectorAll("input[data-at]"));
  var link = document.getElementById("save"), told = document.getElementById("saved");
  var bare = /^[-+\u2212]?\s*\d+([.,]\d+)?$/;
  function key(box) {
    return [box.dataset.at, box.dataset.reading, box.dataset.condition, box.dataset.note].join("\u0000");
  }
  function field(name) {
    var box = document.querySelector("input[data-field=" + name + "]");
    return box ? box.value.trim() : "";
  }
  function cell(text) {
    return /[",;\t\r\n]/.test(text) ? '"' + text.replace(/"/g, '""') + '"' : text;
  }
  function today() {
    var now = new Date(), two = function (n) { return ("0" + n).slice(-2); };
    return now.getFullYear() + "-" + two(now.getMonth() + 1) + "-" + two(now.getDate());
  }
  function rows() {
    var seen = {}, day = field("date") || today();
    return boxes.filter(function (box) {
      var fresh = box.value.trim() && !seen[key(box)];
      if (fresh) seen[key(box)] = true;
      return fresh;
    }).map(function (box) {
      var value = box.value.trim().replace("\u2212", "-"), said = box.dataset;
      if (bare.test(value)) value += " " + said.unit;
      return [said.at, said.reading, value, said.note || "", day, field("by"), said.condition || "full",
              field("mains")].map(cell).join(",");
    });
  }
  function others() {
    return Array.prototype.slice.call(document.querySelectorAll("input.blank:not([data-at]):not([data-field])"))
      .filter(function (box) { return box.value.trim(); })
      .map(function (box) { return box.getAttribute("aria-label"); });
  }
  document.addEventListener("input", function (event) {
    var from = event.target;
    if (boxes.indexOf(from) < 0) return;
    boxes.forEach(function (box) { if (box !== from && key(box) === key(from)) box.value = from.value; });
  });
  link.addEventListener("click", function (event) {
    var found = rows(), left = others();
    told.textContent = (found.length ? found.length + (found.length === 1 ? " reading" : " readings") + " saved."
      : "Nothing is typed in yet.") + (left.length ? " Not in the file, which has no name for it: " + left.join("; ") + "." : "");
    if (!found.length) { event.preventDefault(); return; }
    var text = "at,reading,value,note,date,by,condition,mains\n" + found.join("\n") + "\n";
    var address = URL.createObjectURL(new Blob([text], { type: "text/csv;charset=utf-8" }));
    link.href = address;
    setTimeout(function () { URL.revokeObjectURL(address); }, 60000);
  });
  document.getElementById("saving").hidden = false;
})();
