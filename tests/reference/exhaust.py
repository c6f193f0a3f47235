"""The best round of up to eight beds and two people, over every order of stops, each route standing for many.

Grown as in `brute_force` (stop by stop, hand-overs that take all tubes of a kind), from the same rule book. What is
more is a way to say when one route makes another superfluous although tubes with a limit are held:

*Arrivals are guessed.* While tubes of a kind with a limit are held, a route is a curve: its clock and its costs for
every instant at which these tubes may be in the laboratory (the guess; all tubes of a kind are given away together). A
draw is then not made before guess less limit, and a hand-over counts only if it arrives no later than the guess.
Nothing that comes later moves what came before. All rules say "not before", so clock and costs grow with the guess, and
the least guess that its hand-over keeps is the least solution of the route. Where tubes for any way and tubes by hand
are both held with limits, there is a guess for each; of all pairs that a hand-over keeps, one is the least in both
(where two pairs are kept, so is the pair of their lesser ones).

Waiting before a draw is of use only if something later would be waited for anyhow. So a pair of guesses is left out if
the clock at the guesses less one step each is less by a step too, and no window or break that may still come begins,
and no courier leaves, after that: whatever follows can then be made a step earlier, all of it.

*One route makes another superfluous* if both have seen the same beds, hold the same, are at the same place, come from
the same ward, have or have not had the break, and for every pair of guesses the first is no later, costs no more, has
brought tubes of which the rest is still held no later, and may stop at each way out at least as often. For whatever
the second does next the first can do too, no later, by induction over the stops; and each further cost grows with
time only, or is a matter of the beds seen (precautions, order of promises).

*Costs compare in the order of the tiers*, as one number: the second tier, then the third but for its time. A route that
is less in the first that differs stays so whatever follows, for what follows adds no more to any of them. So of each
set of beds those finished routes are enough that count least in the second tier, and of these the ones that are not
both dearer in the third and over later: both add up over people, but for the finish, which is the greatest end, and for
the share, which is a matter of the beds alone.
"""

from __future__ import annotations

from collections import defaultdict

from tests.reference.label import Label, Values, add, as_rows, key
from tests.reference.moves import pauses, to_bed
from tests.reference.person import Person, bits
from tests.reference.tables import Clock
from tests.reference.tiers import effort_of, tiers, worked_s
from tests.reference.tiny import UNCOLLECTED, TinyRound

WORK_LIMIT = 10_000_000
"""Numbers looked up for one round before it is given up."""

BASE_WORK = 200
"""Work of growing any route by a stop, in numbers looked up."""


class TooMuchWorkError(Exception):
    """A round asks for more work than is allowed; nothing is known of it."""


class _Meter:
    def __init__(self, limit: int) -> None:
        self.left = limit

    def take(self, work: int) -> None:
        self.left -= work
        if self.left < 0:
            raise TooMuchWorkError


def optimum(tiny: TinyRound, work_limit: int = WORK_LIMIT) -> Values:
    """Return the values of the three tiers of the best round.

    Raises
    ------
    LookupError
        If no round gives away in time what is in the trays.
    TooMuchWorkError
        If more numbers than ``work_limit`` would have to be looked up.
    """
    clock, meter = Clock(tiny), _Meter(work_limit)
    fronts = [best_routes(Person(tiny, who, clock), meter) for who in range(len(tiny.people))]
    weights = [sum(UNCOLLECTED[o.priority] for o in v.orders) if v.tray_of is None else 0 for v in tiny.visits]
    trays = sum(1 << i for i, visit in enumerate(tiny.visits) if visit.tray_of is not None)
    best: Values | None = None
    chosen: list[tuple[tuple[int, ...], Values]] = [((), (0, 0, 0))]
    for front in fronts:
        chosen = [
            ((*seen, mine), _joined(total, values))
            for seen, total in chosen
            for mine, routes in front.items()
            if not any(mine & others for others in seen)
            for values in routes
        ]
    for seen, (service, effort, finish) in chosen:
        served = sum(seen)
        if trays & ~served:
            continue
        uncollected = sum(w for i, w in enumerate(weights) if not served >> i & 1)
        values = tiers(tiny, uncollected, [bits(mine) for mine in seen], service, effort, finish)
        best = values if best is None else min(best, values)
    if best is None:
        raise LookupError("what is in the trays cannot be given away in time")
    return best


def _joined(total: Values, more: Values) -> Values:
    return total[0] + more[0], total[1] + more[1], max(total[2], more[2])


def best_routes(person: Person, meter: _Meter) -> dict[int, list[Values]]:
    """Return, by set of beds seen, (service, effort but for finish and share, finish) of the routes worth having; the
    finish counts from the begin of the round."""
    tiny, clock = person.tiny, person.clock
    trays = [i for i, visit in enumerate(tiny.visits) if visit.tray_of == person.who]
    from_step = clock.at(person.me.from_s)
    sends = (tiny.max_sends,) * len(tiny.outlets)
    begin: Label | None = Label(
        0, (0, 0), person.me.place, False, sends, as_rows(from_step, 0), (None, None), from_step
    )
    for i in trays:
        begin = None if begin is None else to_bed(person, begin, i)
    if begin is None:
        return {}
    best: dict[int, list[Values]] = defaultdict(list)
    layer = [begin]
    while layer:
        following: dict[object, list[Label]] = defaultdict(list)
        here: dict[object, list[Label]] = defaultdict(list)
        for label in layer:
            here[key(label)].append(label)
        for label in layer:  # grows while it is walked over
            if label.is_superfluous:
                continue
            if label.held == (0, 0) and _owes_nothing(person, label):
                _keep(best[label.seen], _goals(person, label.seen, int(label.rows[1, 0, 0]), label.over))
            for grown in pauses(person, label):
                meter.take(BASE_WORK + grown.rows.size)
                if add(person, here, grown):
                    layer.append(grown)
            for i, visit in enumerate(tiny.visits):
                if label.seen >> i & 1 or not person.me.may_see(visit) or visit.tray_of is not None:
                    continue
                meter.take(BASE_WORK + label.rows.size)
                at_bed = to_bed(person, label, i)
                if at_bed is not None:
                    meter.take(at_bed.rows.size)
                    add(person, following, at_bed)
        layer = [label for labels in following.values() for label in labels]
    return dict(best)


def _keep(routes: list[Values], values: Values) -> None:
    """Add a finished route to those worth having of a set of beds, unless another makes it superfluous."""
    if any(m[0] < values[0] or (m[0] == values[0] and m[1] <= values[1] and m[2] <= values[2]) for m in routes):
        return
    routes[:] = [m for m in routes if m[0] == values[0] and not (values[1] <= m[1] and values[2] <= m[2])]
    routes.append(values)


def _goals(person: Person, seen: int, costs: int, over: int) -> Values:
    if not seen:
        return (0, 0, 0)
    unit_s, tiny = person.clock.unit_s, person.tiny
    service, effort = person.unpack(costs)
    span_s = (over - person.clock.at(person.me.from_s)) * unit_s
    time_s = span_s - worked_s(tiny, bits(seen))
    return service, effort + effort_of(tiny, time_s, 0, 0), over * unit_s


def _owes_nothing(person: Person, label: Label) -> bool:
    """A break is not owed while it still fits behind the route, nor by who does not go out."""
    me, clock = person.me, person.clock
    if me.rest is None or label.rested or not label.seen:
        return True
    return label.over + clock.steps(me.rest_s) <= clock.at(min(me.rest[1], me.until_s))
