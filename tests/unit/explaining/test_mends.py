"""What would mend an order is found by planning again, and is what a person would find by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.domain.orders import Order, OrderId
from planner.domain.places import Pickup, PickupKind, PlaceId
from planner.domain.problem import Problem
from planner.explaining.mends import Mend, mends
from planner.explaining.reasons import explain
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from tests.builders import clock, make_order, make_problem

pytestmark = pytest.mark.slow

PARAMS = SolveParams(effort="quick", proves=False)


def found(problem: Problem, order_id: str) -> list[Mend]:
    plan = plan_round(problem, PARAMS).plan
    return list(mends(problem, plan, 1, OrderId(order_id), PARAMS))


def at_the_same_time(**changes: object) -> list[Order]:
    """Two beds of which each must be drawn from 06:00 to 06:01 exactly: one person can serve one of them."""
    span = {"collect_from_s": clock("06:00"), "collect_to_s": clock("06:01")}
    return [make_order("O1", **span), make_order("O2", "P2", **span | changes)]


def test_order_that_is_on_time_is_explained_by_its_rules() -> None:
    problem = make_problem([make_order("O1", collect_from_s=clock("06:00"))])
    explained = explain(problem, plan_round(problem, PARAMS).plan, OrderId("O1"))
    assert explained is not None and explained.made is not None and explained.window is not None
    assert (explained.window.earliest.rule, explained.window.latest.rule) == ("requested", "round")
    assert explained.made.visit.draw_s == clock("06:00")
    assert explained.late_s == 0


def test_unknown_order_is_not_explained() -> None:
    problem = make_problem([make_order("O1")])
    assert explain(problem, plan_round(problem, PARAMS).plan, OrderId("O9")) is None


def test_second_person_mends_two_draws_at_once_and_may_come_as_late_as_that_allows() -> None:
    problem = make_problem(at_the_same_time())
    plan = plan_round(problem, PARAMS).plan
    (late,) = [o for o in ("O1", "O2") if (e := explain(problem, plan, OrderId(o))) is not None and e.late_s]
    helpers = [m for m in found(problem, late) if m.words.startswith("one more")]
    # By 06:01 at the bed with the lead of 135 s, and a few seconds to walk: of the quarters of an hour 05:45 is last.
    assert [m.words for m in helpers] == ["one more phlebotomist from 05:45"]
    assert helpers[0].draw_s <= clock("06:01")


def test_wider_window_mends_and_the_smallest_step_is_named() -> None:
    # The second is drawn 300 s and a walk after the first: six minutes past 06:01 at most, so ten minutes suffice
    # and five do not (06:00 + 300 s + 10 s = 06:05:10, but the first may be drawn at 06:00 only).
    problem = make_problem(at_the_same_time())
    plan = plan_round(problem, PARAMS).plan
    (late,) = [o for o in ("O1", "O2") if (e := explain(problem, plan, OrderId(o))) is not None and e.late_s]
    late_s = explain(problem, plan, OrderId(late)).late_s
    assert 0 < late_s <= 300
    words = [m.words for m in found(problem, late)]
    assert "it may be drawn 5 minutes later, until 06:06" in words


def test_courier_held_mends_a_specimen_that_would_miss_it() -> None:
    # Drawn from 06:00 on, on ice for 30 minutes at most; the courier of 06:04 leaves before she can be there,
    # the next comes at 07:00.
    order = make_order("O1", test="LACT", collect_from_s=clock("06:00"), collect_to_s=clock("06:01"))
    courier = Pickup(
        place=PlaceId("PICKUP"),
        kind=PickupKind.COURIER,
        departures_s=(clock("06:04"), clock("07:00")),
        transit_s=300,
    )
    problem = replace(make_problem([order]), pickups=(courier,))
    explained = explain(problem, plan_round(problem, PARAMS).plan, OrderId("O1"))
    assert explained is not None
    held = [m for m in found(problem, "O1") if "held" in m.words]
    assert explained.made is None or explained.late_s
    assert [m.words.split(" held ")[1] for m in held] == ["5 minutes"]


def test_leaving_another_bed_out_or_a_longer_shift_mends_a_full_round() -> None:
    # A draw takes 300 s and the hand-over 60 s: a shift of 500 s has room for one bed of two.
    problem = make_problem([make_order("O1"), make_order("O2", "P2")])
    short = replace(problem, staff=tuple(replace(who, until_s=who.from_s + 500) for who in problem.staff))
    plan = plan_round(short, PARAMS).plan
    (lost,) = [o for o in ("O1", "O2") if (e := explain(short, plan, OrderId(o))) is not None and e.made is None]
    words = [m.words for m in mends(short, plan, 1, OrderId(lost), PARAMS)]
    assert any("left to another round" in w for w in words)
    assert any("everybody stays" in w for w in words)
