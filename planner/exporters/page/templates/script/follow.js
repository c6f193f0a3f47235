// Follows the round: the line that stays in sight, cards that fold when they are done, one person's route alone.
const count = document.getElementById("progress-count");
const onward = document.getElementById("progress-next");
const undo = document.getElementById("progress-undo");
const device = document.getElementById("device-words");
const everybody = document.getElementById("progress-everybody");
const FOLDED = "folded";

function shown() {
  return routes.filter(function (route) { return !route.classList.contains("elsewhere"); });
}

// Leaves one route on the screen; 0 shows all. Paper has them all.
function only(number) {
  for (const route of routes) {
    route.classList.toggle("elsewhere", number !== 0 && Number(route.dataset.route) !== number);
  }
  everybody.hidden = routes.length < 2 || number === 0;
}

function show() {
  const open = shown();
  const one = open.length === 1 ? open[0] : null;
  const mine = visits.filter(function (visit) { return open.includes(visit.closest(".route")); });
  const done = mine.filter(isDone).length;
  const stops = one ? stopsOf(one) : [];
  const over = passedOver(stops).length;
  onward.hidden = !one && routes.length < 2;
  count.textContent = done + " of " + mine.length + (over ? ", " + over + " passed over" : "") + (onward.hidden ? "" : ",");
  const next = nextOf(stops);
  if (!one) {
    onward.textContent = "choose your name";
    onward.href = "#people";
  } else {
    onward.textContent = next ? "next " + next.dataset.called : "nothing left";
    onward.href = next ? "#" + next.id : "#" + one.querySelector(".end").id;
  }
  undo.disabled = !kept.before.length;
  for (const stop of document.querySelectorAll("article.stop")) {
    stop.querySelector(".result").textContent = resultOf(stop);
    stop.classList.toggle("reported", isDone(stop));
    stop.querySelector(".unfold").tabIndex = mayFold(stop) ? 0 : -1;
    if (!isDone(stop)) fold(stop, false);
  }
  for (const visit of visits) {
    const words = outside(visit);
    const said = visit.querySelector(".outside");
    if (said.textContent !== words) said.textContent = words;
    visit.querySelector(".outcome").classList.toggle("explains", words !== "" || !["", "collected"].includes(outcomeOf(visit)));
  }
  handovers.forEach(countTubes);
  routes.forEach(account);
  device.textContent = canKeep
    ? "Ticks, times and notes stay on this device alone, until " + dayAndTime(new Date(keepsUntil()))
      + " or until you erase them. Save the file for the lead first."
    : "This device keeps nothing: save the file before you close the page.";
}

function fold(part, isFolded) {
  part.classList.toggle(FOLDED, isFolded);
  const button = part.querySelector(".unfold");
  button.setAttribute("aria-expanded", String(!isFolded));
}

// Gives a part a button in its heading that folds it; on paper nothing is folded.
function makeFoldable(part) {
  const heading = part.querySelector("h2, h3");
  const button = made("button", "");
  button.type = "button";
  button.className = "unfold";
  button.append.apply(button, Array.from(heading.childNodes));
  heading.append(button);
  button.addEventListener("click", function () {
    if (mayFold(part)) fold(part, !part.classList.contains(FOLDED));
  });
  fold(part, false);
}

// A stop that is open stays so: a thumb on its head must not hide a patient.
function mayFold(part) {
  return !part.matches("article.stop") || isDone(part) || part.classList.contains(FOLDED);
}

function foldDone() {
  for (const stop of document.querySelectorAll("article.stop")) fold(stop, isDone(stop));
}

// A picture that fits the screen may be too small to read: a button shows it at its own size, to move under the thumb.
function makeWider(figure) {
  const button = made("button", "Larger");
  button.type = "button";
  button.addEventListener("click", function () {
    button.textContent = figure.classList.toggle("wider") ? "Fit" : "Larger";
  });
  figure.before(button);
}

// Shows what a link leads to, even where that is folded or on another route.
function reveal(hash) {
  const target = hash.length > 1 && document.getElementById(decodeURIComponent(hash.slice(1)));
  if (!target) return;
  if (target.closest(".elsewhere") || target.matches(".route")) only(Number(target.closest(".route").dataset.route));
  for (let part = target; part; part = part.parentElement) {
    if (part.classList.contains(FOLDED)) fold(part, false);
  }
}
