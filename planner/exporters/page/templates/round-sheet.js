"use strict";
// Keeps what is ticked on this device, and saves it as a progress file. Nothing is sent anywhere.
(function () {
  const body = document.body;
  const key = body.dataset.key;
  const controls = Array.from(document.querySelectorAll("[data-keep]"));
  const visits = Array.from(document.querySelectorAll("article.visit"));
  const count = document.getElementById("progress-count");
  let canKeep = true;

  function read() {
    try {
      return JSON.parse(window.localStorage.getItem(key) || "{}");
    } catch (error) {
      canKeep = false;
      return {};
    }
  }

  function write(state) {
    try {
      window.localStorage.setItem(key, JSON.stringify(state));
    } catch (error) {
      canKeep = false;
    }
  }

  function valueOf(control) {
    if (control.type === "checkbox") return control.checked;
    if (control.type === "radio") return control.checked ? control.value : undefined;
    return control.value;
  }

  function collect() {
    const state = {};
    for (const control of controls) {
      const value = valueOf(control);
      if (value !== undefined && value !== "" && value !== false) state[control.dataset.keep] = value;
    }
    return state;
  }

  function restore(state) {
    for (const control of controls) {
      const value = state[control.dataset.keep];
      if (control.type === "checkbox") control.checked = value === true;
      else if (control.type === "radio") control.checked = value === control.value;
      else control.value = value === undefined ? "" : value;
    }
  }

  function field(visit, name) {
    return visit.querySelector('[data-keep$="-' + name + '"]');
  }

  function outcomeOf(visit) {
    const chosen = visit.querySelector('input[type="radio"]:checked');
    return chosen ? chosen.value : "";
  }

  function show() {
    const done = visits.filter(outcomeOf).length;
    const lost = canKeep ? "" : " This device keeps nothing: save the file before you close the page.";
    count.textContent = done + " of " + visits.length + " ticked." + lost;
  }

  function two(number) {
    return String(number).padStart(2, "0");
  }

  function changed(event) {
    const control = event.target;
    if (!control.dataset || !control.dataset.keep) return;
    if (control.type === "radio") {
      const visit = control.closest("article");
      const now = new Date();
      if (!field(visit, "time").value) field(visit, "time").value = two(now.getHours()) + ":" + two(now.getMinutes());
      if (!field(visit, "initials").value) field(visit, "initials").value = visit.dataset.initials;
    }
    write(collect());
    show();
  }

  // A text that a spreadsheet would take for a formula gets an apostrophe in front; the planner takes it off again.
  function cell(text) {
    const plain = String(text).replace(/[\u0000-\u001f\u007f]/g, " ");
    return '"' + (/^[=+\-@]/.test(plain) ? "'" : "") + plain.replace(/"/g, '""') + '"';
  }

  // One line an order of each visit that has an outcome: the columns that the planner reads.
  function csv() {
    const lines = [["bed", "patient_number", "order_number", "outcome", "time", "initials", "note"]];
    for (const visit of visits) {
      const outcome = outcomeOf(visit);
      if (!outcome) continue;
      const rest = ["time", "initials", "note"].map(function (name) { return field(visit, name).value; });
      for (const order of visit.dataset.orders.split("\n")) {
        lines.push([visit.dataset.bed, visit.dataset.patient, order, outcome].concat(rest));
      }
    }
    return lines.map(function (line) { return line.map(cell).join(","); }).join("\r\n") + "\r\n";
  }

  function save() {
    const url = URL.createObjectURL(new Blob(["\ufeff" + csv()], { type: "text/csv;charset=utf-8" }));
    const link = document.createElement("a");
    link.href = url;
    link.download = body.dataset.file;
    body.appendChild(link);
    link.click();
    link.remove();
    window.setTimeout(function () { URL.revokeObjectURL(url); }, 60000);
  }

  function clear() {
    if (!window.confirm("Clear all ticks, times and notes of this sheet on this device?")) return;
    restore({});
    write({});
    show();
  }

  restore(read());
  document.addEventListener("change", changed);
  document.addEventListener("input", changed);
  document.getElementById("progress-save").addEventListener("click", save);
  document.getElementById("progress-clear").addEventListener("click", clear);
  document.getElementById("progress").hidden = false;
  show();
})();
