"""The best round of a tiny problem by trying every order of stops, written from the rule book alone.

For one collector, routes grow stop by stop: a bed not yet seen, a hand-over of some of what she holds, her break.
A route's instants are the least solution of "not before" rules (walking, windows, couriers, and stability: a draw
is not made before arrival less stability), found by raising instants until nothing moves. Three things are used, no
more, to keep the number of routes small; each follows from all rules being "not before" and waiting being free:

1. Specimens that the same stops may take and that are held at the same time are given away together: for all of them
   the stop with the earliest arrival is best.
2. Of two routes that have seen the same beds, hold the same, stand at the same place, come from the same ward and hold
   nothing with a limit (so that nothing before can be moved any more), one that is nowhere worse makes the other
   superfluous.
3. Of two finished routes with the same beds, the same.

The best pair of routes over disjoint beds is then found by looking at all pairs.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from itertools import product

from tests.reference.tiers import draw_cost, effort_of, pair_cost, past_dues, service_of, tiers, ward_cost
from tests.reference.tiny import LATE, UNCOLLECTED, TinyOutlet, TinyPerson, TinyRound

Vector = tuple[int, ...]
REST = ("rest", -1, "")
FREE, HAND = "free", "hand"
Stop = tuple[str, int, str]
"""("bed", visit, ""), ("out", outlet, which of "free", "hand", "freehand" is given away) or `REST`."""


@dataclass(frozen=True)
class Label:
    """A route under way: its stops, what is held, when it is over, and what it costs so far."""

    stops: tuple[Stop, ...]
    seen: int
    held: frozenset[tuple[int, str]]
    place: str
    over_s: int
    costs: Vector
    """Late, delivery with what is urgent, the sum over beds of the last arrival of what was drawn there and is given
    away, and what stats wait for their draw."""
    begun: Vector
    """Arrival of the given part of beds of which another part is still held, in the order of the beds."""
    changes: int = 0
    turns: int = 0
    """What the pairs of beds cost of which the one seen first should and could have come second, and what every change
    of ward costs."""
    ward: str | None = None
    """Ward of the last bed."""


def optimum(tiny: TinyRound) -> Vector:
    """Return the values of the three tiers of the best round.

    Raises
    ------
    LookupError
        If no round gives away in time what is in the trays.
    """
    trays = [i for i, visit in enumerate(tiny.visits) if visit.tray_of is not None]
    fronts = [_routes(tiny, who) for who in range(len(tiny.people))]
    begin_s = min(p.from_s for p in tiny.people)
    weight = [sum(UNCOLLECTED[o.priority] for o in v.orders) if v.tray_of is None else 0 for v in tiny.visits]
    total = sum(weight)
    best: Vector | None = None
    for seen in product(*(front.keys() for front in fronts)):
        if any(seen[a] & seen[b] for a in range(len(seen)) for b in range(a)):
            continue
        all_seen = sum(seen)
        served = [i for i in range(len(tiny.visits)) if all_seen >> i & 1]
        if not set(trays) <= set(served):
            continue
        for routes in product(*(front[s] for front, s in zip(fronts, seen, strict=True))):
            late, delivery, changes, arrival_s, turns, time_s, finish_s = (
                list(column) for column in zip(*routes, strict=True)
            )
            values = tiers(
                tiny,
                total - sum(weight[i] for i in served),
                [[i for i in served if mine >> i & 1] for mine in seen],
                service_of(tiny, sum(late), sum(delivery), sum(changes)),
                effort_of(tiny, sum(time_s), sum(arrival_s) - len(served) * begin_s, sum(turns)),
                max(0, max(finish_s) - begin_s),
            )
            best = values if best is None else min(best, values)
    if best is None:
        raise LookupError("what is in the trays cannot be given away in time")
    return best


def _routes(tiny: TinyRound, who: int) -> dict[int, list[Vector]]:
    """Return, by set of beds seen, what the routes worth having come to: late, delivery, changes, arrivals, turns, time
    and end."""
    person = tiny.people[who]
    done: dict[int, list[Vector]] = defaultdict(list)
    known: dict[object, list[Vector]] = defaultdict(list)
    begin: Label | None = Label((), 0, frozenset(), person.place, person.from_s, (0, 0, 0, 0), ())
    for i, visit in enumerate(tiny.visits):
        if visit.tray_of == who and begin is not None:
            begin = _grow(tiny, who, begin, ("bed", i, ""))
    if begin is None:
        return done
    if not begin.held:
        done[0].append((0, 0, 0, 0, 0, 0, 0))
    layer = [begin]
    while layer:
        following: list[Label] = []
        for label in layer:
            for stop in _next_stops(tiny, person, label):
                grown = _grow(tiny, who, label, stop)
                if grown is None or not _is_new(tiny, known, grown):
                    continue
                following.append(grown)
                if grown.seen and not grown.held and _owes_nothing(person, grown):
                    service_s = sum(v.service_s for i, v in enumerate(tiny.visits) if grown.seen >> i & 1)
                    late, delivery, arrival_s, wait = grown.costs
                    time_s = grown.over_s - person.from_s - service_s
                    turns = grown.turns + wait
                    _add(done[grown.seen], (late, delivery, grown.changes, arrival_s, turns, time_s, grown.over_s))
        layer = following
    return done


def _next_stops(tiny: TinyRound, person: TinyPerson, label: Label) -> list[Stop]:
    stops: list[Stop] = [
        ("bed", i, "")
        for i, visit in enumerate(tiny.visits)
        if not label.seen >> i & 1 and person.may_see(visit) and visit.tray_of is None
    ]
    holds = {kind for _i, kind in label.held}
    for n, outlet in enumerate(tiny.outlets):
        may_take = {FREE} if outlet.kind == "tube" else {FREE, HAND}
        uses = sum(s[0] == "out" and s[1] == n for s in label.stops)
        if outlet.kind != "courier" and uses >= tiny.max_sends:
            continue
        given = holds & may_take
        stops += [("out", n, kind) for kind in sorted(given)]
        if len(given) == 2:
            stops.append(("out", n, FREE + HAND))
    if person.rest is not None and REST not in label.stops:
        stops.append(REST)
    return stops


def _owes_nothing(person: TinyPerson, label: Label) -> bool:
    """A break is not owed while it still fits behind the route."""
    if person.rest is None or REST in label.stops:
        return True
    return label.over_s + person.rest_s <= min(person.rest[1], person.until_s)


def _is_new(tiny: TinyRound, known: dict[object, list[Vector]], label: Label) -> bool:
    """Return whether no other route makes this one superfluous (use 2 of the module's text)."""
    if any(_limit_s(tiny, i, kind) is not None for i, kind in label.held):
        return True
    sends = tuple(sum(s[0] == "out" and s[1] == n for s in label.stops) for n in range(len(tiny.outlets)))
    key = (label.seen, label.held, label.place, label.ward, REST in label.stops)
    return _add(known[key], (label.over_s, label.changes, label.turns, *label.costs, *label.begun, *sends))


def _add(front: list[Vector], vector: Vector) -> bool:
    if any(all(a <= b for a, b in zip(other, vector, strict=True)) for other in front):
        return False
    front[:] = [o for o in front if not all(a <= b for a, b in zip(vector, o, strict=True))]
    front.append(vector)
    return True


def kinds_of(tiny: TinyRound, visit: int) -> list[str]:
    return sorted({HAND if o.by_hand else FREE for o in tiny.visits[visit].orders})


def _limit_s(tiny: TinyRound, visit: int, kind: str) -> int | None:
    """Return the shortest stability of a visit's tubes of one kind."""
    orders = tiny.visits[visit].orders
    limits = [o.stability_s for o in orders if o.by_hand == (kind == HAND) and o.stability_s is not None]
    return min(limits, default=None)


def _grow(tiny: TinyRound, who: int, label: Label, stop: Stop) -> Label | None:
    """Return the route with one stop more, None when its instants break a rule."""
    what, n, given = stop
    stops = (*label.stops, stop)
    seen, held, place, turns, ward = label.seen, label.held, label.place, label.turns, label.ward
    if what == "bed":
        turns += sum(pair_cost(tiny, i, n) for i in range(len(tiny.visits)) if seen >> i & 1)
        turns += ward_cost(tiny, ward, tiny.visits[n])
        ward = tiny.visits[n].ward
        seen |= 1 << n
        held |= {(n, kind) for kind in kinds_of(tiny, n)}
        place = tiny.visits[n].bed
    elif what == "out":
        held = frozenset((i, kind) for i, kind in held if kind not in given)
        place = tiny.outlets[n].place
    timed = instants(tiny, tiny.people[who], stops)
    if timed is None:
        return None
    over_s, costs, last_s, starts_s = timed
    begun = tuple(last_s[i] for i in sorted({i for i, _kind in held} & last_s.keys()))
    return Label(stops, seen, held, place, over_s, costs, begun, _changes(tiny, who, stops, starts_s), turns, ward)


def _changes(tiny: TinyRound, who: int, stops: tuple[Stop, ...], starts_s: list[int]) -> int:
    """Return how many promised visits another person makes, or this one after one promised later, or too late."""
    beds = [(n, start_s) for (what, n, _given), start_s in zip(stops, starts_s, strict=True) if what == "bed"]
    changed = 0
    for nth, (n, start_s) in enumerate(beds):
        promise = tiny.visits[n].promise
        if promise is None:
            continue
        person, place, draw_s = promise
        before = [tiny.visits[i].promise for i, _start_s in beds[:nth]]
        overtaken = any(p is not None and p[0] == who and p[1] > place for p in before)
        too_late = start_s + tiny.visits[n].lead_s > draw_s + tiny.change_s
        changed += person != who or overtaken or too_late
    return changed


def instants(
    tiny: TinyRound, person: TinyPerson, stops: tuple[Stop, ...], not_before: list[int] | None = None
) -> tuple[int, Vector, dict[int, int], list[int]] | None:
    """Return when a route is over, what it costs, the last arrival by bed, and the starts, at the least instants.

    None when there are none. Costs as in `Label`. No stop starts sooner than ``not_before`` says.
    """
    not_before = [0] * len(stops) if not_before is None else list(not_before)
    while True:
        timed = _walk_through(tiny, person, stops, not_before)
        if timed is None:
            return None
        starts_s, over_s = timed
        moved = False
        arrived: list[tuple[int, str, int]] = []
        held: list[tuple[int, int, str]] = []
        for position, (what, n, given) in enumerate(stops):
            if what == "bed":
                held += [(position, n, kind) for kind in kinds_of(tiny, n)]
            if what != "out":
                continue
            arrival_s = _arrival_s(tiny.outlets[n], starts_s[position] + tiny.handover_s)
            for at, i, kind in [h for h in held if h[2] in given]:
                if arrival_s is None:
                    return None
                held.remove((at, i, kind))
                arrived.append((i, kind, arrival_s))
                limit_s = _limit_s(tiny, i, kind)
                least_s = 0 if limit_s is None else arrival_s - limit_s - tiny.visits[i].lead_s
                if starts_s[at] < least_s:
                    not_before[at], moved = least_s, True
        if not moved:
            last_s: dict[int, int] = {}
            for i, _kind, arrival_s in arrived:
                last_s[i] = max(arrival_s, last_s.get(i, 0))
            return over_s, _costs(tiny, stops, starts_s, arrived, last_s), last_s, starts_s


def _walk_through(
    tiny: TinyRound, person: TinyPerson, stops: tuple[Stop, ...], not_before: list[int]
) -> tuple[list[int], int] | None:
    clock_s, place = person.from_s, person.place
    starts_s: list[int] = []
    for (what, n, _given), least_s in zip(stops, not_before, strict=True):
        if what == "rest":
            assert person.rest is not None
            start_s = max(clock_s, person.rest[0])
            clock_s = start_s + person.rest_s
            if clock_s > person.rest[1]:
                return None
        else:
            there = tiny.visits[n].bed if what == "bed" else tiny.outlets[n].place
            start_s = max(least_s, clock_s + (0 if there == place else tiny.walk_s[place, there]))
            place = there
            if what == "bed":
                open_spans = [(a, b) for a, b in tiny.visits[n].starts if start_s <= b]
                if not open_spans:
                    return None
                start_s = max(start_s, min(open_spans)[0])
            clock_s = start_s + (tiny.visits[n].service_s if what == "bed" else tiny.handover_s)
        if clock_s > person.until_s:
            return None
        starts_s.append(start_s)
    return starts_s, clock_s


def _arrival_s(outlet: TinyOutlet, end_s: int) -> int | None:
    if outlet.kind != "courier":
        return end_s + outlet.transit_s
    leaves_s = min((d for d in outlet.departures_s if d >= end_s), default=None)
    return None if leaves_s is None else leaves_s + outlet.transit_s


def _costs(
    tiny: TinyRound,
    stops: tuple[Stop, ...],
    starts_s: list[int],
    arrived: list[tuple[int, str, int]],
    last_s: dict[int, int],
) -> Vector:
    late = sum(
        LATE[o.priority] * max(0, starts_s[at] + tiny.visits[n].lead_s - o.target_s)
        for at, (what, n, _given) in enumerate(stops)
        if what == "bed"
        for o in tiny.visits[n].orders
        if o.target_s is not None
    )
    delivery = 0
    for i, kind, arrival_s in arrived:
        weight = sum(LATE[o.priority] for o in tiny.visits[i].orders if o.by_hand == (kind == HAND))
        delivery += 0 if tiny.need_by_s is None else weight * max(0, arrival_s - tiny.need_by_s)
        delivery += past_dues(tiny, tiny.visits[i], kind == HAND, arrival_s)
    wait = sum(
        draw_cost(tiny, tiny.visits[n], starts_s[at]) for at, (what, n, _given) in enumerate(stops) if what == "bed"
    )
    return late, delivery, sum(last_s.values()), wait
