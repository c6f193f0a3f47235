// The card at the end of a route: what is still open, what went where, what was not drawn and who was told.
function made(tag, text, href) {
  const element = document.createElement(tag);
  element.textContent = text;
  if (href) element.href = href;
  return element;
}

const MOST_OPEN = 5;

// A list with its heading: stops to go to, with what is said of each.
function listed(title, lines, none, more) {
  const part = document.createElement("div");
  part.append(made("h4", title));
  if (!lines.length) {
    part.append(made("p", none));
    return part;
  }
  const list = document.createElement("ul");
  for (const one of lines) {
    const item = document.createElement("li");
    item.append(made("a", one.stop.dataset.number + " " + one.stop.dataset.called, "#" + one.stop.id));
    if (one.said) item.append(": " + one.said);
    list.append(item);
  }
  part.append(list);
  if (more) part.append(made("p", "and " + more + " more"));
  return part;
}

function lacking(visit) {
  return unfilled(visit).map(function (box) { return "tube " + box.dataset.called; }).join(", ");
}

function notDrawn(visit) {
  const word = outcomeBox(visit).closest("label").textContent.trim();
  const who = field(visit, "told").value;
  const at = field(visit, "told_at").value;
  const which = outcomeOf(visit) === "partial" && lacking(visit) ? " (not full: " + lacking(visit) + ")" : "";
  return word + which + (who ? "; told " + who + (at ? " at " + at : "") : "; NOBODY TOLD YET");
}

function givenWords(stop) {
  return ["given away " + field(stop, "ticked").value, shortfall(stop)].filter(Boolean).join(", ");
}

// What a visit that is done leaves blank: when it was drawn, what the card asked.
function blanks(visit) {
  if (!["collected", "partial"].includes(outcomeOf(visit))) return "";
  const asked = unwritten(visit).map(function (input) { return input.closest("label").textContent.trim(); });
  return (field(visit, "time").value ? [] : ["time of the draw"]).concat(asked).join(", ");
}

function account(route) {
  const stops = stopsOf(route);
  const over = passedOver(stops);
  const open = over.concat(stops.filter(function (stop) { return !isDone(stop) && !over.includes(stop); }));
  const of = function (kind) { return stops.filter(function (stop) { return stop.matches(kind); }); };
  const given = of(".handover").map(function (stop) {
    return { stop: stop, said: isDone(stop) ? givenWords(stop) : "not ticked" };
  });
  const not = of(".visit").filter(isDone).filter(function (stop) { return outcomeOf(stop) !== "collected"; });
  const parts = [
    listed(open.length ? "Still open" : "Nothing left",
      open.slice(0, MOST_OPEN).map(function (stop) { return { stop: stop }; }),
      "Every stop of this route is ticked. Save the file and give it to the lead.",
      Math.max(0, open.length - MOST_OPEN)),
    listed("What went where", given, "This route has no hand-over."),
    listed("Not drawn, or not all", not.map(function (stop) { return { stop: stop, said: notDrawn(stop) }; }),
      "Nothing so far."),
  ];
  const blank = of(".visit").map(function (stop) { return { stop: stop, said: blanks(stop) }; });
  if (blank.some(function (one) { return one.said; })) {
    parts.push(listed("Not written yet", blank.filter(function (one) { return one.said; }), ""));
  }
  const out = of(".visit").map(function (stop) { return { stop: stop, said: outside(stop) }; });
  if (out.some(function (one) { return one.said; })) {
    parts.push(listed("Drawn outside its time", out.filter(function (one) { return one.said; }), ""));
  }
  route.querySelector(".account").replaceChildren.apply(route.querySelector(".account"), parts);
}
