"use strict";
// Keeps what is ticked on this device, and saves it as a progress file. Nothing is sent anywhere.
(function () {
  const body = document.body;
  const key = body.dataset.key;
  const controls = Array.from(document.querySelectorAll("[data-keep]"));
  const visits = Array.from(document.querySelectorAll("article.visit"));
  const handovers = Array.from(document.querySelectorAll("article.handover"));
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

  function clock() {
    const now = new Date();
    return [now.getHours(), now.getMinutes(), now.getSeconds()].map(two).join(":");
  }

  // An outcome says when it was ticked, never when the blood was drawn: that has a button of its own.
  function changed(event) {
    const control = event.target;
    if (!control.dataset || !control.dataset.keep) return;
    const stop = control.closest("article");
    if (control.type === "radio") {
      field(stop, "ticked").value = clock();
      if (!field(stop, "initials").value) field(stop, "initials").value = stop.dataset.initials;
    }
    // The box of the tubes says that they were given away; the one beside it only reminds of what travels apart.
    if (stop && stop.matches(".handover") && control === field(stop, "tubes")) {
      field(stop, "ticked").value = control.checked ? clock() : "";
    }
    keep();
  }

  function keep() {
    write(collect());
    show();
  }

  // A second tick on the outcome that is chosen takes it back; the first one only changes it.
  function clicked(event) {
    const control = event.target;
    if (control.dataset && control.dataset.now) {
      const moment = controls.find(function (other) { return other.dataset.keep === control.dataset.now; });
      moment.value = clock();
      keep();
    }
    if (control.type !== "radio") return;
    const stop = control.closest("article");
    if (stop.dataset.outcome === control.value) {
      control.checked = false;
      field(stop, "ticked").value = "";
      keep();
    }
    stop.dataset.outcome = outcomeOf(stop);
  }

  // A text that a spreadsheet would take for a formula gets an apostrophe in front; the planner takes it off again.
  function cell(text) {
    const plain = String(text).replace(/[\u0000-\u001f\u007f]/g, " ");
    return '"' + (/^[=+\-@]/.test(plain) ? "'" : "") + plain.replace(/"/g, '""') + '"';
  }

  const columns = ["format", "revision", "kind", "bed", "patient_number", "order_number", "tube", "outcome",
    "arrived", "time", "left", "ticked", "initials", "note"];

  // One line a tube of each visit that has an outcome, and a line a hand-over that is ticked: progress file, format 2.
  function csv() {
    const lines = [columns];
    for (const visit of visits) {
      const outcome = outcomeOf(visit);
      if (!outcome) continue;
      const said = { outcome: outcome, bed: visit.dataset.bed, patient_number: visit.dataset.patient, kind: "tube" };
      for (const name of ["arrived", "time", "left", "ticked", "initials", "note"]) said[name] = field(visit, name).value;
      for (const row of rowsOf(visit, outcome)) lines.push(line(Object.assign({}, said, row)));
    }
    for (const stop of handovers) {
      const ticked = field(stop, "ticked").value;
      if (ticked) lines.push(line({ kind: "hand-over", bed: stop.dataset.place, outcome: "given away", time: ticked,
        initials: stop.dataset.initials }));
    }
    return lines.map(function (one) { return one.map(cell).join(","); }).join("\r\n") + "\r\n";
  }

  function line(said) {
    const known = Object.assign({ format: "2", revision: body.dataset.revision }, said);
    return columns.map(function (name) { return known[name] === undefined ? "" : known[name]; });
  }

  // After "part" the tubes that are ticked are those filled; with none ticked nobody knows which, and no tube is named.
  function rowsOf(visit, outcome) {
    const tubes = Array.from(visit.querySelectorAll("[data-tube]")).filter(function (box) { return box.dataset.orders; });
    const knows = outcome !== "partial" || tubes.some(function (box) { return box.checked; });
    const rows = !knows ? [] : tubes.map(function (box) {
      return { order_number: box.dataset.orders.split("\n").join("; "), tube: box.dataset.tube,
        outcome: outcome === "partial" && box.checked ? "collected" : outcome };
    });
    const named = rows.length ? tubes.map(function (box) { return box.dataset.orders; }).join("\n").split("\n") : [];
    const rest = visit.dataset.orders.split("\n").filter(function (order) { return !named.includes(order); });
    return rows.concat(rest.map(function (order) { return { order_number: order }; }));
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
    chosen();
    show();
  }

  function chosen() {
    for (const visit of visits) visit.dataset.outcome = outcomeOf(visit);
  }

  restore(read());
  chosen();
  document.addEventListener("click", clicked);
  document.addEventListener("change", changed);
  document.addEventListener("input", changed);
  document.getElementById("progress-save").addEventListener("click", save);
  document.getElementById("progress-clear").addEventListener("click", clear);
  document.getElementById("progress").hidden = false;
  show();
})();
