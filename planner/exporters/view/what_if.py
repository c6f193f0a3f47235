"""Builds the what-if card of one route: for each thing that may go wrong there, what to do, to write, whom to phone.

The words are those of ``planner/laboratory/what_if.csv``, or the site's own (policy ``sheet.what_if_do`` and the like).
What stands in braces in them is worked out from the route. A line that cannot occur on the route is left out.
"""

from __future__ import annotations

import csv
import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache

from planner.domain.catalogue import Handling
from planner.domain.derived.metrics import natural_key
from planner.domain.orders import Patient, PatientId
from planner.domain.places import PickupKind
from planner.domain.plan import Handover, Route
from planner.domain.policy import EVERYBODY
from planner.domain.what_if import WhatIf
from planner.exporters.view.cards.blood import ceiling_words
from planner.exporters.view.cards.fasting import fasting_questions
from planner.exporters.view.context import ViewContext, born_words, name_words
from planner.exporters.view.handovers import TOO_LATE, limit_of, other_way
from planner.exporters.view.rows import WhatIfLine
from planner.exporters.view.slack import Loss, RouteSlack
from planner.exporters.view.stop_view import container_label
from planner.exporters.view.texts import TextCleaner, laboratory_text
from planner.exporters.view.words import PHONES, join_words, ranges_words
from planner.units import minutes_to_s

LATE_S = minutes_to_s(15)
"""How late the card supposes a round to run: what is lost then is printed (our choice)."""

_LEAST_ALIKE = 5
"""Family names of so many letters that differ in one are alike; of shorter ones that would be most (our choice)."""

