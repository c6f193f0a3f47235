// The progress file, format 2: FORMAT.md beside its reader (planner/loaders/during) says what each column holds.
const COLUMNS = ["format", "revision", "kind", "bed", "patient_number", "order_number", "tube", "outcome",
  "arrived", "time", "left", "outside", "identity", "ticked", "initials", "note", "asked", "answer", "told", "told_at"];
const OF_VISIT = ["arrived", "time", "left", "ticked", "initials", "note", "told", "told_at"];

// A text that a spreadsheet would take for a formula gets an apostrophe in front; the planner takes it off again.
function cell(text) {
  const plain = String(text).replace(/[\u0000-\u001f\u007f]/g, " ");
  return '"' + (/^[=+\-@]/.test(plain) ? "'" : "") + plain.replace(/"/g, '""') + '"';
}

function line(said) {
  const known = Object.assign({ format: "2", revision: body.dataset.revision }, said);
  return COLUMNS.map(function (name) { return known[name] === undefined ? "" : known[name]; });
}

// One line for each tube of a visit with an outcome, for each tube ticked so far of one without, for each answer, and
// for each hand-over that is ticked.
function csv() {
  const lines = [COLUMNS];
  for (const visit of visits) {
    const about = { bed: visit.dataset.bed, patient_number: visit.dataset.patient };
    const outcome = outcomeOf(visit);
    const said = Object.assign({ kind: "tube", outcome: outcome }, about);
    for (const name of OF_VISIT) said[name] = field(visit, name).value;
    said.outside = side(visit);
    const boxes = visit.querySelectorAll("[data-identifier]").length;
    const identity = ticked(visit, "[data-identifier]").length;
    if (identity) said.identity = identity + " of " + boxes;
    const has = identity || OF_VISIT.some(function (name) { return said[name]; });
    for (const row of outcome ? rowsOf(visit, outcome) : has ? rowsSoFar(visit) : []) {
      lines.push(line(Object.assign({}, said, row)));
    }
    for (const input of visit.querySelectorAll("[data-asked]")) {
      if (input.value) lines.push(line(Object.assign({ kind: "answer", order_number: oneCell(input.dataset.orders),
        asked: input.dataset.asked, answer: input.value }, about)));
    }
  }
  for (const stop of handovers) {
    const given = { kind: "hand-over", bed: stop.dataset.place, initials: stop.dataset.initials };
    const time = field(stop, "ticked").value;
    const apart = field(stop, "special");
    if (time) lines.push(line(Object.assign({}, given, { outcome: "given away", time: time, note: shortfall(stop) })));
    if (apart && apart.checked) lines.push(line(Object.assign({}, given, { asked: "apart", answer: "yes" })));
  }
  return lines.map(function (one) { return one.map(cell).join(","); }).join("\r\n") + "\r\n";
}

function oneCell(orders) {
  return orders.split("\n").join("; ");
}

// After "part" the tubes that are ticked are those filled; a card with one tube that is short has none ticked.
function rowsOf(visit, outcome) {
  const tubes = tubesOf(visit);
  const rows = tubes.map(function (box) {
    return { order_number: oneCell(box.dataset.orders), tube: box.dataset.tube,
      outcome: outcome === "partial" && box.checked ? "collected" : outcome };
  });
  const named = tubes.map(function (box) { return box.dataset.orders; }).join("\n").split("\n");
  const rest = visit.dataset.orders.split("\n").filter(function (order) { return !named.includes(order); });
  return rows.concat(rest.map(function (order) { return { order_number: order }; }));
}

// Of a visit without an outcome the tubes that are ticked; the whole visit where none is.
function rowsSoFar(visit) {
  const rows = tubesOf(visit).filter(function (box) { return box.checked; }).map(function (box) {
    return { order_number: oneCell(box.dataset.orders), tube: box.dataset.tube };
  });
  return rows.length ? rows : [{ order_number: oneCell(visit.dataset.orders) }];
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
