"""Does each route fit its phlebotomist, the map and the clock?"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from planner.checker.broken import Broken, Rule
from planner.checker.facts import Facts, StopAt
from planner.domain.places import PickupKind, PlaceId
from planner.domain.plan import Break


def one_route(facts: Facts) -> Iterator[Broken]:
    """Nobody walks two routes."""
    for index, count in Counter(route.phlebotomist for route in facts.plan.routes).items():
        if count > 1:
            yield Broken(f"{facts.problem.staff[index].initials}: {count} routes, expected one")


def skill(facts: Facts) -> Iterator[Broken]:
    """The phlebotomist has every skill that the patient needs."""
    for at in facts.visits:
        if missing := sorted(at.patient.needs - at.at.who.skills):
            yield Broken(f"{at.where}: the skill {', '.join(missing)} is missing", at.visit.order_ids)


def own_wards(facts: Facts) -> Iterator[Broken]:
    """Who is bound to wards visits no patient of another."""
    for at in facts.visits:
        own = at.at.who.wards
        if len(own) > 0 and at.patient.ward not in own:
            yield Broken(f"{at.where}: ward {at.patient.ward}, expected {' or '.join(sorted(own))}", at.visit.order_ids)


def shift(facts: Facts) -> Iterator[Broken]:
    """No stop arrives before the shift begins or departs after it ends."""
    for at in facts.stops:
        if at.stop.arrive_s < at.who.from_s or at.stop.depart_s > at.who.until_s:
            yield Broken(
                f"{at.where}: {facts.time(at.stop.arrive_s)} to {facts.time(at.stop.depart_s)}, expected within "
                f"{facts.time(at.who.from_s)} to {facts.time(at.who.until_s)}"
            )


def walking(facts: Facts) -> Iterator[Broken]:
    """Arrival is the departure of the stop before plus the shortest walk."""
    for at in facts.stops:
        walk_s = facts.walks.between(at.left_place, at.stop.place)
        if walk_s is None:
            yield Broken(f"{at.where}: no way leads there from {facts.problem.place_name(at.left_place)}")
        elif at.stop.arrive_s != at.left_s + walk_s:
            yield Broken(
                f"{at.where}: arrives at {facts.time(at.stop.arrive_s)}, expected {facts.time(at.left_s + walk_s)}: "
                f"{walk_s} s from {facts.problem.place_name(at.left_place)}"
            )


def walking_table(facts: Facts) -> Iterator[Broken]:
    """Stated walking times (a round without corridors) are not negative, and no detour over a stop is shorter."""
    if facts.walks.has_map:
        return
    walked = dict.fromkeys((at.left_place, at.stop.place) for at in facts.stops)
    places = list(dict.fromkeys(place for pair in walked for place in pair))
    name = facts.problem.place_names
    for start, end in walked:
        direct_s = facts.walks.between(start, end)
        if direct_s is None:
            continue
        if direct_s < 0:
            yield Broken(f"walk from {name(start)} to {name(end)}: {direct_s} s, expected not less than 0")
        elif (best := _detour(facts, start, end, places)) is not None and best[0] < direct_s:
            over = f"{best[0]} s over {name(best[1])}"
            yield Broken(f"walk from {name(start)} to {name(end)}: {direct_s} s, but {over}")


def no_overlap(facts: Facts) -> Iterator[Broken]:
    """Nothing starts before the phlebotomist has arrived."""
    for at in facts.stops:
        if at.stop.start_s < at.stop.arrive_s:
            yield Broken(
                f"{at.where}: starts at {facts.time(at.stop.start_s)}, arrives at {facts.time(at.stop.arrive_s)}"
            )


def handover_time(facts: Facts) -> Iterator[Broken]:
    """A hand-over lasts as long as the policy says."""
    for at, handover in facts.handovers:
        expected_s = handover.start_s + facts.problem.policy.handover.handover_s
        if handover.depart_s != expected_s:
            yield Broken(f"{at.where}: departs at {facts.time(handover.depart_s)}, expected {facts.time(expected_s)}")


def breaks(facts: Facts) -> Iterator[Broken]:
    """Who has a break takes it once, in full, within its window, where the last stop was; nobody else takes one.

    No break is owed on a route that is over while the whole break can still be taken within its window.
    """
    for route in facts.plan.routes:
        who = facts.problem.staff[route.phlebotomist]
        taken = sum(isinstance(stop, Break) for stop in route.stops)
        latest_s = who.until_s if who.break_window is None else who.break_window.latest_s
        is_over = len(route.stops) == facts.num_past(route.phlebotomist)
        is_over = is_over or route.stops[-1].depart_s + who.break_s <= latest_s
        owed = who.break_s > 0 and not is_over
        if taken > (who.break_s > 0) or taken < owed:
            yield Broken(f"{who.initials}: {taken} breaks, expected {int(who.break_s > 0)}")
    for at, pause in facts.breaks:
        yield from _wrong_break(facts, at, pause)


def _wrong_break(facts: Facts, at: StopAt, pause: Break) -> Iterator[Broken]:
    window = at.who.break_window
    if pause.depart_s - pause.start_s != at.who.break_s:
        yield Broken(f"{at.where}: a break of {pause.depart_s - pause.start_s} s, expected {at.who.break_s} s")
    elif pause.place != at.left_place:
        yield Broken(
            f"{at.where}: a break away from the last stop, expected at {facts.problem.place_name(at.left_place)}"
        )
    elif window is not None and not (pause.start_s >= window.earliest_s and pause.depart_s <= window.latest_s):
        yield Broken(
            f"{at.where}: break {facts.time(pause.start_s)} to {facts.time(pause.depart_s)}, expected within "
            f"{facts.time(window.earliest_s)} to {facts.time(window.latest_s)}"
        )


def _detour(facts: Facts, start: PlaceId, end: PlaceId, places: list[PlaceId]) -> tuple[int, PlaceId] | None:
    """Return seconds and place of the shortest walk with one place between; None without any."""
    between = facts.walks.between
    detours = (
        (first_s + second_s, place)
        for place in places
        if place not in (start, end)
        and (first_s := between(start, place)) is not None
        and (second_s := between(place, end)) is not None
    )
    return min(detours, default=None)


def pickup(facts: Facts) -> Iterator[Broken]:
    """A hand-over stands where specimens leave in the way that it says."""
    known = {(pickup.place, pickup.kind) for pickup in facts.problem.pickups}
    for at, handover in facts.handovers:
        if (handover.place, handover.kind) not in known:
            yield Broken(f"{at.where}: no {handover.kind.value} leaves from here")


def handover_limit(facts: Facts) -> Iterator[Broken]:
    """One collector uses each tube station, and carries to each place, only so many times as the policy allows."""
    most = facts.problem.policy.handover.max_sends
    uses = Counter(
        (at.who.initials, at.route.phlebotomist, stop.place, stop.kind)
        for at, stop in facts.handovers
        if stop.kind is not PickupKind.COURIER
    )
    for (initials, _, place, kind), count in uses.items():
        if count > most:
            at = facts.problem.place_name(place)
            yield Broken(f"{initials}: {count} hand-overs ({kind.value}) at {at}, expected at most {most}")


RULES: tuple[Rule, ...] = (
    one_route,
    skill,
    own_wards,
    shift,
    walking,
    walking_table,
    no_overlap,
    handover_time,
    breaks,
    pickup,
    handover_limit,
)
