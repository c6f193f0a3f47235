"""Does what has happened stay, and is nobody sent back who may not be?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from planner.checker.broken import Broken, Rule
from planner.checker.facts import Facts, past_of
from planner.domain.orders import OrderId
from planner.domain.plan import Route, Stop, Visit
from planner.domain.revisions.events import PhlebotomistNeverCame
from planner.domain.revisions.replan import Held, Promised


def past(facts: Facts) -> Iterator[Broken]:
    """Every route begins with the stops that were made, unchanged but for where tubes in the tray are given away."""
    routes = {route.phlebotomist: route for route in facts.plan.routes}
    for person, who in enumerate(facts.problem.staff):
        made = past_of(facts.problem, person)
        route = routes.get(person, Route(phlebotomist=person, stops=()))
        stops = made.stops if made is not None else ()
        for index, before in enumerate(stops):
            after = route.stops[index] if index < len(route.stops) else None
            if after is None or not _is_same(before, after):
                yield Broken(f"{who.initials}, stop {index + 1}: not what happened there")
        for index, stop in enumerate(route.stops[len(stops) :], start=len(stops) + 1):
            if isinstance(stop, Visit) and (stop.outcome is not None or stop.tried):
                yield Broken(f"{who.initials}, stop {index}: has an outcome, and is still to come", stop.order_ids)


def past_in_turn(facts: Facts) -> Iterator[Broken]:
    """Nobody was at two places at once: each stop that was made begins when the one before it is over, or later."""
    for person, who in enumerate(facts.problem.staff):
        made = past_of(facts.problem, person)
        over_s, before = None, ""
        for index, stop in enumerate(made.stops if made is not None else (), start=1):
            at = f"{who.initials}, stop {index} ({facts.problem.place_name(stop.place)})"
            if over_s is not None and stop.start_s < over_s:
                orders = (*stop.order_ids, *stop.tried) if isinstance(stop, Visit) else ()
                yield Broken(f"{at}: begun at {facts.time(stop.start_s)}, before {before} was over", orders)
            over_s, before = stop.depart_s, at


def unanswered_stat(facts: Facts) -> Iterator[Broken]:
    """What was due with a stat that nobody reported is drawn with nothing else: it may be drawn already."""
    replan = facts.problem.replan
    if replan is None:
        return
    absent = {event.what.phlebotomist for event in replan.log if isinstance(event.what, PhlebotomistNeverCame)}
    due: dict[OrderId, set[tuple[int, int, int]]] = {}

    def was_on(sheet: Held | Promised, until_s: int, order_ids: Iterable[OrderId]) -> None:
        if sheet.is_stat and sheet.draw_s <= until_s and sheet.phlebotomist not in absent:
            for order_id in order_ids:
                due.setdefault(order_id, set()).add((sheet.phlebotomist, sheet.draw_s, until_s))

    for promised in replan.promised:
        was_on(promised, replan.now_s, promised.order_ids)
    for promised in (*replan.promised, *replan.came_back):
        for held in promised.earlier:
            was_on(held, held.until_s, promised.order_ids)
    for at in facts.visits:
        if len({frozenset(due.get(order.id, ())) for order in at.orders}) > 1:
            yield Broken(f"{at.where}: drawn with a stat that may be drawn already", [order.id for order in at.orders])


def _is_same(before: Stop, after: Stop) -> bool:
    if not isinstance(before, Visit) or not isinstance(after, Visit) or len(before.tubes) != len(after.tubes):
        return before == after
    tubes = tuple(
        replace(new, handover=None) if old.handover is None else new
        for old, new in zip(before.tubes, after.tubes, strict=True)
    )
    return before == replace(after, tubes=tubes)


def second_person(facts: Facts) -> Iterator[Broken]:
    """Whoever failed with an order does not try it again."""
    retries = facts.problem.replan.retries if facts.problem.replan else ()
    for at in facts.visits:
        for retry in retries:
            if retry.order_id in at.visit.order_ids and at.at.route.phlebotomist in retry.not_by:
                yield Broken(f"{at.where}, order {retry.order_id}: failed here before", (retry.order_id,))


def retry(facts: Facts) -> Iterator[Broken]:
    """Whoever was away is not tried again before the time that was set."""
    retries = facts.problem.replan.retries if facts.problem.replan else ()
    for at in facts.visits:
        for again in retries:
            earliest_s = again.not_before_s
            if again.order_id in at.visit.order_ids and earliest_s is not None and at.visit.draw_s < earliest_s:
                yield Broken(
                    f"{at.where}, order {again.order_id}: drawn at {facts.time(at.visit.draw_s)}, expected not before "
                    f"{facts.time(earliest_s)}",
                    (again.order_id,),
                )


def tray_limit(facts: Facts) -> Iterator[Broken]:
    """Nobody carries more tubes at once than the policy allows; those in a tray when the round went on are apart."""
    most = facts.problem.policy.handover.tray_limit
    if most is None:
        return
    for route in facts.plan.routes:
        visits = [at for at in facts.visits if at.at.route is route]
        for stop in range(len(route.stops)):
            held = sum(
                planned.handover is not None and at.at.index <= stop < planned.handover
                for at in visits
                for planned in at.visit.tubes
            )
            if held > most:
                who = facts.problem.staff[route.phlebotomist]
                yield Broken(f"{who.initials}, stop {stop + 1}: carries {held} tubes, expected at most {most}")
                break


RULES: tuple[Rule, ...] = (past, past_in_turn, unanswered_stat, second_person, retry, tray_limit)
"""Rules of a round that has begun, and of what is carried."""
