"""What walking on in the old order would give: the old sheet's stops, timed by the brute force's own clock.

Everybody makes her visits of the last sheet that are still wanted, in their old order, with the hand-overs that lie
between; new visits are left out. Nothing of it is the planner's but the new draws (tubes, windows, time at the bed).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from planner.domain.draws import Draw, Tube
from planner.domain.orders import OrderId, Precaution
from planner.domain.plan import Break, Handover, Plan, Reason, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.replan import Past
from planner.scheduling.rounds.draw_times import last_minutes_s, wished_spans
from planner.visits.to_laboratory import dues_of_drawn_s, dues_s, first_draws_s, first_reach_s
from tests.mornings.two_visits import agree
from tests.reference.brute_force import Stop, instants
from tests.reference.tiers import AIRBORNE, PROTECTIVE, effort_of, share, worked_s
from tests.reference.tiny import TURNS, TinyOrder, TinyOutlet, TinyPerson, TinyPrices, TinyRound, TinyVisit

Values = tuple[int, ...]


@dataclass(frozen=True)
class _Made:
    """One person's walk: the starts of her visits to come by index of the draw, when it is over, what it costs."""

    starts_s: dict[int, int]
    late: int
    to_lab: int
    pulls: int
    changes: int
    turns: int
    arrival_s: int
    over_s: int
    time_s: int


def walked_on(problem: Problem, draws: Sequence[Draw], old: Plan, new: Plan) -> Values | None:
    """Return the three tiers of walking on; None where the old order cannot be kept, or somebody has a break.

    Where a patient has two visits, walks that are timed each by itself may break a rule between them: None as well.

    ``new`` says only which orders belong to another round.
    """
    replan = problem.replan
    assert replan is not None
    if any(who.break_s for who in problem.staff):
        return None
    tiny, first_tray = _tiny(problem, draws)
    made = [_walk(problem, draws, old, tiny, first_tray, person) for person in range(len(problem.staff))]
    walks = [one for one in made if one is not None]
    starts_s = {n: start_s for walk in walks for n, start_s in walk.starts_s.items()}
    if len(walks) < len(made) or not agree(problem, draws, starts_s):
        return None
    served = {order.id for n in starts_s for order in draws[n].request.orders}
    drawn = {order_id for visit in replan.visits for order_id in visit.order_ids}
    apart = served | drawn | {u.order_id for u in new.unplanned if u.reason is Reason.OTHER_ROUND}
    going = [walk for walk in walks if walk.over_s]
    prices = problem.policy.prices
    patients = {draws[n].request.patient_id for n in starts_s}
    service = sum(walk.late + prices.to_lab * walk.to_lab for walk in walks)
    service += prices.puncture_s * (len(starts_s) - len(patients))
    effort = effort_of(tiny, sum(w.time_s for w in walks), sum(w.arrival_s for w in walks), sum(w.turns for w in walks))
    effort += sum(walk.pulls for walk in walks)
    effort += prices.finish_pct * max((walk.over_s - problem.start_s for walk in going), default=0)
    effort += prices.share * share(tiny, [worked_s(tiny, walk.starts_s) for walk in walks])
    return (
        sum(_weight(problem, order.id) for order in problem.orders if order.id not in apart),
        service + prices.moved_stop_s * sum(walk.changes for walk in walks),
        effort,
    )


def _weight(problem: Problem, order_id: OrderId) -> int:
    order, weights = problem.order(order_id), problem.policy.weights
    weight = weights.uncollected[order.priority]
    is_timed = order.is_timed or problem.test_of(order).dose_rule is not None
    return max(weight, weights.uncollected_timed) if is_timed else weight


