"""What `planner explain` prints of a planned order: why it is there, and what another place would cost."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from planner.domain.beds import names_listed
from planner.domain.derived.shares import may_make
from planner.domain.goals import EFFORT_PER_S, Tier
from planner.domain.plan import Break, Plan, Stop, Unplanned, Visit
from planner.domain.problem import Problem

if TYPE_CHECKING:
    from planner.explaining.elsewhere import Elsewhere
    from planner.explaining.reasons import Explained, Made

_MOST_OTHERS = 4
"""So many other people are listed, those first for whom the visit costs least (our choice)."""


def aside_lines(problem: Problem, aside: Unplanned) -> Iterator[str]:
    """Yield what is known of an order that was set aside: test, bed or ward, reason, and what to do."""
    from planner.exporters.view.words import REASON

    priority = f", {aside.priority.value}" if aside.priority else ""
    bed = problem.bed_words(aside)
    test = f"test {aside.test}" if aside.test else "no test stated"
    yield f"Order {aside.order_id}: {test}, {'no bed known' if bed == '?' else f'bed {bed}'}{priority}"
    title, remedy = REASON[aside.reason]
    yield f"Set aside: {title}: {aside.detail}"
    yield f"What to do: {remedy}"
    if aside.source is not None:
        yield f"It stands in {aside.source}"


def why_lines(problem: Problem, plan: Plan, explained: Explained, made: Made) -> Iterator[str]:
    """Yield why a visit is where it is: who may make it, its window, the stops around it, what it also serves."""
    visit, clock = made.visit, problem.clock
    yield _who_may(problem, made)
    if (window := explained.window) is not None:
        yield _in_window(problem, visit, window.earliest.at_s, window.latest.at_s)
    stops = next(route.stops for route in plan.routes if route.phlebotomist == made.phlebotomist)
    at = made.stop_number - 1
    if at:
        walk = (
            f", {_minutes(visit.arrive_s - stops[at - 1].depart_s)} away"
            if visit.arrive_s > stops[at - 1].depart_s
            else ""
        )
        yield f"before it: {_stop(problem, stops[at - 1])}, left at {clock.format_clock(stops[at - 1].depart_s)}{walk}"
    else:
        yield "it is the first stop of the route"
    if at + 1 < len(stops):
        yield f"after it: {_stop(problem, stops[at + 1])}, reached at {clock.format_clock(stops[at + 1].arrive_s)}"
    test_of = {order.id: order.test for order in problem.orders}
    own = explained.order.id if explained.order else ""
    if others := [f"{order_id} ({test_of[order_id]})" for order_id in visit.order_ids if order_id != own]:
        yield f"the same puncture serves {names_listed(others)}"


def _who_may(problem: Problem, made: Made) -> str:
    """Return who may make a visit, and of the others what keeps them from it."""
    patient = problem.patients[made.visit.patient_id]
    able = [who.initials for who in problem.staff if may_make(who, patient)]
    barred = []
    for who in problem.staff:
        lacks = [f"needs {', '.join(sorted(patient.needs - who.skills))}"] if patient.needs - who.skills else []
        lacks += [] if who.goes_to(patient.ward) else [f"goes to {', '.join(sorted(who.wards))} only"]
        if lacks:
            barred.append(f"{who.initials} may not: {' and '.join(lacks)}")
    first = f"Only {able[0]} may make this visit" if len(able) == 1 else f"{', '.join(able)} may make this visit"
    return "; ".join([first, *barred[:_MOST_OTHERS]]) + (
        f"; {len(barred) - _MOST_OTHERS} more may not" if len(barred) > _MOST_OTHERS else ""
    )


def _in_window(problem: Problem, visit: Visit, earliest_s: int, latest_s: int) -> str:
    """Return where in its window the draw is."""
    wait_s = visit.start_s - visit.arrive_s
    waited = f" after a wait of {_minutes(wait_s)} at the bed" if wait_s > 0 else ""
    if visit.draw_s <= earliest_s:
        return f"it is drawn as soon as its window opens{waited}"
    return (
        f"it is drawn {_minutes(visit.draw_s - earliest_s)} after its window opens and "
        f"{_minutes(latest_s - visit.draw_s)} before it closes{waited}"
    )


def _stop(problem: Problem, stop: Stop) -> str:
    if isinstance(stop, Break):
        return "the break"
    name = problem.place_name(stop.place)
    return f"bed {name}" if isinstance(stop, Visit) else f"hand-over at {name}"


def elsewhere_lines(problem: Problem, found: Sequence[Elsewhere]) -> Iterator[str]:
    """Yield what another place would cost, each timed anew with the other stops in their order."""
    from planner.explaining.elsewhere import Where

    near = [one for one in found if one.where is not Where.SOMEBODY_ELSE]
    others = [one for one in found if one.where is Where.SOMEBODY_ELSE and one.may]
    tiers = list(Tier)
    others.sort(key=lambda o: (o.draw_s is None, tiers.index(o.tier) if o.tier else len(tiers), o.worse))
    for one in (*near, *others[:_MOST_OTHERS]):
        who = problem.staff[one.phlebotomist].initials
        where = f"with {who}" if one.where is Where.SOMEBODY_ELSE else one.where.value
        yield f"- {where}: {_cost_words(problem, one)}"
    if len(others) > _MOST_OTHERS:
        yield f"- with others: {len(others) - _MOST_OTHERS} more may make it, none at a lower cost"


def _cost_words(problem: Problem, one: Elsewhere) -> str:
    from planner.exporters.view.goals import GOAL

    if one.draw_s is None:
        return "not possible: a window, a hand-over, a break or the end of the shift would not be kept"
    drawn = f"drawn at {problem.clock.format_clock(one.draw_s)}"
    if one.tier is None:
        return f"{drawn}; no goal gets better or worse"
    more = "worse" if one.worse > 0 else "better"
    shown = sorted(one.parts, key=lambda part: -abs(part[1]))[:2]
    parts = ", ".join(f"{GOAL[part.value][0]} {_amount(one.tier, value, signed=True)}" for part, value in shown)
    said = f"{drawn}; {one.tier.value} {_amount(one.tier, abs(one.worse))} {more} ({parts})"
    return said if one.worse > 0 else f"{said}: the search did not find it; plan again with --effort thorough"


def _amount(tier: Tier, value: int, *, signed: bool = False) -> str:
    """Return an amount of a tier: its weight, else minutes at the site's prices."""
    from planner.exporters.view.goals import minutes_words

    if tier is Tier.LEFT_OUT:
        return f"{value:+d}" if signed else f"weight {value}"
    words = minutes_words(abs(value) / (EFFORT_PER_S if tier is Tier.EFFORT else 1))
    return f"{'-' if value < 0 else '+'}{words}" if signed else words


def elsewhere_data(problem: Problem, found: Sequence[Elsewhere] | None) -> list[dict[str, Any]] | None:
    """Return the same for programs; None where nothing was worked out."""
    if found is None:
        return None
    return [
        {
            "where": one.where.value,
            "by": problem.staff[one.phlebotomist].initials,
            "may": one.may,
            "drawn": None if one.draw_s is None else problem.clock.iso(one.draw_s),
            "goal": one.tier.value if one.tier else None,
            "worse": one.worse,
            "unit": one.tier.unit if one.tier else None,
        }
        for one in found
    ]


def _minutes(seconds: int) -> str:
    return f"{-(-seconds // 60)} min"
