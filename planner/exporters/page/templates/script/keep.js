// What this device keeps of the sheet: under a name without a patient, until some time after the end of the round.
const body = document.body;
const PREFIX = "round-sheet|";
const MOST_STEPS_BACK = 20;
const controls = Array.from(document.querySelectorAll("[data-keep]"));
let canKeep = true;
let kept = { values: {}, before: [] };

function stored() {
  try {
    return JSON.parse(window.localStorage.getItem(body.dataset.key) || "null");
  } catch (error) {
    canKeep = false;
    return null;
  }
}

function keepsUntil() {
  return Math.max(Date.parse(body.dataset.ends) || 0, Date.now()) + Number(body.dataset.keepS) * 1000;
}

function store(values) {
  try {
    const all = { until: keepsUntil(), values: values, before: kept.before };
    window.localStorage.setItem(body.dataset.key, JSON.stringify(all));
  } catch (error) {
    canKeep = false;
  }
}

// Erases what any sheet of any round left on this device and should be there no more.
function eraseOld() {
  try {
    for (const name of Object.keys(window.localStorage)) {
      if (!name.startsWith(PREFIX)) continue;
      const until = (JSON.parse(window.localStorage.getItem(name)) || {}).until;
      if (!(until >= Date.now())) window.localStorage.removeItem(name);
    }
  } catch (error) {
    canKeep = false;
  }
}

function eraseAll() {
  try {
    window.localStorage.removeItem(body.dataset.key);
  } catch (error) {
    canKeep = false;
  }
  kept = { values: {}, before: [] };
  restore({});
}

function valueOf(control) {
  if (control.type === "checkbox") return control.checked;
  if (control.type === "radio") return control.checked ? control.value : undefined;
  return control.value;
}

function collect() {
  const values = {};
  for (const control of controls) {
    const value = valueOf(control);
    if (value !== undefined && value !== "" && value !== false) values[control.dataset.keep] = value;
  }
  return values;
}

function restore(values) {
  for (const control of controls) {
    const value = values[control.dataset.keep];
    if (control.type === "checkbox") control.checked = value === true;
    else if (control.type === "radio") control.checked = value === control.value;
    else control.value = value === undefined ? "" : value;
  }
}

// Ends a step: what it changed is kept, so that it can be taken back.
function commit() {
  const values = collect();
  const changed = {};
  for (const name of Object.keys(Object.assign({}, kept.values, values))) {
    if (kept.values[name] !== values[name]) changed[name] = kept.values[name] === undefined ? null : kept.values[name];
  }
  if (!Object.keys(changed).length) return;
  kept.before = kept.before.concat([changed]).slice(-MOST_STEPS_BACK);
  kept.values = values;
  store(values);
}

function stepBack() {
  const changed = kept.before.pop() || {};
  for (const name of Object.keys(changed)) {
    if (changed[name] === null) delete kept.values[name];
    else kept.values[name] = changed[name];
  }
  restore(kept.values);
  store(kept.values);
}