def _walk(
    problem: Problem, draws: Sequence[Draw], old: Plan, tiny: TinyRound, first_tray: int, person: int
) -> _Made | None:
    """Return one person's walk: her tray, her old hand-overs, and every old visit that can still be made."""
    trays: list[Stop] = [
        ("bed", n, "") for n in range(first_tray, len(tiny.visits)) if tiny.visits[n].needs == {f"tray of {person}"}
    ]
    coming = _old_stops(problem, draws, old, person)
    stops = [*trays, *(stop for stop in coming if stop[0] == "out")]
    who = tiny.people[person]
    if not _works(tiny, who, stops):
        return None
    for at, stop in enumerate(coming):
        if stop[0] == "bed" and person not in draws[stop[1]].not_by and draws[stop[1]].skills <= who.skills:
            place = len(trays) + sum(s in stops or s[0] == "out" for s in coming[:at])
            trial = [*stops[:place], stop, *stops[place:]]
            stops = trial if _works(tiny, who, trial) else stops
    if all(stop[0] == "out" for stop in stops):
        return _Made({}, 0, 0, 0, 0, 0, 0, 0, 0)
    return _costs(problem, draws, old, tiny, first_tray, person, _without_needless(tiny, stops))


def _works(tiny: TinyRound, who: TinyPerson, stops: Sequence[Stop]) -> bool:
    beds = {stop[1] for stop in stops if stop[0] == "bed"}
    timed = instants(tiny, who, tuple(stops))
    return timed is not None and beds == set(timed[2]) and _gives_all(tiny, stops)


def _gives_all(tiny: TinyRound, stops: Sequence[Stop]) -> bool:
    """Return whether every kind of specimens that is drawn is given away, what must go by hand too."""
    held: set[bool] = set()
    for stop in stops:
        if stop[0] == "bed":
            held |= {order.by_hand for order in tiny.visits[stop[1]].orders}
        else:
            held -= {by_hand for by_hand in held if not by_hand or "hand" in stop[2]}
    return not held


def _without_needless(tiny: TinyRound, stops: Sequence[Stop]) -> list[Stop]:
    """Return the stops without hand-overs at which nothing is given away."""
    kept: list[Stop] = []
    held: set[bool] = set()
    for stop in stops:
        if stop[0] == "bed":
            held |= {order.by_hand for order in tiny.visits[stop[1]].orders}
        else:
            given = {by_hand for by_hand in held if not by_hand or "hand" in stop[2]}
            if not given:
                continue
            held -= given
        kept.append(stop)
    return kept


def _costs(
    problem: Problem,
    draws: Sequence[Draw],
    old: Plan,
    tiny: TinyRound,
    first_tray: int,
    person: int,
    stops: Sequence[Stop],
) -> _Made | None:
    timed = instants(tiny, tiny.people[person], tuple(stops))
    if timed is None:
        return None
    over_s, _costs_of_tiny, last_s, starts_s = timed
    begun = {n: start_s for (what, n, _), start_s in zip(stops, starts_s, strict=True) if what == "bed"}
    mine = tuple(n for n in begun if n < first_tray)
    late = sum(
        weight * max(0, begun[n] + draws[n].lead_s - target_s) for n in mine for target_s, weight in draws[n].targets
    )
    was = {n: _old_visit(draws[n], old) for n in mine}
    assert problem.replan is not None
    due_s = {p.draw_id: max(p.draw_s, p.walking_on_s or 0) for p in problem.replan.promised}
    changes = sum(
        begun[n] + draws[n].lead_s > due_s.get(before.draw_id, before.draw_s) + problem.policy.replan.change_s
        for n, before in was.items()
        if before is not None
    )
    turns = [tiny.visits[n].turn for n in mine]
    made = [stop.patient_id for stop in problem.replan.past[person].stops if isinstance(stop, Visit)]
    wards = [*(problem.patients[patient].ward for patient in made[-1:]), *(tiny.visits[n].ward for n in mine)]
    return _Made(
        starts_s={n: begun[n] for n in mine},
        late=late,
        to_lab=_past_dues(problem, draws, stops, starts_s),
        pulls=sum(_pulls(problem, draws[n], begun[n]) for n in mine),
        changes=changes,
        # Whether a pair could stand the other way round is not asked: every pair out of order counts.
        turns=sum(_pair_cost(problem, a, b) for i, b in enumerate(turns) for a in turns[:i] if a > b)
        + 100 * tiny.prices.ward_change_s * sum(here != there for here, there in pairwise(wards)),
        arrival_s=sum(arrival_s - problem.start_s for arrival_s in last_s.values()),
        over_s=over_s,
        time_s=over_s - tiny.people[person].from_s - sum(tiny.visits[n].service_s for n in begun),
    )


