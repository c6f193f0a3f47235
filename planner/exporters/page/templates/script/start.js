// Starts the page: what was kept comes back, every touch is a step that can be undone.
function refresh() {
  for (const visit of visits) {
    visit.dataset.outcome = outcomeOf(visit);
    say(visit, "");
  }
  show();
}

function clicked(event) {
  const control = event.target.closest("a, button, input");
  if (!control) return;
  const stop = control.closest("article");
  if (control.hash) {
    if (control.matches(".next") && stop && isDone(stop)) fold(stop, true);
    reveal(control.hash);
  }
  if (control.dataset.now) stamp(stop, control);
  if (control.dataset.do === "save") save();
  if (control.type === "radio") choose(stop, control);
  if (control.type === "checkbox" && stop.matches(".visit") && tickTube(stop, control)) judgeAgain(stop);
  if (control.type === "checkbox" && stop.matches(".handover")) giveAway(stop, control);
  if (control.dataset.now || control.dataset.keep) commit();
  show();
}

function typed(event) {
  if (!event.target.dataset.keep) return;
  if (event.type === "change" && event.target.dataset.time !== undefined) checkTime(event.target);
  if (event.type === "change") commit();
  else store(collect());
  if (event.type === "change") show();
}

function eraseByHand() {
  if (!window.confirm("Erase all ticks, times and notes of this sheet from this device?")) return;
  eraseAll();
  refresh();
}

function eraseInTime() {
  eraseOld();
  if (canKeep && !stored() && Object.keys(kept.values).length) {
    eraseAll();
    refresh();
  }
}

// The same sheet was touched in another tab: this one goes on from there, so that neither loses what the other kept.
function takeOver(event) {
  if (event.key !== body.dataset.key) return;
  kept = Object.assign({ values: {}, before: [] }, stored());
  restore(kept.values);
  refresh();
}

body.classList.add("live");
eraseOld();
kept = Object.assign(kept, stored());
restore(kept.values);
for (const part of document.querySelectorAll("[data-fold], article.stop")) makeFoldable(part);
if (window.matchMedia("(max-width: 40rem)").matches) {
  for (const part of document.querySelectorAll("[data-fold]")) fold(part, true);
}
document.querySelectorAll("figure").forEach(makeWider);
foldDone();
for (const hidden of document.querySelectorAll(".bar, .device")) hidden.hidden = false;
document.addEventListener("click", clicked);
document.addEventListener("change", typed);
document.addEventListener("input", typed);
undo.addEventListener("click", function () { stepBack(); refresh(); });
everybody.addEventListener("click", function () { only(0); });
document.getElementById("progress-clear").addEventListener("click", eraseByHand);
document.addEventListener("visibilitychange", eraseInTime);
window.addEventListener("storage", takeOver);
window.setInterval(eraseInTime, 60000);
window.addEventListener("hashchange", function () { reveal(window.location.hash); });
reveal(window.location.hash);
refresh();
if (!window.location.hash && onward.hash.startsWith("#stop") && visits.some(isDone)) {
  document.querySelector(onward.hash).scrollIntoView();
}
