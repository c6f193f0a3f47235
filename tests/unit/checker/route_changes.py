"""Changes to routes, deliveries and goals: what each breaks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from planner.checker import check_plan
from planner.domain.catalogue import Handling
from planner.domain.places import PickupKind, PlaceId, WalkingTimes
from planner.domain.plan import Goal, GoalPart, Plan, Route
from planner.domain.policy import HandoverPolicy
from planner.domain.problem import Problem
from tests.unit.checker.clean import (
    PLAN,
    PROBLEM,
    Changes,
    make_goals,
    window,
    with_patient,
    with_policy,
    with_staff,
    with_stop,
    with_stops,
    with_test,
    with_tube,
)

CHANGES = Changes()


def with_second_handover() -> Plan:
    """AB hands over again where she stands, 60 s more for part ``time``; nothing is left in her tray."""
    stops = PLAN.routes[0].stops
    again = replace(stops[-1], arrive_s=19_370, start_s=19_370, depart_s=19_430)
    return with_stops((*stops, again), replace(PLAN, goals=make_goals(time=290)))


def without_map(**seconds: int) -> Problem:
    """Return the round without corridors; ``A_B=5`` states another walking time from A to B."""
    stated = dict(PROBLEM.walking.seconds)
    stated |= {tuple(PlaceId(p) for p in pair.split("_")): value for pair, value in seconds.items()}
    return replace(PROBLEM, corridors=(), walking=WalkingTimes(stated))


def with_goal(name: str, **changes: Any) -> Plan:
    return with_goals(*(replace(g, **changes) if g.name == name else g for g in PLAN.goals))


def with_parts(name: str, change: Callable[[tuple[GoalPart, ...]], tuple[GoalPart, ...]]) -> Plan:
    return with_goals(*(replace(g, parts=change(g.parts)) if g.name == name else g for g in PLAN.goals))


def with_part(name: str, part: GoalPart, **changes: int) -> Plan:
    return with_parts(name, lambda parts: tuple(replace(p, **changes) if p is part else p for p in parts))


def with_goals(*goals: Goal) -> Plan:
    return replace(PLAN, goals=goals)


def with_one_way() -> Problem:
    """B2 to B1 only: AB, who goes from B1 to B2, has no way."""
    return replace(
        PROBLEM,
        corridors=tuple(
            replace(c, from_place=c.to_place, to_place=c.from_place, is_one_way=True)
            if (c.from_place, c.to_place) == ("B1", "B2")
            else c
            for c in PROBLEM.corridors
        ),
    )


def with_hand_delivery() -> tuple[Problem, Plan]:
    handling = frozenset({Handling.RECORD_TIME, Handling.HAND_DELIVER})
    return with_test("TNT", handling=handling), with_tube(0, 1, route=1, handling=handling)


def with_short_stability() -> tuple[Problem, Plan]:
    """LFT drawn at 18 455 arrives at 22 200: 3 745 s."""
    problem = with_test("LFT", max_room_s=3745)
    plan = with_tube(1, 1, stability_s=3745)
    assert check_plan(problem, plan).codes() == []
    return with_test("LFT", max_room_s=3744), with_tube(1, 1, stability_s=3744)


CHANGES.add(
    "one-route", "a second route", lambda: replace(PLAN, routes=(*PLAN.routes, Route(phlebotomist=0, stops=())))
)
CHANGES.add("own-wards", "a ward that is not the collector's", lambda: with_staff(0, wards=frozenset({"Elsewhere"})))
CHANGES.add("skill", "a skill that nobody has", lambda: with_patient("P2", needs=frozenset({"central line"})))
# The last stop ends at 19 370. AB is there 1369 s of 12 169: 11 %, a share of 126 000 - 11 * 1560.
CHANGES.add(
    "shift",
    "a stop after the shift",
    lambda: (with_staff(0, until_s=19_369), replace(PLAN, goals=make_goals(share=108_840))),
)
CHANGES.add("walking", "quicker than one can walk", lambda: with_stop(1, arrive_s=18_319))
CHANGES.add("walking", "an order of stops that the map forbids", lambda: with_one_way())
CHANGES.add("walking-table", "a detour that is shorter", lambda: without_map(B1_B3=4, B3_B2=5))
CHANGES.add("walking-table", "a negative time beside the way", lambda: without_map(B1_B3=-1))
# One second less on the route; CD still finishes last.
CHANGES.add(
    "no-overlap",
    "starts before arriving",
    lambda: with_stop(4, replace(PLAN, goals=make_goals(time=229)), start_s=19_309, depart_s=19_369),
)
CHANGES.add("handover-time", "too quick", lambda: with_policy(handover=HandoverPolicy(handover_s=61)))
# 19 370 + 600 s is after the window's end, so the break is owed.
CHANGES.add("breaks", "no break", lambda: with_staff(0, break_s=600, break_window=window(18_000, 19_900)))
# Without the only tube of stop 1 four visits count for ``arrival``; without AB's hand-over only CD's does.
NOT_GIVEN = replace(PLAN, goals=make_goals(arrival=4 * 4200))
ONE_GIVEN = replace(PLAN, goals=make_goals(arrival=4200))
CHANGES.add("pickup", "no laboratory there", lambda: with_stop(4, ONE_GIVEN, kind=PickupKind.CARRIED, departs_s=None))
CHANGES.add("handover-limit", "the tube station too often", lambda: with_policy(handover=HandoverPolicy(max_sends=0)))
CHANGES.add("handover", "given away before it is drawn", lambda: with_tube(1, 1, NOT_GIVEN, handover=0))
CHANGES.add("handover", "given away at a bed", lambda: with_tube(1, 1, NOT_GIVEN, handover=2))
CHANGES.add("handover", "given away beyond the route", lambda: with_tube(1, 1, NOT_GIVEN, handover=5))
CHANGES.add("handover", "counted from behind", lambda: with_tube(1, 1, NOT_GIVEN, handover=-1))
CHANGES.add("handover", "never given away", lambda: with_tube(1, 1, NOT_GIVEN, handover=None))
CHANGES.add("handover", "the discard tube given away", lambda: with_tube(2, 3, handover=4))
CHANGES.add("handover-empty", "nothing left to give away", lambda: with_second_handover())
CHANGES.add("hand-deliver", "by tube though by hand", lambda: with_hand_delivery())
CHANGES.add("courier", "the second departure", lambda: with_stop(4, departs_s=25_200))
CHANGES.add("courier", "no departure", lambda: with_stop(4, departs_s=None))
CHANGES.add("courier", "a courier at the tube station", lambda: with_stop(1, route=1, departs_s=22_020))
CHANGES.add("lab-arrival", "faster than the courier", lambda: with_stop(4, lab_arrival_s=22_199))
CHANGES.add("stability", "too late for the test", lambda: with_short_stability())
CHANGES.add("goal-names", "two goals exchanged", lambda: with_goals(*PLAN.goals[1::-1], *PLAN.goals[2:]))
CHANGES.add("goal-names", "a goal missing", lambda: with_goals(*PLAN.goals[:-1]))
CHANGES.add("goal-names", "a goal twice", lambda: with_goals(*PLAN.goals, PLAN.goals[-1]))
CHANGES.add("goal-names", "another unit", lambda: with_goals(replace(PLAN.goals[0], unit="orders"), *PLAN.goals[1:]))
CHANGES.add(
    "goal-bound", "a bound above the value", lambda: with_goals(replace(PLAN.goals[0], bound=2), *PLAN.goals[1:])
)
CHANGES.add("goal-names", "a part missing", lambda: with_parts("effort", lambda parts: parts[:-1]))
CHANGES.add("goal-names", "two parts exchanged", lambda: with_parts("service", lambda parts: parts[::-1]))
CHANGES.add("goal-names", "a part twice", lambda: with_parts("left-out", lambda parts: parts * 2))
for goal in PLAN.goals:
    CHANGES.add(
        "goal-value",
        f"{goal.name} one too high",
        lambda goal=goal: with_goal(goal.name, value=goal.value + 1),
    )
    for part in goal.parts:
        CHANGES.add(
            "goal-value",
            f"part {part.name} one too high",
            lambda goal=goal, part=part: with_part(goal.name, part, value=part.value + 1),
        )
        CHANGES.add(
            "goal-value",
            f"the price of part {part.name} one too high",
            lambda goal=goal, part=part: with_part(goal.name, part, price=part.price + 1),
        )