def _past_dues(problem: Problem, draws: Sequence[Draw], stops: Sequence[Stop], starts_s: Sequence[int]) -> int:
    """Return weighted seconds of stat and asap orders past when they should be in the laboratory.

    When that is, is the planner's; the checker works it out anew.
    """
    carried = list(_carried(problem))
    total, weights = 0, problem.policy.weights.late
    for at, (what, n, _) in enumerate(stops):
        if what != "bed":
            continue
        if n < len(draws):
            draw = draws[n]
            tubes, asked = draw.tube_set.tubes, draw.request.orders
            dues = dues_s(problem.policy, asked, draw.request.order_windows, _ready_s(problem, draw))
        else:
            _, visit, tubes = carried[n - len(draws)]
            asked = tuple(problem.order(o) for o in visit.order_ids)
            dues = dues_of_drawn_s(problem.policy, asked, visit.draw_s)
        for order in asked:
            mine = {tube.by_hand for tube in tubes if order.id in tube.order_ids and not tube.is_discard}
            if order.id in dues and mine:
                brought_s = max(_brought_s(problem, stops[at + 1 :], starts_s[at + 1 :], by_hand) for by_hand in mine)
                total += weights[order.priority] * max(0, brought_s - dues[order.id])
    return total


def _brought_s(problem: Problem, stops: Sequence[Stop], starts_s: Sequence[int], by_hand: bool) -> int:
    """Return when what is carried at first is in the laboratory: it is given away at the first stop that takes it."""
    given = ((n, s) for (what, n, takes), s in zip(stops, starts_s, strict=True) if _takes(what, takes, by_hand))
    n, start_s = next(given)
    pickup, over_s = problem.pickups[n], start_s + problem.policy.handover.handover_s
    return min([d for d in pickup.departures_s if d >= over_s], default=over_s) + pickup.transit_s


def _takes(what: str, takes: str, by_hand: bool) -> bool:
    return what == "out" and (not by_hand or "hand" in takes)


def _ready_s(problem: Problem, draw: Draw) -> int:
    reach_s = first_reach_s(problem, draw.request.bed)
    assert reach_s is not None
    return reach_s + draw.lead_s


def _pulls(problem: Problem, draw: Draw, start_s: int) -> int:
    """Return what a visit's start counts: a stat that waits, last minutes, and what is wished for."""
    prices = problem.policy.prices
    firsts = first_draws_s(draw.request.orders, draw.request.order_windows, _ready_s(problem, draw)).values()
    from_s, wished = last_minutes_s(problem, draw), wished_spans(problem, draw)
    off_s = sum(max(0, (a or 0) - start_s) + (0 if b is None else max(0, start_s - b)) for a, b in wished)
    return (
        (prices.stat_wait_pct * max(0, start_s + draw.lead_s - min(firsts)) if firsts else 0)
        + (0 if from_s is None else prices.last_minutes_pct * max(0, start_s - from_s))
        + prices.off_time_pct * off_s
    )


def _carried(problem: Problem) -> Iterator[tuple[Past, Visit, tuple[Tube, ...]]]:
    """Yield the past visits of which somebody still carries tubes, with these."""
    assert problem.replan is not None
    for past in problem.replan.past:
        for stop in past.stops:
            if isinstance(stop, Visit):
                held = tuple(p.tube for p in stop.tubes if p.handover is None and not p.tube.is_discard)
                if held:
                    yield past, stop, held


def _pair_cost(problem: Problem, first: int, second: int) -> int:
    """Return what a pair out of order costs, in hundredths of a second, by the places of their isolation."""
    prices = problem.policy.prices
    is_exposed = (first, second) == (AIRBORNE, PROTECTIVE)
    return 100 * (prices.protective_after_airborne_s if is_exposed else prices.isolation_s)


def _old_visit(draw: Draw, old: Plan) -> Visit | None:
    """Return the old visit to come with most orders in common."""
    mine = {order.id for order in draw.request.orders}
    visits = [v for route in old.routes for v in route.visits if mine & set(v.order_ids)]
    return max(visits, key=lambda v: len(mine & set(v.order_ids)), default=None)


