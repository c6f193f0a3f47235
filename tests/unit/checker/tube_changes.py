"""Changes to tubes: what each breaks."""

from __future__ import annotations

from dataclasses import replace

from planner.checker import check_plan
from planner.domain.catalogue import ClosedSpan, Handling, TestCode, TransportMode, TubeCode, TubeLimit
from planner.domain.draws import Device, Needle
from planner.domain.plan import Plan
from planner.domain.problem import Problem
from tests.builders import clock, make_order
from tests.unit.checker.clean import (
    PLAN,
    Changes,
    with_order,
    with_stop,
    with_test,
    with_tube,
)

CHANGES = Changes()


def with_second_culture(series: str | None) -> tuple[Problem, Plan]:
    """O65 asks for a culture like O6, both of a series or of none, and the one set serves both."""
    problem = with_order("O6", series=series)
    second = make_order("O65", "P3", "BC", series=series)
    problem = replace(problem, orders=tuple(sorted((*problem.orders, second), key=lambda order: order.id)))
    both = ("O6", "O65")
    plan = with_tube(2, 2, with_tube(2, 1, order_ids=both), order_ids=both)
    return problem, with_stop(2, plan, order_ids=("O4", "O5", *both))


def with_positions(*swap: tuple[int, int]) -> Plan:
    """Return the plan with draw positions of the third visit exchanged: (old, new) pairs."""
    visit = PLAN.routes[0].stops[2]
    new = dict(swap)
    tubes = tuple(
        replace(p, tube=replace(p.tube, draw_position=new.get(p.tube.draw_position, p.tube.draw_position)))
        for p in visit.tubes
    )
    return with_stop(2, tubes=tubes)


ESR = {"order_ids": ("O1", "O9"), "stability_s": clock("04:00")}


def with_winged_citrate() -> tuple[Problem, Plan]:
    """O7 is a prothrombin time now: with a winged needle and nothing before it, air would take its blood's place."""
    problem = with_order("O7", test="PT")
    tube = {"tube": TubeCode("CIT"), "size_ul": 2700, "volume_ul": 2700, "tests": ("PT",), "stability_s": 14_400}
    handling = frozenset({Handling.FULL_FILL, Handling.NO_ICE})
    plan = with_tube(3, 1, **tube, handling=handling)
    assert check_plan(problem, plan).codes() == []
    return problem, with_stop(3, plan, needle=Needle(gauge=23, device=Device.WINGED))


def with_sites(*sites: int) -> Plan:
    plan = PLAN
    for position, site in enumerate(sites, start=1):
        plan = with_tube(2, position, plan, site=site)
    return plan


CHANGES.add("accepted-kind", "a kind that does not serve", lambda: with_tube(3, 1, tube=TubeCode("EDTA")))
CHANGES.add("accepted-kind", "half a culture set", lambda: with_tube(2, 2, tube=TubeCode("BCA")))
CHANGES.add(
    "first-choice",
    "another kind than the first",
    lambda: with_test("CBC", first_choice=True, accepts=(("CIT",), ("EDTA",))),
)


def with_two_kinds() -> tuple[Problem, Plan]:
    """O1 and O9 are a troponin in serum gel, an hour before T1 in heparin gel: no series is named."""
    problem = with_test("TNT", with_order("O9", with_order("O1", test="TNT"), test="TNT"), serial_offsets=())
    tube = {"tube": TubeCode("SERG"), "size_ul": 3500, "volume_ul": 3500, "tests": ("TNT",), "stability_s": 7200}
    plan = with_tube(0, 1, **tube, handling=frozenset({Handling.RECORD_TIME}))
    assert check_plan(problem, plan).codes() == []
    return with_test("TNT", problem, one_kind_in_series=True), plan


CHANGES.add("series-kind", "two kinds in one round", with_two_kinds)


def with_postures(first: Handling, second: Handling) -> tuple[Problem, Plan]:
    """The blood count of P1 at 18 145 asks for one posture, the troponin an hour later for another."""
    problem = with_test("CBC", handling=frozenset({first}))
    tnt = replace(problem.catalogue.tests[TestCode("TNT")], handling=frozenset({Handling.RECORD_TIME, second}))
    tests = {**problem.catalogue.tests, tnt.code: tnt}
    plan = with_tube(2, 5, with_tube(0, 1, handling=frozenset({first})), handling=frozenset({first}))
    plan = with_tube(0, 1, plan, route=1, handling=frozenset({Handling.RECORD_TIME, second}))
    return replace(problem, catalogue=replace(problem.catalogue, tests=tests)), plan


