"""Tiny rounds as plain numbers: what the brute force reads, and what the planner is given of the same round.

The numbers are the rule book's own (draw times, stabilities, departures), not those of the planner's instance.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace

UNCOLLECTED = {"stat": 100, "asap": 30, "urgent": 20, "routine": 1}
LATE = {"stat": 10, "asap": 4, "urgent": 3, "routine": 1}
"""Weights by priority, as a policy states them when nobody changes them."""

Span = tuple[int, int]


@dataclass(frozen=True, kw_only=True)
class TinyOrder:
    """One order and its one tube: soft end of the draw time, who may carry it, how long it keeps."""

    priority: str
    target_s: int | None = None
    by_hand: bool = False
    stability_s: int | None = None


@dataclass(frozen=True, kw_only=True)
class TinyVisit:
    """A stop at a bed; ``starts`` are the allowed spans of the start, the draw comes ``lead_s`` after it."""

    bed: str
    lead_s: int
    service_s: int
    starts: tuple[Span, ...]
    orders: tuple[TinyOrder, ...]
    needs: frozenset[str] = frozenset()
    ward: str = "W"
    promise: tuple[int, int, int] | None = None
    """What the last sheet said: person, place among her visits to come, draw time."""
    turn: int = 1
    """Place of the patient's isolation among `TURNS`: the lower should be seen first."""
    tray_of: int | None = None
    """No visit, but what this person carries when the round goes on: drawn before (``lead_s`` is negative), it takes no
    time where she stands, and must be given away."""
    patient: int | None = None
    """Number of the visit whose patient this one is of too; None: of its own. Read by `joint` only, as what follows."""
    wanted_s: int | None = None
    """Instant at which a draw of its patient's series is wanted: what counts is the time between two."""


TURNS = ("protective", None, "contact", "droplet", "airborne")


@dataclass(frozen=True, kw_only=True)
class TinyOutlet:
    """A place where specimens leave: ``courier``, ``tube`` or ``carried``."""

    place: str
    kind: str
    departures_s: tuple[int, ...] = ()
    transit_s: int = 0


@dataclass(frozen=True, kw_only=True)
class TinyPerson:
    """A collector; ``rest`` is the span in which the break of ``rest_s`` must lie."""

    place: str
    from_s: int
    until_s: int
    skills: frozenset[str] = frozenset()
    rest_s: int = 0
    rest: Span | None = None
    wards: frozenset[str] = frozenset()
    """The only wards that she visits; empty: all."""
    prefers: frozenset[str] = frozenset()
    """The wards that she would rather visit; empty: none."""

    def may_see(self, visit: TinyVisit) -> bool:
        """Whether she has the skills for a patient and goes to the ward."""
        return visit.needs <= self.skills and (not self.wards or visit.ward in self.wards)


@dataclass(frozen=True, kw_only=True)
class TinyPrices:
    """What one thing is worth in another within a tier; the names are those of the policy but for ``exposed_s``."""

    puncture_s: int = 900
    moved_stop_s: int = 600
    to_lab: int = 1
    stat_wait_pct: int = 100
    last_minutes_pct: int = 100
    arrival_pct: int = 10
    finish_pct: int = 100
    share: int = 3
    ward_change_s: int = 300
    other_ward_s: int = 120
    isolation_s: int = 90
    exposed_s: int = 3600
    """A protective bed behind an airborne one."""


@dataclass(frozen=True, kw_only=True)
class TinyRound:
    """A whole round; ``walk_s`` holds shortest walking times between all places."""

    walk_s: dict[tuple[str, str], int]
    visits: tuple[TinyVisit, ...]
    outlets: tuple[TinyOutlet, ...]
    people: tuple[TinyPerson, ...]
    handover_s: int = 60
    max_sends: int = 6
    need_by_s: int | None = None
    stat_to_lab_s: int = 600
    asap_to_lab_s: int = 1800
    last_minutes_s: int = 600
    change_s: int = 600
    """A promised visit that comes later by more is changed."""
    tolerance_s: int = 900
    """How much sooner or later than wanted after the one before a draw of a series may be."""
    tray_limit: int | None = None
    """Most tubes that one person carries."""
    prices: TinyPrices = TinyPrices()

    @property
    def places(self) -> list[str]:
        """All places, named in the table of walking times."""
        return sorted({a for a, _b in self.walk_s})


BEGIN_S = 5 * 3600
"""All tiny rounds begin at five."""