def _old_stops(problem: Problem, draws: Sequence[Draw], old: Plan, person: int) -> list[Stop]:
    """Return the stops of the old sheet that one person has not made: visits that are still wanted, hand-overs."""
    assert problem.replan is not None
    begun = {visit.draw_id for visit in problem.replan.visits}
    num_given = sum(isinstance(stop, Handover) for stop in problem.replan.past[person].stops)
    now = _goes_on_as(draws, old)
    stops: list[Stop] = []
    for stop in next((r.stops for r in old.routes if r.phlebotomist == person), ()):
        if isinstance(stop, Visit):
            if stop.draw_id not in begun and id(stop) in now:
                stops.append(("bed", now[id(stop)], ""))
        elif isinstance(stop, Handover):
            if num_given:
                num_given -= 1
                continue
            outlet = next(n for n, p in enumerate(problem.pickups) if (p.place, p.kind) == (stop.place, stop.kind))
            stops.append(("out", outlet, "free" if stop.kind.value == "tube" else "freehand"))
        else:
            assert isinstance(stop, Break)
    return stops


def _goes_on_as(draws: Sequence[Draw], old: Plan) -> dict[int, int]:
    """Return which draw an old visit (by its ``id``) has become: of several, that with most of its orders."""
    becomes: dict[int, tuple[int, int]] = {}
    for n, draw in enumerate(draws):
        visit = _old_visit(draw, old)
        if visit is not None:
            shared = len({order.id for order in draw.request.orders} & set(visit.order_ids))
            becomes[id(visit)] = max(becomes.get(id(visit), (0, 0)), (shared, -n))
    return {visit: -n for visit, (_shared, n) in becomes.items()}


def _tiny(problem: Problem, draws: Sequence[Draw]) -> tuple[TinyRound, int]:
    """Return the round as the brute force reads it, what is in the trays behind the draws; and where that begins."""
    assert problem.replan is not None
    visits = [
        TinyVisit(
            bed=draw.request.bed,
            ward=problem.patients[draw.request.patient_id].ward,
            lead_s=draw.lead_s,
            service_s=draw.service_s,
            starts=tuple((w.earliest_s, w.latest_s) for w in draw.start_windows),
            orders=tuple(
                TinyOrder(priority="routine", by_hand=tube.by_hand, stability_s=tube.stability_s)
                for tube in draw.tube_set.tubes
                if not tube.is_discard
            ),
            turn=max((TURNS.index(_turn(p)) for p in problem.patients[draw.request.patient_id].precautions), default=1),
        )
        for draw in draws
    ]
    visits += [
        TinyVisit(
            bed=past.place,
            lead_s=stop.draw_s - past.free_s,
            service_s=0,
            starts=((past.free_s, past.free_s),),
            orders=tuple(TinyOrder(priority="routine", by_hand=t.by_hand, stability_s=t.stability_s) for t in held),
            needs=frozenset({f"tray of {past.phlebotomist}"}),
        )
        for past, stop, held in _carried(problem)
    ]
    people = tuple(
        TinyPerson(place=past.place, from_s=past.free_s, until_s=max(who.until_s, past.free_s), skills=who.skills)
        for past, who in zip(problem.replan.past, problem.staff, strict=True)
    )
    outlets = tuple(
        TinyOutlet(place=p.place, kind=p.kind.value, departures_s=p.departures_s, transit_s=p.transit_s)
        for p in problem.pickups
    )
    places = {v.bed for v in visits} | {p.place for p in people} | {o.place for o in outlets}
    walk_s = {(str(a), str(b)): problem.walking.between(a, b) for a in places for b in places if a != b}
    handover = problem.policy.handover
    return (
        TinyRound(
            walk_s=walk_s,
            visits=tuple(visits),
            outlets=outlets,
            people=people,
            handover_s=handover.handover_s,
            max_sends=handover.max_sends,
            prices=TinyPrices(
                arrival_pct=problem.policy.prices.arrival_pct,
                share=problem.policy.prices.share,
                ward_change_s=problem.policy.prices.ward_change_s,
            ),
        ),
        len(draws),
    )


def _turn(precaution: Precaution) -> str:
    return (Precaution.AIRBORNE if precaution is Precaution.UNCLEAR else precaution).value


assert set(TURNS) - {None} == {_turn(p) for p in Precaution}