def with_both_postures() -> tuple[Problem, Plan]:
    """BMP and LFT, in one tube, ask for lying and for being up."""
    problem = with_test("BMP", handling=frozenset({Handling.SUPINE}))
    lft = replace(problem.catalogue.tests[TestCode("LFT")], handling=frozenset({Handling.UPRIGHT_2H}))
    tests = {**problem.catalogue.tests, lft.code: lft}
    plan = with_tube(1, 1, handling=frozenset({Handling.SUPINE, Handling.UPRIGHT_2H}))
    return replace(problem, catalogue=replace(problem.catalogue, tests=tests)), plan


# An hour is enough to lie down (30 min), not to have been up for two.
CHANGES.add("posture", "up an hour after lying", lambda: with_postures(Handling.SUPINE, Handling.UPRIGHT_2H))
CHANGES.add("posture", "both in one draw", with_both_postures)
CHANGES.add(
    "window-closed",
    "the laboratory is closed on Tuesdays",
    lambda: with_test("LFT", closed=(ClosedSpan(from_s=86_400, to_s=2 * 86_400),)),
)
CHANGES.add("tube-orders", "an order missing on the tube", lambda: with_tube(0, 1, order_ids=("O1",)))
CHANGES.add("tube-orders", "an order of another visit", lambda: with_tube(0, 1, order_ids=("O1", "O2", "O9")))
CHANGES.add("tube-orders", "a test that is not ordered here", lambda: with_tube(0, 1, tests=("CBC", "ESR"), **ESR))
CHANGES.add("share-group", "a test that never shares", lambda: with_test("LFT", share_group=None))
CHANGES.add("share-group", "tests of two groups", lambda: with_test("LFT", share_group="OTHER"))
# 3 000 + the other's 200 = 3 200 uL in a tube of 3 000.
CHANGES.add("volume", "too much for a shared tube", lambda: with_test("LFT", min_volume_ul=3000))
# The tube draws 3 000; the type has 4 000 too.
CHANGES.add("volume", "too much for a tube alone", lambda: with_test("CBC", min_volume_ul=3001))
CHANGES.add("fill", "a vacuum tube not full", lambda: with_tube(0, 1, volume_ul=2999))
CHANGES.add("fill", "a negative volume", lambda: with_tube(0, 1, volume_ul=-3000))
CHANGES.add("fill", "a bottle with less than its share", lambda: with_tube(2, 1, volume_ul=9999))
CHANGES.add("fill", "a discard tube with more", lambda: with_tube(2, 3, volume_ul=1001))
CHANGES.add("size-for-patient", "a child's size for an adult", lambda: with_tube(0, 1, size_ul=1000, volume_ul=1000))
CHANGES.add("size-for-patient", "a size that nobody makes", lambda: with_tube(0, 1, size_ul=2500, volume_ul=2500))
CHANGES.add("tube-stability", "a tube that keeps too long", lambda: with_tube(0, 1, stability_s=clock("24:00") + 1))
CHANGES.add("tube-stability", "a limit forgotten", lambda: with_tube(0, 1, stability_s=None))
CHANGES.add(
    "tube-stability",
    "a limit of the test in this tube kind",
    lambda: with_test("CBC", tube_limits=(TubeLimit(tube=TubeCode("EDTA"), max_room_s=clock("12:00")),)),
)
CHANGES.add("handling", "handling forgotten", lambda: with_tube(1, 1, handling=frozenset({Handling.NO_ICE})))
CHANGES.add("handling", "handling invented", lambda: with_tube(0, 1, handling=frozenset({Handling.ICE})))
CHANGES.add("transport-mode", "on ice without a reason", lambda: with_tube(0, 1, mode=TransportMode.ICE))
CHANGES.add("order-of-draw", "anaerobic before aerobic", lambda: with_positions((1, 2), (2, 1)))
CHANGES.add("order-of-draw", "a gap", lambda: with_positions((5, 6)))
CHANGES.add("order-of-draw", "two at one position", lambda: with_positions((5, 4)))
CHANGES.add("order-of-draw", "a culture last", lambda: with_positions((2, 5), (3, 2), (4, 3), (5, 4)))
CHANGES.add("discard", "discarded before the bottle", lambda: with_positions((2, 3), (3, 2)))
CHANGES.add(
    "discard", "not the discard tube", lambda: with_tube(2, 3, tube=TubeCode("EDTA"), size_ul=3000, volume_ul=3000)
)
CHANGES.add("discard", "winged needle, citrate first, none", lambda: with_winged_citrate())
CHANGES.add("culture-sites", "sites counted from 2", lambda: with_sites(2, 2, 2, 2, 2))
CHANGES.add("culture-sets", "one set for two of a series", lambda: with_second_culture("S"))
CHANGES.add("culture-sets", "one set for two orders without a series", lambda: with_second_culture(None))
