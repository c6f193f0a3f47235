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

// The box of the tubes says that they were given away; the one beside it only reminds of what travels apart.
function giveAway(stop, box) {
  if (box === field(stop, "tubes")) field(stop, "ticked").value = box.checked ? clock() : "";
}
