"""Changes of who collects: held up, out, joining; and what of it happened earlier in the morning."""

from __future__ import annotations

from planner.domain.places import PlaceId, PlaceKind
from planner.domain.revisions.changes import Join, Late, Lost, NeverCame
from planner.domain.revisions.events import (
    PhlebotomistJoined,
    PhlebotomistLate,
    PhlebotomistLost,
    PhlebotomistNeverCame,
)
from planner.domain.staff import Phlebotomist, find_people, misspelt, plain_name, which_person
from planner.replanning.changes.new_beds import can_reach
from planner.replanning.changes.perform import do
from planner.replanning.changes.working import Working
from planner.units import minutes_to_s


def recall_people(work: Working) -> None:
    """Take up who is out and who is held up, as happened earlier in the morning."""
    work.lost.update(lost.phlebotomist for lost in work.happened(PhlebotomistLost))
    work.lost.update(absent.phlebotomist for absent in work.happened(PhlebotomistNeverCame))
    for late in work.happened(PhlebotomistLate):
        if late.ready_s > work.now_s and late.phlebotomist not in work.lost:
            work.ready_s[late.phlebotomist] = late.ready_s


def apply_late(work: Working, change: Late) -> None:
    """Keep somebody from going on before an instant: minutes count from now, or from the begin of a later shift."""
    index = _find(work, change.name)
    if index is None:
        return
    who = work.staff[index]
    if change.minutes is not None:
        ready_s = max(work.now_s, who.from_s) + minutes_to_s(change.minutes)
        words = f"{who.initials} late by {change.minutes} minutes"
        advice = f". If it is another delay, write until when: {who.initials}=HH:MM"
    else:
        assert change.until_wall_s is not None
        ready_s = work.near_now(change.until_wall_s)
        words, advice = f"{who.initials} late until {work.words(ready_s)}", ""
    until_s = ready_s if change.minutes is None else None
    what = PhlebotomistLate(phlebotomist=index, minutes=change.minutes, until_s=until_s, ready_s=ready_s)
    if work.knows(what):
        work.say_known(words, advice)
    elif index in work.lost:
        work.error("person-out", f"{who.initials} collects no more; {words} changes nothing")
    elif ready_s <= work.now_s:
        work.error("change-in-the-past", f"{words}: that is over at {work.words(work.now_s)}; nothing was changed")
    else:
        do(work, what)


def apply_lost(work: Working, change: Lost) -> None:
    """Take somebody out of the rest of the round; what she collected stays hers."""
    index = _find(work, change.name)
    if index is None:
        return
    if index in work.lost:
        work.say_known(f"{work.staff[index].initials} collects no more")
        return
    do(work, PhlebotomistLost(phlebotomist=index))


def apply_never_came(work: Working, change: NeverCame) -> None:
    """Take somebody out of the whole round, with all that was assumed of them; who reported something has come."""
    index = _find(work, change.name)
    if index is None:
        return
    who, what = work.staff[index].initials, PhlebotomistNeverCame(phlebotomist=index)
    if work.knows(what):
        work.say_known(f"{who} never came")
    elif work.has_reported(index):
        message = f"{who} has drawn: visits of theirs were reported. If they collect no more, give --lost {who}"
        work.error("person-came", message)
    else:
        do(work, what)


def apply_join(work: Working, change: Join) -> None:
    """Add somebody who collects from the base on, at the end of the staff."""
    words = f"{change.name} joins"
    if any(plain_name(change.name) in (plain_name(p.name), plain_name(p.initials)) for p in work.staff):
        if any(plain_name(joined.name) == plain_name(change.name) for joined in work.happened(PhlebotomistJoined)):
            work.say_known(words)
        else:
            message = f"{change.name!r} collects in this round already; write another name, such as {change.name} 2"
            work.error("person-known", message)
        return
    from_s = max(work.near_now(change.from_wall_s), work.now_s)
    end_s = max(p.until_s for p in work.staff)
    until_s = end_s if change.until_wall_s is None else work.near_now(change.until_wall_s)
    if until_s <= from_s:
        message = (
            f"{words}: the time ends at {work.words(until_s)}, before it begins at {work.words(from_s)}; correct it"
        )
        work.error("change-in-the-past", message)
        return
    base = _base(work)
    if not can_reach(work, base):
        return
    initials = _initials(work, change.name)
    person = Phlebotomist(name=change.name, initials=initials, from_s=from_s, until_s=until_s, starts_at=base)
    do(work, PhlebotomistJoined(name=change.name, person=person))


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
    """Return the index of the one person whom a text means; None: a finding."""
    found = find_people(work.staff, text)
    if len(found) == 1:
        return found[0]
    work.instead(text, "" if found else misspelt(work.staff, text))
    work.error("person-not-found", which_person(work.staff, text))
    return None
