// Clock times as the ward writes them: 24 hours in every country, to the second where a button stamps them.
function two(number) {
  return String(number).padStart(2, "0");
}

function clock() {
  const now = new Date();
  return [now.getHours(), now.getMinutes(), now.getSeconds()].map(two).join(":");
}

function dayAndTime(moment) {
  const day = [moment.getFullYear(), two(moment.getMonth() + 1), two(moment.getDate())].join("-");
  return day + " " + two(moment.getHours()) + ":" + two(moment.getMinutes());
}

// Seconds by which one clock time lies after another, on the day that brings them nearest; times as HH:MM or HH:MM:SS.
function secondsAfter(time, other) {
  const seconds = function (text) {
    return text.split(":").reduce(function (sum, part, at) { return sum + Number(part) * [3600, 60, 1][at]; }, 0);
  };
  const day = 86400;
  return (((seconds(time) - seconds(other) + 1.5 * day) % day) + day) % day - day / 2;
}

// Returns "07:12" for 712, 07.12 or 7:12, "07:12:30" for 071230, and null for what is no time of a day.
function timeOf(typed) {
  const parts = /^\s*(\d{1,2})[:.h ]?(\d{2})(?:[:.m ]?(\d{2}))?\s*$/i.exec(typed);
  if (!parts) return null;
  const numbers = parts.slice(1).filter(function (part) { return part !== undefined; });
  const fits = numbers.every(function (part, at) { return Number(part) < (at ? 60 : 24); });
  return fits ? numbers.map(function (part) { return two(Number(part)); }).join(":") : null;
}