def random_round(seed: int, max_visits: int = 5, with_breaks: bool = True) -> TinyRound:
    """Return a round of 1 to ``max_visits`` beds, one or two collectors, one to three ways out.

    Windows, couriers, limits and skills are drawn so that about one round in three cannot serve everybody.
    """
    rng = random.Random(seed)
    num_visits = rng.randint(1, max_visits)
    kinds = rng.choice([("courier",), ("tube", "courier"), ("carried",), ("courier", "carried"), ("courier",) * 2])
    if rng.random() < 0.15:
        kinds = ("tube", "courier", "carried")
    walk_s = _walks(rng, [f"B{i}" for i in range(num_visits)], kinds)
    people = tuple(_person(rng, n, with_breaks) for n in range(rng.choice([1, 1, 2])))
    if len(people) == 2 and rng.random() < 0.3:
        people = (people[0], people[0])
    end_s = max(p.until_s for p in people)
    visits = tuple(_visit(rng, i, num_visits, end_s) for i in range(num_visits))
    visits, people = _in_wards(random.Random(f"wards of {seed}"), visits, people)
    return TinyRound(
        walk_s=walk_s,
        visits=_promised(random.Random(f"promises of {seed}"), visits, len(people)),
        outlets=tuple(_outlet(rng, n, kind) for n, kind in enumerate(kinds)),
        people=people,
        handover_s=rng.choice([0, 30, 60, 60, 120]),
        max_sends=rng.choice([1, 2, 6, 6]),
        need_by_s=BEGIN_S + rng.randrange(0, 70) * 60 if rng.random() < 0.4 else None,
        prices=_prices(random.Random(f"prices of {seed}")),
    )


def _prices(rng: random.Random) -> TinyPrices:
    """Return the usual prices of half of the rounds, others of the other half: each high, low or nothing at all."""
    if rng.random() < 0.5:
        return TinyPrices()
    return TinyPrices(
        puncture_s=rng.choice([0, 60, 900, 7200]),
        moved_stop_s=rng.choice([0, 60, 600, 7200]),
        arrival_pct=rng.choice([0, 3, 10, 100]),
        finish_pct=rng.choice([0, 10, 100]),
        share=rng.choice([0, 1, 3, 10]),
        isolation_s=rng.choice([0, 30, 300]),
        exposed_s=rng.choice([0, 600, 3600]),
        to_lab=rng.choice([0, 1, 2, 10]),
        stat_wait_pct=rng.choice([0, 10, 100, 1000]),
        last_minutes_pct=rng.choice([0, 10, 100, 1000]),
        ward_change_s=rng.choice([0, 60, 300, 3600]),
        other_ward_s=rng.choice([0, 60, 120, 3600]),
    )


def _in_wards(
    rng: random.Random, visits: tuple[TinyVisit, ...], people: tuple[TinyPerson, ...]
) -> tuple[tuple[TinyVisit, ...], tuple[TinyPerson, ...]]:
    """Return every other round on two wards (a bed is on one); of these two in five bind people to one or the other, in
    half of them people prefer one."""
    kind = rng.random()
    if kind < 0.5:
        return visits, people
    ward_of = {bed: rng.choice("EW") for bed in sorted({visit.bed for visit in visits})}
    choices = [frozenset[str](), frozenset({"E"}), frozenset({"W"}), frozenset({"E", "W"})]
    if kind >= 0.8:
        people = tuple(replace(person, wards=rng.choice(choices)) for person in people)
    if rng.random() < 0.5:
        people = tuple(replace(person, prefers=rng.choice(choices)) for person in people)
    return tuple(replace(visit, ward=ward_of[visit.bed]) for visit in visits), people


def _promised(rng: random.Random, visits: tuple[TinyVisit, ...], num_people: int) -> tuple[TinyVisit, ...]:
    """Return the visits of one round in three as a last sheet had promised most of them."""
    if rng.random() < 0.67:
        return visits
    places = rng.sample(range(len(visits)), k=len(visits))
    return tuple(
        replace(
            visit,
            promise=(rng.randrange(num_people), place, visit.starts[0][0] + visit.lead_s + rng.randrange(0, 30) * 60)
            if rng.random() < 0.8
            else None,
        )
        for visit, place in zip(visits, places, strict=True)
    )