_LOSS = {
    Loss.TIME_OVER: "its time is over",
    Loss.LATE: "late",
    Loss.COURIER: "courier missed",
    Loss.TOO_OLD: "a tube too old",
    Loss.WANTED: "stat or asap late at the laboratory",
    Loss.NEEDED: "later than the ward needs it",
    Loss.AWAY: "patient away",
    Loss.OTHER_DRAW: "gap to another draw not kept",
    Loss.BREAK: "no break",
    Loss.SHIFT: "past the end of the shift",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    title: str
    do: str
    write: str
    phone: str


@lru_cache(maxsize=1)
def _rows() -> dict[WhatIf, _Row]:
    """Return the card's own words.

    Raises
    ------
    ValueError
        If the file names an event that there is not, or lacks one.
    """
    rows = csv.DictReader(laboratory_text("what_if.csv").splitlines())
    found = {WhatIf(row.pop("event")): _Row(**row) for row in rows}
    if missing := [event.value for event in WhatIf if event not in found]:
        raise ValueError(f"what_if.csv has no line for {', '.join(missing)}")
    return found


def what_if_lines(context: ViewContext, route: Route, slack: RouteSlack) -> tuple[WhatIfLine, ...]:
    """Return the lines of the card of a route, none for a route without stops to come."""
    if not context.coming(route):
        return ()
    known = dict(_known(context, route, slack))
    return tuple(_line(context, event, row, known) for event, row in _rows().items() if _may_occur(event, known))


_NEEDS = {
    WhatIf.TUBE_DOWN: "other_ways",
    WhatIf.COURIER_MISSED: "next_couriers",
    WhatIf.PATIENT_ATE: "asks_food",
    WhatIf.LIKE_NAMES: "like_names",
    WhatIf.RUNNING_LATE: "lost",
}
"""What must be known of a route for an event to occur there; others always may."""

_AT_A_BED = frozenset(WhatIf) - {WhatIf.TUBE_DOWN, WhatIf.COURIER_MISSED, WhatIf.RUNNING_LATE, WhatIf.NEEDLESTICK}


def _may_occur(event: WhatIf, known: Mapping[str, str]) -> bool:
    if event in _AT_A_BED and not known["visits"]:
        return False
    return event not in _NEEDS or bool(known[_NEEDS[event]])


def _line(context: ViewContext, event: WhatIf, row: _Row, known: Mapping[str, str]) -> WhatIfLine:
    site = context.problem.policy.sheet
    do, write, phone = (
        context.clean(own.get(event) or words)
        for own, words in ((site.what_if_do, row.do), (site.what_if_write, row.write), (site.what_if_phone, row.phone))
    )
    return WhatIfLine(
        event=event,
        title=row.title,
        do=" ".join(_filled(do, known).split()),
        write=_filled(write, known),
        phone=_with_numbers(context, _filled(phone, known)),
    )


def _filled(words: str, known: Mapping[str, str]) -> str:
    """Return words with what is known in place of names in braces; other braces are left as they are."""
    return re.sub(r"\{(\w+)\}", lambda found: known.get(found[1], found[0]), words)


def _with_numbers(context: ViewContext, words: str) -> str:
    """Return whom to phone with the site's number behind each role: 'lead 2165'."""
    phones = context.problem.policy.sheet.phones
    return "; ".join(_with_number(part.strip(), phones, context.clean) for part in words.split(";") if part.strip())


def _with_number(words: str, phones: Mapping[str, str], clean: TextCleaner) -> str:
    """Return 'lead 2165 if STAT' for 'lead if STAT'; a site may have called the lead 'round lead'."""
    for who, number in phones.items():
        role = next((name for name in PHONES if who.casefold().endswith(name) and words.startswith(name)), "")
        if role:
            return f"{role} {clean(number)}{words.removeprefix(role)}"
    return f"{words} ({clean(phones[EVERYBODY])})" if EVERYBODY in phones else words


def _known(context: ViewContext, route: Route, slack: RouteSlack) -> Iterator[tuple[str, str]]:
    """Yield what the words may name, by name; empty where the route has nothing of the kind."""
    visits = context.visits_to_come(route)
    yield "visits", str(len(visits) or "")
    yield "other_ways", _other_ways(context, route, PickupKind.TUBE)
    yield "next_couriers", _other_ways(context, route, PickupKind.COURIER)
    yield "must_be_full", _must_be_full(context, route)
    asks = any(
        fasting_questions(context, visit, context.problem.patients[visit.patient_id], context.orders_of(visit))
        for visit in visits
    )
    yield "asks_food", "yes" if asks else ""
    yield "like_names", "; ".join(_like_names(context, route))
    number = context.clean(context.problem.policy.sheet.needlestick_phone)
    yield "needlestick_phone", f" (phone {number})" if number else ""
    yield "lost", _lost(context, route, slack)


def _other_ways(context: ViewContext, route: Route, kind: PickupKind) -> str:
    """Return for the hand-overs of one kind where to go instead, with their stops; equal ways once."""
    ways: dict[str, list[int]] = {}
    for number, stop in context.coming(route):
        if isinstance(stop, Handover) and stop.kind is kind:
            way = other_way(context, route, number - 1) or "phone before you walk on"
            says_limit = kind is PickupKind.COURIER and TOO_LATE not in way
            limit = limit_of(context, route, number - 1) if says_limit else None
            ways.setdefault(way + (f"; bed {limit[1]} in the lab by {limit[0]}" if limit else ""), []).append(number)
    return " ".join(f"Stop {ranges_words(numbers)}: {way}." for way, numbers in ways.items())


def _must_be_full(context: ViewContext, route: Route) -> str:
    """Return which containers of the route the laboratory takes only full, with their tests, and what of the others.

    A new tube is more blood: where the card states a limit it counts.
    """
    kinds: dict[str, dict[str, None]] = {}
    for visit in context.visits_to_come(route):
        for planned in visit.tubes:
            if Handling.FULL_FILL in planned.tube.handling:
                kind = context.problem.catalogue.tubes[planned.tube.tube]
                name = container_label(context.clean(kind.name_of(planned.tube.size_ul)), context.clean(kind.closure))
                kinds.setdefault(name, {}).update(dict.fromkeys(context.tests_in(planned.tube)))
    if not kinds:
        return "Send it as it is."
    named = "; ".join(f"{name} ({', '.join(tests)})" for name, tests in kinds.items())
    patients = context.problem.patients
    is_limit = any(ceiling_words(context, v, patients[v.patient_id]) for v in context.visits_to_come(route))
    within = ", but never past MAX on the card" if is_limit else ""
    return f"Only full: {named}: fill a new one{within}. Any other: send it as it is."


def _like_names(context: ViewContext, route: Route) -> Iterator[str]:
    """Yield groups of patients who could be taken for one another, one of them at least on the route.

    Those on the route are named with birth date, the others of the round's lists by bed, on whatever ward they lie.
    """
    own = {visit.patient_id: None for visit in context.visits_to_come(route)}
    patients = context.problem.patients
    named: set[PatientId] = set()
    for patient_id in own:
        group = _alike_to(patients[patient_id], patients.values())
        if len(group) < 2 or group & named:
            continue
        named |= group
        here = [_who(context, patients[p]) for p in own if p in group]
        away = sorted((patients[p].bed for p in group - own.keys()), key=natural_key)
        beds = [f"a like name in {'bed' if len(away) == 1 else 'beds'} {context.names.listed(away)}"] if away else []
        yield f"{join_words([*here, *map(context.clean, beds)])}."


def _alike_to(one: Patient, patients: Iterable[Patient]) -> set[PatientId]:
    """Return who could be taken for a patient, or for somebody who could be: the patient too."""
    found, left = {one.id}, [one]
    while left:
        before = left.pop()
        near = [p for p in patients if p.id not in found and _are_alike(before, p)]
        found.update(p.id for p in near)
        left += near
    return found


def _who(context: ViewContext, patient: Patient) -> str:
    born = born_words(context, patient).partition(" (")[0]
    return f"bed {context.place(patient.bed)} {name_words(context, patient)} born {born}"


def _are_alike(one: Patient, other: Patient) -> bool:
    """Return whether family names are equal, accents and case apart, or long and one letter apart."""
    names = [_letters(patient.family_name) for patient in (one, other)]
    if not all(names):
        return False
    return names[0] == names[1] or (min(map(len, names)) >= _LEAST_ALIKE and _is_one_letter_apart(*names))


@lru_cache(maxsize=2048)
def _letters(name: str) -> str:
    return "".join(c for c in unicodedata.normalize("NFKD", name.casefold()) if c.isalpha())


def _is_one_letter_apart(one: str, other: str) -> bool:
    short, long = sorted((one, other), key=len)
    if len(long) - len(short) > 1:
        return False
    same = next((n for n, (a, b) in enumerate(zip(short, long, strict=False)) if a != b), len(short))
    return short[same:] == long[same + 1 :] or short[same + 1 :] == long[same + 1 :]


def _lost(context: ViewContext, route: Route, slack: RouteSlack) -> str:
    """Return what is lost if somebody sets out a quarter of an hour late and nothing is changed, in order."""
    limits = slack.lost(LATE_S)
    late = f"{'Going on' if context.num_past(route) else 'Begun'} 15 min late"
    if not limits:
        return f"{late}, nothing is lost on this route."
    said = []
    for limit in limits:
        stop = route.stops[limit.at]
        where = f"stop {limit.at + 1} ({context.place(stop.place)})"
        said.append(f"{where} {_LOSS[limit.loss]}")
    return f"{late} and not replanned, lost in this order: {join_words(said)}."
