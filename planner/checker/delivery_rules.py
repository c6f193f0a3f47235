"""Does every specimen leave the phlebotomist's hands, travel as it may, and arrive in time?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from planner.checker.arrivals import handover_of, journeys, tube_arrival_s
from planner.checker.broken import Broken, Rule
from planner.checker.container_rules import stability_s
from planner.checker.facts import Facts, VisitAt
from planner.domain.catalogue import Handling
from planner.domain.orders import OrderId
from planner.domain.places import PickupKind
from planner.domain.plan import PlannedTube


def handover(facts: Facts) -> Iterator[Broken]:
    """Every specimen is given away at a later stop of the same route; a discard tube is not."""
    for at, planned in _planned(facts):
        found = "no stop" if planned.handover is None else f"stop {planned.handover + 1}"
        if planned.tube.is_discard and planned.handover is not None:
            yield Broken(f"{_where(at, planned)}: a discard tube handed over at {found}", at.visit.order_ids)
        elif not planned.tube.is_discard and handover_of(at, planned) is None and not _is_lost(facts, at, planned):
            yield Broken(
                f"{_where(at, planned)}: handed over at {found}, expected a later hand-over of the same route",
                planned.tube.order_ids,
            )


def handover_empty(facts: Facts) -> Iterator[Broken]:
    """Something is given away at every hand-over; where a tube is not given away, rule `handover` says so alone."""
    taking: dict[int, set[int | None]] = defaultdict(set)
    for visit_at, planned in _planned(facts):
        if not planned.tube.is_discard:
            is_given = handover_of(visit_at, planned) is not None
            taking[visit_at.at.route.phlebotomist].add(planned.handover if is_given else None)
    for at, _stop in facts.handovers:
        if not taking[at.route.phlebotomist] & {at.index, None}:
            yield Broken(f"{at.where}: a hand-over that takes nothing")


def hand_deliver(facts: Facts) -> Iterator[Broken]:
    """What must go by hand, by its tests or by the site's word (rule `handling`), never goes by pneumatic tube."""
    for at, planned in _planned(facts):
        tests = [facts.problem.catalogue.tests[code] for code in planned.tube.tests]
        stop = handover_of(at, planned)
        if (
            stop is not None
            and stop.kind is PickupKind.TUBE
            and any(Handling.HAND_DELIVER in codes for codes in (planned.tube.handling, *(t.handling for t in tests)))
        ):
            yield Broken(f"{_where(at, planned)}: must go by hand, not by {stop.kind.value}", planned.tube.order_ids)


def courier(facts: Facts) -> Iterator[Broken]:
    """A courier stop waits for the first departure at or after its end; other hand-overs for none."""
    known = {(pickup.place, pickup.kind) for pickup in facts.problem.pickups}
    for at, stop in facts.handovers:
        possible = [departs_s for departs_s, _ in journeys(facts, stop)]
        if (stop.place, stop.kind) not in known or stop.departs_s in possible:
            continue
        expected = "none" if not possible or possible[0] is None else facts.time(possible[0])
        found = "none" if stop.departs_s is None else facts.time(stop.departs_s)
        yield Broken(f"{at.where}: departure {found}, expected {expected}")


def lab_arrival(facts: Facts) -> Iterator[Broken]:
    """Specimens reach the laboratory after the transit that their pickup states."""
    for at, stop in facts.handovers:
        possible = [arrival for _, arrival in journeys(facts, stop)]
        if possible and stop.lab_arrival_s not in possible:
            yield Broken(
                f"{at.where}: arrives at the laboratory at {facts.time(stop.lab_arrival_s)}, "
                f"expected {facts.time(possible[0])}"
            )


def stability(facts: Facts) -> Iterator[Broken]:
    """Every tube reaches the laboratory within its stability."""
    for at, planned in _planned(facts):
        limit_s = stability_s(facts, planned.tube)
        arrival = tube_arrival_s(facts, at, planned)
        is_old = limit_s is not None and arrival is not None and arrival - at.visit.draw_s > limit_s
        if limit_s is not None and arrival is not None and is_old and not _is_lost(facts, at, planned):
            yield Broken(
                f"{_where(at, planned)}: drawn at {facts.time(at.visit.draw_s)}, at the laboratory at "
                f"{facts.time(arrival)}, expected within {limit_s} s",
                planned.tube.order_ids,
            )


def drawn_in_vain(facts: Facts) -> Iterator[Broken]:
    """An order drawn in the past is listed so only if a tube of it is not given away, or reaches the laboratory old."""
    lost: set[OrderId] = set()
    past = [at for at in facts.all_visits if at.visit.outcome is not None]
    for at, planned in (
        (made, planned) for made in past for planned in made.visit.tubes if not planned.tube.is_discard
    ):
        limit_s, arrival = stability_s(facts, planned.tube), tube_arrival_s(facts, at, planned)
        if arrival is None or (limit_s is not None and arrival - at.visit.draw_s > limit_s):
            lost |= set(planned.tube.order_ids)
    for order_id in sorted(facts.in_vain - lost):
        yield Broken(f"order {order_id}: listed as drawn in vain, but its tubes arrive in time", (order_id,))


def _is_lost(facts: Facts, at: VisitAt, planned: PlannedTube) -> bool:
    """Return whether a tube was drawn before the round was planned anew, and its orders are said to be in vain."""
    served = set(planned.tube.order_ids) & set(at.visit.order_ids)
    return at.visit.outcome is not None and served <= facts.in_vain


def _planned(facts: Facts) -> Iterator[tuple[VisitAt, PlannedTube]]:
    """Yield the tubes of visits to come, and those that are in somebody's tray."""
    yield from ((at, planned) for at in facts.visits for planned in at.visit.tubes)
    yield from facts.in_trays


def _where(at: VisitAt, planned: PlannedTube) -> str:
    return f"{at.where}, tube {planned.tube.draw_position} ({planned.tube.tube})"


RULES: tuple[Rule, ...] = (handover, handover_empty, hand_deliver, courier, lab_arrival, stability, drawn_in_vain)
