"""Changes to a round that has begun, and to what is carried and repeated: what each breaks."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from planner.domain.catalogue import TubeCode
from planner.domain.draws import DrawId
from planner.domain.orders import EarlierDraw, OrderId, PatientId
from planner.domain.places import PlaceId
from planner.domain.plan import Outcome, Plan, Reason, Route, Unplanned, Visit
from planner.domain.policy import HandoverPolicy
from planner.domain.problem import Problem
from planner.domain.revisions.replan import Past, Promised, Replan, Retry
from tests.unit.checker.clean import (
    PLAN,
    PROBLEM,
    Changes,
    make_goals,
    with_order,
    with_policy,
    with_stop,
    with_test,
)

CHANGES = Changes()

NOW_S = 18_620
"""AB has just left her second bed; CD has not begun."""

DONE = tuple(replace(stop, outcome=Outcome.COLLECTED) for stop in PLAN.routes[0].stops[:2] if isinstance(stop, Visit))

BEGUN = Replan(
    parent=1,
    now_s=NOW_S,
    past=(
        Past(
            phlebotomist=0,
            stops=tuple(
                replace(visit, tubes=tuple(replace(tube, handover=None) for tube in visit.tubes)) for visit in DONE
            ),
            place=PlaceId("B2"),
            free_s=NOW_S,
        ),
        Past(phlebotomist=1, stops=(), place=PROBLEM.staff[1].starts_at, free_s=21_600),
    ),
)

# To come: three draws, of five visits specimens. AB: 19 370 - 18 620 - (360 + 300) = 90; CD as before 120.
# Three patients. AB is there 13 780 s of 24 580 from now, 56 %, and works 660 s of 960 at beds.
BEGUN_PLAN = replace(
    PLAN,
    routes=(Route(phlebotomist=0, stops=(*DONE, *PLAN.routes[0].stops[2:])), PLAN.routes[1]),
    goals=make_goals(second_punctures=0, time=210, share=66_000 - 56 * 960),
)


COMING_AS_DONE = with_stop(2, BEGUN_PLAN, outcome=Outcome.COLLECTED)


def begun(**changes: Any) -> Problem:
    """Return the round as it stands when AB has left her second bed."""
    return replace(PROBLEM, replan=replace(BEGUN, **changes))


def promised(**changes: Any) -> Promised:
    """Return what was promised of the third bed: as it is planned."""
    fields: dict[str, Any] = {
        "draw_id": DrawId("P3-O4"),
        "patient_id": PatientId("P3"),
        "place": PlaceId("B3"),
        "order_ids": (OrderId("O4"), OrderId("O5"), OrderId("O6")),
        "phlebotomist": 0,
        "position": 0,
        "draw_s": 18_765,
    }
    return Promised(**fields | changes)


def in_vain(order_id: str) -> Unplanned:
    return Unplanned(order_id=OrderId(order_id), reason=Reason.DRAWN_IN_VAIN, detail="too old")


def with_first_draw_at(draw_s: int) -> Problem:
    """T1, drawn at 21 745, is the second of a series whose test is to be drawn an hour apart, 10 min more or less."""
    problem = with_order("T1", with_test("TNT", serial_offsets=((0, 3600),), serial_tolerance_s=600), series="S")
    first = EarlierDraw(patient_id=PatientId("P1"), test=problem.order(OrderId("T1")).test, series="S", draw_s=draw_s)
    return replace(problem, earlier_draws=(first,))


def with_first_draw_in(kind: str) -> Problem:
    """T1, drawn into HEPG, follows a draw into another kind, and its test wants one kind."""
    problem = with_test("TNT", with_first_draw_at(18_145), one_kind_in_series=True, serial_offsets=((0, 3600),))
    first = replace(problem.earlier_draws[0], tube=TubeCode(kind))
    return replace(problem, earlier_draws=(first,))


def at_two_beds(seconds: int) -> tuple[Problem, Plan]:
    """Return the round and the plan in which AB came to the second bed so long before the first was left."""
    early = DONE[0].depart_s - seconds - DONE[1].start_s
    stay = {"arrive_s": DONE[1].arrive_s + early, "start_s": DONE[1].start_s + early}
    past = BEGUN.past[0]
    stops = (past.stops[0], replace(past.stops[1], **stay))
    return begun(past=(replace(past, stops=stops), BEGUN.past[1])), with_stop(1, BEGUN_PLAN, **stay)


CHANGES.add("series-kind", "another kind than before the round", lambda: with_first_draw_in("SERG"))
CHANGES.add("past", "a past stop moved", lambda: (begun(), with_stop(0, BEGUN_PLAN, depart_s=18_311)))
CHANGES.add("past", "an outcome before the visit", lambda: (begun(), COMING_AS_DONE))
CHANGES.add(
    "unanswered-stat",
    "O6, ordered later, with a stat that was due a second ago",
    lambda: (begun(promised=(promised(order_ids=("O4", "O5"), draw_s=NOW_S - 1, is_stat=True),)), BEGUN_PLAN),
)
CHANGES.add("past-in-turn", "two beds at once", lambda: at_two_beds(1))

CHANGES.add(
    "second-person",
    "whoever failed tries again",
    lambda: (begun(retries=(Retry(order_id=OrderId("O5"), not_by=frozenset({0})),)), BEGUN_PLAN),
)
# Drawn at 18 630 + 135.
CHANGES.add(
    "retry",
    "tried again a second too early",
    lambda: (begun(retries=(Retry(order_id=OrderId("O5"), not_before_s=18_766),)), BEGUN_PLAN),
)
CHANGES.add(
    "drawn-in-vain",
    "an order that arrives in time",
    lambda: (begun(), replace(BEGUN_PLAN, unplanned=(*BEGUN_PLAN.unplanned, in_vain("O1")))),
)
# AB holds 1 + 1 + 4 + 1 tubes when she leaves her last bed, the discard tube apart.
CHANGES.add("tray-limit", "seven tubes for six", lambda: with_policy(handover=HandoverPolicy(tray_limit=6)))
# 21 745 - 3600 - 600 = 17 545 is the earliest that the first may have been drawn, 18 745 the last.
CHANGES.add("series-gap", "too long after the first", lambda: with_first_draw_at(17_544))
CHANGES.add("series-gap", "too soon after the first", lambda: with_first_draw_at(18_746))
CHANGES.add(
    "goal-value",
    "a change that is not counted: another person was promised",
    lambda: (begun(promised=(promised(phlebotomist=1),)), BEGUN_PLAN),
)
CHANGES.add(
    "goal-value",
    "a change that is not counted: later by a second more than allowed",
    lambda: (begun(promised=(promised(draw_s=18_765 - 601),)), BEGUN_PLAN),
)
CHANGES.add(
    "goal-value",
    "a change that is not counted: later by a second more than allowed than by walking on",
    lambda: (begun(promised=(promised(draw_s=18_765 - 2000, walking_on_s=18_765 - 601),)), BEGUN_PLAN),
)

ALLOWED = {
    "a series in the kind of the draw before": lambda: with_first_draw_in("HEPG"),
    "a series whose earlier kind does not serve": lambda: with_first_draw_in("EDTA"),
    "all that was to be drawn with a stat that was due": lambda: (
        begun(promised=(promised(draw_s=NOW_S - 1, is_stat=True),)),
        BEGUN_PLAN,
    ),
    "a later order with a stat that was not due": lambda: (
        begun(promised=(promised(order_ids=("O4", "O5"), draw_s=NOW_S + 1, is_stat=True),)),
        BEGUN_PLAN,
    ),
    "a bed come to as the one before is left": lambda: at_two_beds(0),
    "a round that has begun": lambda: (begun(), BEGUN_PLAN),
    "a retry at its first second": lambda: (
        begun(retries=(Retry(order_id=OrderId("O5"), not_by=frozenset({1}), not_before_s=18_765),)),
        BEGUN_PLAN,
    ),
    "seven tubes for seven": lambda: (with_policy(handover=HandoverPolicy(tray_limit=7)), PLAN),
    "a series at the ends of its gap": lambda: (with_first_draw_at(17_545), PLAN),
    "a series at the other end of its gap": lambda: (with_first_draw_at(18_745), PLAN),
    "a promise that is late as its person is anyway": lambda: (
        begun(promised=(promised(draw_s=18_765 - 2000, walking_on_s=18_765 - 600),)),
        BEGUN_PLAN,
    ),
    "a promise kept but for the allowed minutes": lambda: (
        begun(promised=(promised(draw_s=18_165),)),
        BEGUN_PLAN,
    ),
}