def _walks(rng: random.Random, beds: list[str], kinds: tuple[str, ...]) -> dict[tuple[str, str], int]:
    """Return walking times that are shortest paths: over a plane, made unequal in the two directions at times."""
    places = ["BASE", *beds, *(f"OUT{n}" for n in range(len(kinds)))]
    spot = {p: (rng.randrange(0, 12) * 10, rng.randrange(0, 12) * 10) for p in places}
    extra = rng.choice([0, 0, 40])
    walk = {
        (a, b): abs(spot[a][0] - spot[b][0]) + abs(spot[a][1] - spot[b][1]) + (extra if spot[a] < spot[b] else 0)
        for a in places
        for b in places
        if a != b
    }
    for via in places:
        for a, b in walk:
            if via not in (a, b):
                walk[a, b] = min(walk[a, b], walk[a, via] + walk[via, b])
    return walk


def _person(rng: random.Random, number: int, with_breaks: bool) -> TinyPerson:
    from_s = BEGIN_S + (0 if number == 0 else rng.choice([0, 600, 1500]))
    until_s = from_s + rng.randrange(25, 90) * 60
    rest_s, rest = 0, None
    if with_breaks and rng.random() < 0.2:
        rest_s = rng.choice([300, 600])
        first_s = min(from_s + rng.randrange(0, 20) * 60, until_s - rest_s)
        rest = (first_s, min(first_s + rest_s + rng.randrange(0, 20) * 60, until_s))
    skills = frozenset({"child"}) if rng.random() < 0.6 else frozenset()
    return TinyPerson(place="BASE", from_s=from_s, until_s=until_s, skills=skills, rest_s=rest_s, rest=rest)


def _visit(rng: random.Random, number: int, num_visits: int, end_s: int) -> TinyVisit:
    lead_s = rng.choice([90, 135, 225])
    service_s = lead_s + rng.randrange(4, 10) * 30
    starts: tuple[Span, ...] = ((BEGIN_S, end_s - service_s),)
    if rng.random() < 0.5:
        first_s = BEGIN_S + rng.randrange(0, 60) * 60
        starts = ((first_s, first_s + rng.choice([0, 300, 900, 1800])),)
        if rng.random() < 0.3:
            again_s = starts[0][1] + rng.randrange(5, 30) * 60
            starts = (*starts, (again_s, again_s + 900))
    orders = tuple(_order(rng, first_s=starts[0][0]) for _ in range(rng.choice([1, 1, 2])))
    shares_bed = number and rng.random() < 0.2
    bed = f"B{rng.randrange(num_visits) if shares_bed else number}"
    needs = frozenset({"child"}) if rng.random() < 0.15 else frozenset()
    turn = rng.choice([1, 1, 1, 0, 2, 4])
    return TinyVisit(bed=bed, lead_s=lead_s, service_s=service_s, starts=starts, orders=orders, needs=needs, turn=turn)


def _order(rng: random.Random, first_s: int) -> TinyOrder:
    return TinyOrder(
        priority=rng.choice(["stat", "asap", "urgent", "routine", "routine", "routine"]),
        target_s=first_s + rng.randrange(0, 40) * 60 if rng.random() < 0.4 else None,
        by_hand=rng.random() < 0.2,
        stability_s=rng.choice([600, 900, 1500, 2400]) if rng.random() < 0.4 else None,
    )


def _outlet(rng: random.Random, number: int, kind: str) -> TinyOutlet:
    departures_s: tuple[int, ...] = ()
    if kind == "courier":
        departures_s = tuple(sorted({BEGIN_S + rng.randrange(10, 100) * 60 for _ in range(rng.randint(1, 4))}))
    return TinyOutlet(
        place=f"OUT{number}", kind=kind, departures_s=departures_s, transit_s=rng.choice([0, 120, 300, 600])
    )


def with_trays(tiny: TinyRound, seed: int) -> TinyRound:
    """Return the round gone on with: people carry one or two specimens drawn up to half an hour before."""
    rng = random.Random(f"trays of {seed}")
    carried = tuple(
        TinyVisit(
            bed=person.place,
            lead_s=-60 * rng.randrange(1, 30),
            service_s=0,
            starts=((person.from_s, person.from_s),),
            orders=(
                replace(_order(rng, person.from_s), target_s=None, stability_s=rng.choice([None, 3600, 4800, 6000])),
            ),
            tray_of=number,
        )
        for number, person in enumerate(tiny.people)
        for _ in range(rng.choice([0, 1, 1, 2]))
    )
    return replace(tiny, visits=(*tiny.visits, *carried))
