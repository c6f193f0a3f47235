// The stops in their order: which are done, how they are called, what became of them.
const visits = Array.from(document.querySelectorAll("article.visit"));
const handovers = Array.from(document.querySelectorAll("article.handover"));
const routes = Array.from(document.querySelectorAll("section.route"));

function stopsOf(route) {
  return Array.from(route.querySelectorAll("article.stop"));
}

function isDone(stop) {
  if (stop.matches(".visit")) return outcomeOf(stop) !== "";
  return field(stop, stop.matches(".handover") ? "tubes" : "taken").checked;
}

function resultOf(stop) {
  if (!isDone(stop)) return "";
  if (stop.matches(".rest")) return "taken";
  if (stop.matches(".handover")) return "given " + field(stop, "ticked").value;
  const drawn = field(stop, "time").value;
  const word = outcomeBox(stop).closest("label").textContent.trim();
  return word + " " + (drawn || field(stop, "ticked").value);
}

// The first stop that is open behind the last one done; else the first that was passed over.
function nextOf(stops) {
  const last = stops.map(isDone).lastIndexOf(true);
  return stops.slice(last + 1).concat(stops).find(function (stop) { return !isDone(stop); });
}

function passedOver(stops) {
  const last = stops.map(isDone).lastIndexOf(true);
  return stops.slice(0, last + 1).filter(function (stop) { return !isDone(stop); });
}

// The tubes of the cards above that are to be given away at a stop: those ticked as filled, and all of them.
function tubesFor(stop) {
  const boxes = Array.from(document.querySelectorAll('[data-given="' + stop.id + '"]'));
  return { all: boxes, filled: boxes.filter(function (box) { return box.checked; }) };
}

// Such as "3 of 5 tubes ticked as filled"; empty where all are.
function shortfall(stop) {
  const tubes = tubesFor(stop);
  return tubes.filled.length === tubes.all.length
    ? "" : tubes.filled.length + " of " + tubes.all.length + " tubes ticked as filled";
}

// Says at a hand-over how many tubes there are to give, as ticked, and which stops lack some.
function countTubes(stop) {
  const tubes = tubesFor(stop);
  const before = Number(stop.dataset.tubes) - tubes.all.length;
  const lack = visits.map(function (visit) {
    const mine = tubes.all.filter(function (box) { return visit.contains(box); });
    const has = mine.filter(function (box) { return box.checked; }).length;
    return mine.length > has ? visit.dataset.called.replace(/ [^ ]*$/, "") + " " + has + " of " + mine.length : "";
  }).filter(Boolean);
  stop.querySelector(".filled").textContent = "Ticked as filled: " + tubes.filled.length + " of " + tubes.all.length
    + (before > 0 ? ", and " + before + " from before this sheet" : "") + (lack.length ? " (" + lack.join(", ") + ")" : "")
    + ". Count what you give.";
}

// The box of the tubes says that they were given away; the one beside it only reminds of what travels apart.
function giveAway(stop, box) {
  if (box === field(stop, "tubes")) field(stop, "ticked").value = box.checked ? clock() : "";
}
