"""Changes of who collects: held up, out, joining; and what earlier revisions were told of it."""

from __future__ import annotations

import re

from planner.domain.changes import Join, Late, Lost
from planner.domain.places import PlaceId, PlaceKind
from planner.domain.staff import Phlebotomist
from planner.replanning.changes.new_beds import can_reach
from planner.replanning.changes.working import Working
from planner.units import SECONDS_PER_HOUR, SECONDS_PER_MINUTE, RoundClock, minutes_to_s

_LATE = re.compile(r"^(?P<who>.+?) late (?:by \d+ minutes|until [\d: -]+) \(not before (?P<at>.+)\)$")
_OUT = re.compile(r"^(?P<who>.+?) collects no more \(")


def recall_people(work: Working) -> None:
    """Take up who is out and who is held up, as earlier revisions were told."""
    index = {p.initials: n for n, p in enumerate(work.staff)}
    for text in work.problem.replan.known if work.problem.replan else ():
        if (match := _OUT.match(text)) and match["who"] in index:
            work.lost.add(index[match["who"]])
        elif (match := _LATE.match(text)) and match["who"] in index:
            ready_s = _read_words(match["at"], work.clock)
            if ready_s > work.now_s:
                work.ready_s[index[match["who"]]] = max(ready_s, work.ready_s.get(index[match["who"]], 0))


def _read_words(text: str, clock: RoundClock) -> int:
    """Return the second of a clock time as `RoundClock.format_clock` writes it."""
    if " " in text:
        return clock.from_iso(text)
    hours, minutes = map(int, text.split(":"))
    return clock.wall_to_s(hours * SECONDS_PER_HOUR + minutes * SECONDS_PER_MINUTE)


def apply_late(work: Working, change: Late) -> None:
    """Keep somebody from going on before an instant: minutes count from now, or from the begin of a later shift."""
    index = _find(work, change.name)
    if index is None:
        return
    who = work.staff[index]
    if change.minutes is not None:
        ready_s = max(work.now_s, who.from_s) + minutes_to_s(change.minutes)
        key = f"{who.initials} late by {change.minutes} minutes"
        advice = f". If it is another delay, write until when: {who.initials}=HH:MM"
    else:
        assert change.until_wall_s is not None
        ready_s = work.near_now(change.until_wall_s)
        key, advice = f"{who.initials} late until {work.words(ready_s)}", ""
    if work.known(key):
        work.say_known(key, advice)
    elif index in work.lost:
        work.error("person-out", f"{who.initials} collects no more; {key} changes nothing")
    elif ready_s <= work.now_s:
        work.error("change-in-the-past", f"{key}: that is over at {work.words(work.now_s)}; nothing was changed")
    else:
        work.ready_s[index] = ready_s
        work.given.append(f"{key} (not before {work.words(ready_s)})")


def apply_lost(work: Working, change: Lost) -> None:
    """Take somebody out of the rest of the round; what she collected stays hers."""
    index = _find(work, change.name)
    if index is None:
        return
    key = f"{work.staff[index].initials} collects no more"
    if index in work.lost:
        work.say_known(key)
        return
    work.lost.add(index)
    work.ready_s.pop(index, None)
    work.given.append(f"{key} (from {work.words(work.now_s)})")


def apply_join(work: Working, change: Join) -> None:
    """Add somebody who collects from the base on, at the end of the staff."""
    key = f"{change.name} joins"
    if any(_plain(change.name) in (_plain(p.name), _plain(p.initials)) for p in work.staff):
        if work.known(key):
            work.say_known(key)
        else:
            message = f"{change.name!r} collects in this round already; write another name, such as {change.name} 2"
            work.error("person-known", message)
        return
    from_s = max(work.near_now(change.from_wall_s), work.now_s)
    end_s = max(p.until_s for p in work.staff)
    until_s = end_s if change.until_wall_s is None else work.near_now(change.until_wall_s)
    if until_s <= from_s:
        message = f"{key}: the time ends at {work.words(until_s)}, before it begins at {work.words(from_s)}; correct it"
        work.error("change-in-the-past", message)
        return
    base = _base(work)
    if not can_reach(work, base):
        return
    initials = _initials(work, change.name)
    work.staff.append(Phlebotomist(name=change.name, initials=initials, from_s=from_s, until_s=until_s, starts_at=base))
    span = f"{work.words(from_s)} to {work.words(until_s)}"
    work.given.append(f"{key} (as {initials}, {span}, from {work.places[base].label or base})")


def _base(work: Working) -> PlaceId:
    """Return where most people start, at a base if anybody does."""
    starts = [p.starts_at for p in work.staff]
    bases = [p for p in starts if work.places[p].kind is PlaceKind.BASE] or starts
    return max(sorted(set(bases)), key=bases.count)


def _initials(work: Working, name: str) -> str:
    """Return initials that nobody else has."""
    taken = {p.initials for p in work.staff}
    stem = "".join(part[0] for part in name.split()).upper()
    initials, number = stem, len(work.staff) + 1
    while initials in taken:
        initials = f"{stem}{number}"
        number += 1
    return initials


def _find(work: Working, text: str) -> int | None:
    """Return the index of the one person with these initials, this name, or this part of a name; None: a finding."""
    wanted = _plain(text)
    by_initials = [n for n, p in enumerate(work.staff) if _plain(p.initials) == wanted]
    by_name = [n for n, p in enumerate(work.staff) if _plain(p.name) == wanted]
    by_part = [n for n, p in enumerate(work.staff) if wanted in map(_plain, re.split(r"[\s-]+", p.name))]
    found = by_initials or by_name or by_part
    if len(found) == 1:
        return found[0]
    people = ", ".join(
        f"{p.initials} ({p.name})" for p in (work.staff if not found else [work.staff[n] for n in found])
    )
    what = "can be several of" if found else "is none of"
    work.error("person-not-found", f"{text!r} {what} those who collect: {people}; write the initials")
    return None


def _plain(text: str) -> str:
    return " ".join(text.casefold().split())
