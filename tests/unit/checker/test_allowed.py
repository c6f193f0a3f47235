"""What the rules allow, at their very edge: the checker is silent where the rule book is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from planner.checker import check_plan
from planner.domain.catalogue import ClockRule, ClosedSpan, CountsFrom, DoseRule, Handling, TubeCode, TubeLimit
from planner.domain.orders import EarlierDraw, Precaution, Priority
from planner.domain.places import PlaceId, WalkingTimes
from planner.domain.plan import Plan
from planner.domain.policy import Policy, RoundPolicy, ServicePolicy
from planner.domain.problem import Problem
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from tests.builders import clock, make_order, make_phlebotomist, make_problem
from tests.unit.checker import past_changes
from tests.unit.checker.clean import (
    CULTURE,
    PLAN,
    PROBLEM,
    counting,
    make_break,
    make_goals,
    make_planned_tube,
    make_visit,
    window,
    with_order,
    with_patient,
    with_staff,
    with_stop,
    with_stops,
    with_test,
    with_tube,
)
from tests.unit.checker.tube_changes import with_postures


def quiet(from_s: int, to_s: int, problem: Problem = PROBLEM) -> Problem:
    return replace(problem, policy=Policy(round=RoundPolicy(quiet_hours={"W": (window(from_s, to_s),)})))


def after_the_drink(counts_from: CountsFrom | None, before: int = 1) -> Problem:
    """O7, a fasting glucose at 19 135 of a patient who ate at 19 000, follows a sample that the ward drew."""
    fed = with_order("O7", with_patient("P4", last_ate_s=19_000), series="S")
    problem = with_test("FGLU", fed, counts_from=counts_from)
    drawn = EarlierDraw(patient_id=problem.order("O7").patient_id, test="FGLU", series="S", draw_s=18_000)
    return replace(problem, earlier_draws=(drawn,) * before)


@pytest.mark.parametrize(("counts_from", "before"), [(None, 1), (CountsFrom.DRINK, 0)])
def test_fast_counts_until_the_drink_is_given(counts_from: CountsFrom | None, before: int) -> None:
    assert check_plan(after_the_drink(counts_from, before), PLAN).codes() == ["window-fasting"]


# O3 as a stat could be drawn at 18 155 (20 s to B2, 135 s of lead), is drawn 300 s later, and should be in the
# laboratory at 18 755; the courier brings it at 22 200, at weight 10.
STAT_O3 = {"stat_to_lab": 34_450, "stat_wait": 300}
WITH_STAT_O3 = replace(PLAN, goals=make_goals(**STAT_O3))


ALLOWED: dict[str, Callable[[], Problem | Plan | tuple[Problem, Plan]]] = {
    # O1 is drawn at 18 145, in a stay from 18 010 to 18 310.
    "drawn at the first second asked for": lambda: with_order("O1", collect_from_s=18_145),
    "drawn at the first second of the tolerance": lambda: counting(
        with_order("O1", collect_at_s=18_145 + 1800), off_time=1800
    ),
    "drawn at the last second of the give-up, late": lambda: (
        with_order("O1", collect_to_s=14_545),
        replace(PLAN, goals=make_goals(late=7200, last_minutes=600)),
    ),
    "away until the visit begins and from its end": lambda: with_patient(
        "P1", away=(window(17_000, 18_010), window(18_310, 21_610))
    ),
    "quiet hours end with the draw": lambda: quiet(18_000, 18_145),
    "quiet hours begin after the draw": lambda: quiet(18_146, 18_200),
    # Both are drawn as soon as can be, at 18 145, and come 3455 s past 18 745.
    "stat in quiet hours": lambda: (
        quiet(18_000, 18_146, with_order("O9", with_order("O1", priority=Priority.STAT), priority=Priority.STAT)),
        replace(PLAN, goals=make_goals(stat_to_lab=2 * 34_550)),
    ),
    "timed and dose-ruled in quiet hours": lambda: quiet(
        18_000, 18_146, with_order("O9", with_order("O1", collect_to_s=20_000), collect_to_s=20_000)
    ),
    "fast over at the draw": lambda: with_patient("P4", last_ate_s=19_135 - 8 * 3600),
    "meal at the draw": lambda: counting(with_patient("P4", next_meal_s=19_135), last_minutes=600),
    "required clock time to the second": lambda: with_test(
        "FGLU", clock_rule=ClockRule(from_s=19_135, to_s=19_135, is_required=True)
    ),
    "a sample after the drink of a patient who does not fast": lambda: after_the_drink(CountsFrom.DRINK),
    "a sample after the injection of a patient who does not fast": lambda: after_the_drink(CountsFrom.INJECTION),
    "a limit of the test in another tube kind": lambda: with_test(
        "CBC", tube_limits=(TubeLimit(tube=TubeCode("CIT"), max_room_s=60),)
    ),
    "a limit of the test in this tube kind, in another mode": lambda: with_test(
        "CBC", tube_limits=(TubeLimit(tube=TubeCode("EDTA"), max_ice_s=60),)
    ),
    "lying an hour after being up": lambda: with_postures(Handling.UPRIGHT_2H, Handling.SUPINE),
    "a laboratory that is closed on Wednesdays": lambda: with_test(
        "LFT", closed=(ClosedSpan(from_s=2 * 86_400, to_s=3 * 86_400),)
    ),
    "trough to the second": lambda: with_test(
        "LFT", with_order("O3", next_dose_s=18_455 + 1800), dose_rule=DoseRule(kind="trough", from_s=1800, to_s=1800)
    ),
    "no end after the start": lambda: with_test(
        "LFT", with_order("O3", last_dose_s=0), dose_rule=DoseRule(kind="post_start", from_s=18_455)
    ),
    "timed order without its dose's time": lambda: with_test(
        "LFT", with_order("O3", collect_to_s=20_000), dose_rule=DoseRule(kind="trough")
    ),
    "timed protocol": lambda: with_test(
        "LFT", with_order("O3", collect_to_s=20_000), dose_rule=DoseRule(kind="protocol")
    ),
    # A stat, due by 18 900, is drawn at 18 455 whatever its monitoring window says.
    "stat outside the hours after its dose": lambda: (
        with_test(
            "LFT",
            with_order("O3", priority=Priority.STAT, last_dose_s=18_000),
            dose_rule=DoseRule(kind="post_dose", from_s=41_400, to_s=45_000),
        ),
        WITH_STAT_O3,
    ),
    "stat level of which no dose is known": lambda: (
        with_test("LFT", with_order("O3", priority=Priority.STAT), dose_rule=DoseRule(kind="trough", to_s=1800)),
        WITH_STAT_O3,
    ),
    "stat of a fed patient": lambda: (
        with_test(
            "LFT",
            with_order("O3", with_patient("P2", last_ate_s=18_000), priority=Priority.STAT),
            fasting_s=28_800,
            fasting_required=True,
        ),
        WITH_STAT_O3,
    ),
    "stat that misses what its test prefers": lambda: (
        with_test(
            "LFT", with_order("O3", with_patient("P2", last_ate_s=18_000), priority=Priority.STAT), fasting_s=28_800
        ),
        WITH_STAT_O3,
    ),
    "stat outside the test's hours": lambda: (
        with_test(
            "LFT",
            with_order("O3", priority=Priority.STAT),
            clock_rule=ClockRule(from_s=clock("07:00"), to_s=clock("08:00"), is_required=True),
        ),
        WITH_STAT_O3,
    ),
    # Due at 14 400 + 15 min: 3 155 s late at weight 10.
    "timed stat level, past its time": lambda: (
        with_test(
            "LFT",
            with_order("O3", priority=Priority.STAT, collect_at_s=14_400),
            dose_rule=DoseRule(kind="trough", to_s=1800),
        ),
        replace(PLAN, goals=make_goals(late=10 * (18_455 - 15_300), **STAT_O3)),
    ),
    # Not to be drawn before: not late, and due in the laboratory at 19 055.
    "target that the order's earliest time has moved": lambda: (
        with_order("O3", priority=Priority.STAT, collect_from_s=18_455, collect_to_s=18_455),
        replace(PLAN, goals=make_goals(stat_to_lab=31_450)),
    ),
    "missed preference that is listed": lambda: (
        with_test("LFT", fasting_s=3600, problem=with_patient("P2", last_ate_s=18_000)),
        replace(PLAN, preferences_missed=(("O3", "fasting"),), goals=make_goals(off_time=18_000 + 3600 - 18_455)),
    ),
    "order that need not fast": lambda: with_test(
        "LFT", with_order("O3", with_patient("P2", last_ate_s=18_000), fasting=False), fasting_s=3600
    ),
    # AB is there 1370 s of 12 170, 11 %: 126 000 - 11 * 1560.
    "shift to the second": lambda: (
        with_staff(0, until_s=19_370),
        replace(PLAN, goals=make_goals(share=108_840)),
    ),
    "stated walking times": lambda: replace(PROBLEM, corridors=()),
    "a shift's end as a route's end, without a break owed": lambda: with_staff(
        0, break_s=600, break_window=window(18_000, 19_970)
    ),
    "phlebotomist bound to the wards of the round and another": lambda: with_staff(
        0, wards=frozenset({"W", "Elsewhere"})
    ),
    "phlebotomist with skills nobody needs": lambda: with_staff(0, skills=frozenset({"central line"})),
    "small adult tube": lambda: with_tube(0, 1, size_ul=2000, volume_ul=2000),
    "proven below the value": lambda: replace(PLAN, goals=tuple(replace(g, bound=0) for g in PLAN.goals)),
}


ALLOWED |= past_changes.ALLOWED


@pytest.mark.parametrize("says", ALLOWED)
def test_allowed(says: str) -> None:
    made = ALLOWED[says]()
    problem, plan = (made, PLAN) if isinstance(made, Problem) else (PROBLEM, made) if isinstance(made, Plan) else made
    assert [str(finding) for finding in check_plan(problem, plan)] == []


@pytest.mark.parametrize(
    ("patient", "service", "lead_s", "service_s"),
    [
        ({"has_difficult_veins": True}, {}, 135, 420),
        # 5 minutes of gowning against 3: the largest counts, half of it before the draw.
        ({"precautions": frozenset({Precaution.AIRBORNE, Precaution.CONTACT})}, {}, 285, 600),
        # An odd number of seconds: 33 // 2 = 16.
        ({"precautions": frozenset({Precaution.CONTACT})}, {"gown_s": {Precaution.CONTACT: 33}}, 151, 333),
        # 13 years: two minutes; a weight that allows the tube.
        ({"birth_date": date(2012, 3, 11), "weight_g": 40_000}, {}, 135, 420),
        # 14 years on the day of the round: no child's time any more.
        ({"birth_date": date(2012, 3, 10), "weight_g": 40_000}, {}, 135, 300),
        # None of the tubes is included.
        ({}, {"tubes_included": 0}, 135, 360),
        ({}, {"identify_s": 76, "prepare_s": 62, "draw_s": 79, "label_s": 68, "tidy_s": 46}, 138, 331),
    ],
)
def test_service_adds_up_from_its_parts(
    patient: dict[str, Any], service: dict[str, Any], lead_s: int, service_s: int
) -> None:
    """One bed, one tube: AB at B1 from 18 010; courier from PICKUP, 40 s on, in 60 s."""
    problem = make_problem(
        [make_order("O1", "P1", "CBC")],
        policy=Policy(service=ServicePolicy(**service)),
    )
    problem = with_patient("P1", problem, **patient)
    tube = make_planned_tube("EDTA", 3000, 1, "CBC", "O1", handover=1, stability_s=86_400)
    visit = make_visit("P1", "O1", 18_010, (tube,), service_s=service_s)
    visit = replace(visit, draw_s=18_010 + lead_s)
    leave_s = visit.depart_s + 40
    handover = replace(PLAN.routes[0].stops[4], arrive_s=leave_s, start_s=leave_s, depart_s=leave_s + 60)
    plan = with_stops((visit, handover), replace(PLAN, routes=PLAN.routes[:1], unplanned=()))
    # Walking 10 + 40 s and handing over 60 s; finish 10 + service + 40 + 60.
    goals = make_goals(uncollected=0, second_punctures=0, arrival=4200, time=110, finish=110 + service_s, share=0)
    assert [str(f) for f in check_plan(problem, replace(plan, goals=goals))] == []


def culture_round(sites: tuple[int, int], service_s: int, series: str | None = "S") -> tuple[Problem, Plan]:
    """Two culture sets of one patient, a site after the other, aerobic first: 18 010, courier at PICKUP as above."""
    problem = make_problem([make_order(order, "P1", "BC", series=series) for order in ("O1", "O2")])
    kinds = [("BCA", "O1", sites[0]), ("BCN", "O1", sites[0]), ("BCA", "O2", sites[1]), ("BCN", "O2", sites[1])]
    tubes = tuple(
        make_planned_tube(kind, 10_000, at, "BC", order, handover=1, site=site, handling=CULTURE)
        for at, (kind, order, site) in enumerate(kinds, start=1)
    )
    visit = make_visit("P1", "O1 O2", 18_010, tubes, service_s=service_s)
    leave_s = visit.depart_s + 40
    handover = replace(PLAN.routes[0].stops[4], arrive_s=leave_s, start_s=leave_s, depart_s=leave_s + 60)
    plan = with_stops((visit, handover), replace(PLAN, routes=PLAN.routes[:1], unplanned=()))
    return problem, replace(
        plan,
        goals=make_goals(uncollected=0, second_punctures=0, arrival=4200, time=110, finish=110 + service_s, share=0),
    )


def test_two_culture_sets_come_from_two_sites() -> None:
    """Four bottles are included; the second site takes two minutes."""
    assert check_plan(*culture_round((1, 2), 420)).codes() == []


def test_two_culture_sets_from_one_site_are_refused() -> None:
    # With one site the bottles are also out of order: both aerobic ones would come first.
    assert set(check_plan(*culture_round((1, 1), 300)).codes()) == {"culture-sites", "order-of-draw"}


def test_two_culture_orders_without_a_series_are_two_sets() -> None:
    assert check_plan(*culture_round((1, 2), 420, series=None)).codes() == []


def break_round(place: str, start_s: int, length_s: int, **staff: Any) -> list[str]:
    """Insert a break before the hand-over: AB leaves B4 at 19 300 and hands over ten seconds and the break later."""
    problem = with_staff(0, break_s=600, break_window=window(19_000, 20_000))
    problem = with_staff(0, problem, **staff)
    stops = PLAN.routes[0].stops
    pause = replace(make_break(place, start_s, length_s), arrive_s=19_300)
    leave_s = pause.depart_s + 10
    handover = replace(stops[4], arrive_s=leave_s, start_s=leave_s, depart_s=leave_s + 60)
    plan = with_stops((*stops[:4], pause, handover))
    for stop in range(4):
        visit = plan.routes[0].stops[stop]
        tubes = tuple(p if p.handover is None else replace(p, handover=5) for p in visit.tubes)
        plan = with_stop(stop, plan, tubes=tubes)
    # The route lasts longer by the break and the wait before it.
    goals = make_goals(time=230 + pause.depart_s - 19_300)
    return check_plan(problem, replace(plan, goals=goals)).codes()


def test_break_in_its_window_where_the_last_stop_was_is_allowed() -> None:
    assert break_round("B4", 19_300, 600) == []
    assert break_round("B4", 19_400, 600) == []


def test_break_too_short_is_refused() -> None:
    assert break_round("B4", 19_300, 599) == ["breaks"]


def test_break_after_its_window_is_refused() -> None:
    assert break_round("B4", 19_401, 600) == ["breaks"]


def test_break_of_somebody_without_one_is_refused() -> None:
    assert set(break_round("B4", 19_300, 600, break_s=0, break_window=None)) == {"breaks"}


def test_walking_in_metres_is_rounded_up_for_each_corridor() -> None:
    """1.2 m/s: 6.0 m are exactly 5 s; 6.1 m are 5.08.. s, so 6 s. A detour of 5 + 5 s beats 13 m (10.83.. s)."""
    from planner.checker.paths import ShortestWalks
    from planner.domain.places import Corridor

    def link(a: str, b: str, metres: float) -> Corridor:
        return Corridor(from_place=PlaceId(a), to_place=PlaceId(b), metres=metres)

    links = (link("BASE", "B1", 6.0), link("B1", "B2", 6.0), link("BASE", "B2", 13.0), link("B2", "B3", 6.1))
    walks = ShortestWalks(replace(PROBLEM, corridors=links, walking=WalkingTimes({})))
    assert walks.between(PlaceId("BASE"), PlaceId("B2")) == 10
    assert walks.between(PlaceId("B3"), PlaceId("BASE")) == 16
    assert walks.between(PlaceId("BASE"), PlaceId("B4")) is None
    assert walks.between(PlaceId("B4"), PlaceId("B4")) == 0


def test_phlebotomist_without_stops_may_have_no_route() -> None:
    problem = replace(PROBLEM, staff=(*PROBLEM.staff, make_phlebotomist("EF")))
    # AB is there 14 400 s of 39 600, 36 %: 126 000 - 36 * 1560.
    assert check_plan(problem, replace(PLAN, goals=make_goals(share=69_840))).codes() == []


@pytest.mark.slow
def test_two_draws_of_one_test_come_in_the_order_of_their_stated_times() -> None:
    orders = [make_order(f"O{n}", test="BMP", collect_from_s=clock("05:00") + n) for n in (1, 2)]
    plan = plan_round(make_problem(orders), SolveParams(effort="quick")).plan
    assert check_plan(make_problem(orders), plan).codes() == []
    swapped = [replace(order, collect_from_s=clock("05:00") + 3 - n) for n, order in enumerate(orders, start=1)]
    assert check_plan(make_problem(swapped), plan).codes() == ["stated-times"]
