// The rules of one visit: identity before an outcome, an outcome that agrees with its tubes, and words for a refusal.
const MIN_IDENTIFIERS = 2;
const WITHOUT_BLOOD = ["refused", "away", "unidentified", "unsuccessful"];
const WITHOUT_IDENTITY = ["away", "unidentified"];
const IDENTITY_FIRST = "Not accepted: identity comes first. Ask for name and birth date, compare with the wristband, tick "
  + "at least two. No identity: do not draw; choose no identity, and phone.";

function field(stop, name) {
  return stop.querySelector('[data-keep$="-' + name + '"]');
}

function ticked(stop, selector) {
  return Array.from(stop.querySelectorAll(selector)).filter(function (box) { return box.checked; });
}

function isIdentified(visit) {
  return ticked(visit, "[data-identifier]").length >= MIN_IDENTIFIERS;
}

// The containers that the laboratory gets: a discard tube serves no order.
function tubesOf(visit) {
  return Array.from(visit.querySelectorAll("[data-tube]")).filter(function (box) { return box.dataset.orders; });
}

function outcomeBox(visit) {
  return visit.querySelector('input[type="radio"]:checked');
}

function outcomeOf(visit) {
  const chosen = outcomeBox(visit);
  return chosen ? chosen.value : "";
}

function unfilled(visit) {
  return tubesOf(visit).filter(function (box) { return !box.checked; });
}

// What the card asks to write and nobody has written.
function unwritten(visit) {
  return Array.from(visit.querySelectorAll("[data-asked]")).filter(function (input) { return !input.value; });
}

function names(tubes) {
  return tubes.map(function (box) { return box.dataset.tube; }).join(", ");
}

// Says why an outcome cannot be: empty where it can.
function objection(visit, outcome) {
  const tubes = tubesOf(visit);
  const filled = tubes.filter(function (box) { return box.checked; });
  if (!WITHOUT_IDENTITY.includes(outcome) && !isIdentified(visit)) return IDENTITY_FIRST;
  if (outcome === "collected" && filled.length && filled.length < tubes.length) {
    return "Not accepted: tube " + names(unfilled(visit)) + " is not ticked. Tick it if it is full, or choose part.";
  }
  if (outcome === "partial" && tubes.length > 1 && !filled.length) {
    return "Not accepted: tick the tubes that you filled, then choose part.";
  }
  if (outcome === "partial" && filled.length && filled.length === tubes.length) {
    return "Not accepted: every tube is ticked. Untick those that are not full, or choose all.";
  }
  if (WITHOUT_BLOOD.includes(outcome) && filled.length) {
    return "Not accepted: tube " + names(filled) + " is ticked as filled. Choose part, or untick it.";
  }
  if (outcome === "unidentified" && isIdentified(visit)) {
    return "Not accepted: two identifiers are ticked. Untick what you could not compare with the wristband.";
  }
  return "";
}

function say(visit, refusal) {
  const chosen = outcomeBox(visit);
  visit.querySelector(".refusal").textContent = refusal;
  visit.querySelector(".meaning").textContent = chosen ? chosen.dataset.meaning : "";
}

// An outcome says when it was ticked, never when the blood was drawn: that has a button of its own.
// A second tick on the outcome that is chosen takes it back.
function choose(visit, radio) {
  const before = visit.dataset.outcome || "";
  if (before === radio.value) {
    takeBack(visit, "");
    return;
  }
  const refusal = objection(visit, radio.value);
  if (refusal) {
    for (const other of visit.querySelectorAll('input[type="radio"]')) other.checked = other.value === before;
    say(visit, refusal);
    return;
  }
  if (radio.value === "collected") {
    for (const box of visit.querySelectorAll("[data-tube]")) box.checked = true;
  }
  field(visit, "ticked").value = clock();
  if (!field(visit, "initials").value) field(visit, "initials").value = visit.dataset.initials;
  visit.dataset.outcome = radio.value;
  const asked = WITHOUT_BLOOD.includes(radio.value) ? [] : unwritten(visit);
  const labels = asked.map(function (input) { return input.closest("label").querySelector("span").textContent.trim(); });
  say(visit, labels.length ? "Kept, but not written yet: " + labels.join("; ") + ". Write it, or say why not." : "");
}

function takeBack(visit, why) {
  const chosen = outcomeBox(visit);
  if (chosen) chosen.checked = false;
  field(visit, "ticked").value = "";
  visit.dataset.outcome = "";
  say(visit, why);
}

// No tube is ticked before its patient is known; one that was filled is ticked when the identity is.
function tickTube(visit, box) {
  if (box.dataset.tube === undefined || !box.checked || isIdentified(visit)) return true;
  box.checked = false;
  say(visit, IDENTITY_FIRST);
  return false;
}

// On which side of its times a draw lies: early, late, past-target (of an urgent draw), or none of them. Without a time
// of the draw its tick says at least that it was not later.
function side(visit) {
  const limits = visit.dataset;
  const drawn = field(visit, "time").value;
  const known = drawn || (outcomeOf(visit) ? field(visit, "ticked").value : "");
  if (!known || !limits.planned || WITHOUT_BLOOD.includes(outcomeOf(visit))) return "";
  const after = function (limit) { return secondsAfter(known, limits.planned) - secondsAfter(limit, limits.planned); };
  if (limits.earliest && after(limits.earliest) < 0) return "early";
  if (drawn && limits.latest && after(limits.latest) > 0) return "late";
  return drawn && limits.wish && after(limits.wish) >= 60 ? "past-target" : "";
}

// Says what to do about such a draw. Its time is kept: what happened is recorded.
function outside(visit) {
  const limits = visit.dataset;
  const kept = "Time kept: " + (field(visit, "time").value || field(visit, "ticked").value) + " is ";
  const ask = ". OUTSIDE ITS TIME: phone the lead, and ask the laboratory whether it counts. Write the answer in Note.";
  return {
    early: kept + "before " + limits.earliestSaid + ask,
    late: kept + "after " + limits.latestSaid + ask,
    "past-target": kept + "after " + limits.wishSaid + ". LATE: phone the lead.",
  }[side(visit)] || "";
}

// A box that is ticked or unticked later must still agree with the outcome.
function judgeAgain(visit) {
  const outcome = outcomeOf(visit);
  if (!outcome) {
    say(visit, "");
    return;
  }
  const open = unfilled(visit);
  const lacks = outcome === "collected" && open.length
    ? "Tube " + names(open) + " is not ticked any more: choose part, or tick it and choose all."
    : objection(visit, outcome).replace("Not accepted: ", "");
  if (lacks) takeBack(visit, "The outcome is taken back. " + lacks);
}

function stamp(visit, button) {
  const moment = field(visit, button.dataset.now.replace(/^.*-/, ""));
  moment.value = clock();
  if (moment === field(visit, "time") && !isIdentified(visit)) {
    say(visit, "The time is kept. Identity is not ticked: was it checked?");
  }
}

// A time that cannot be one is not kept: the field shows what it held before.
function checkTime(input) {
  const time = input.value.trim() === "" ? "" : timeOf(input.value);
  const stop = input.closest("article");
  if (time === null) {
    if (stop.matches(".visit")) say(stop, input.value + " is no time of day: write 0712 or 07:12:30.");
    input.value = kept.values[input.dataset.keep] || "";
  } else {
    input.value = time;
  }
}
