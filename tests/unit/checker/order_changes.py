"""Changes to orders, windows and visits: what each breaks."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

from planner.domain.catalogue import ClockRule, DoseRule, Handling, TestCode, TubeCode
from planner.domain.orders import Arm, Method, OrderId, Priority
from planner.domain.places import PlaceId
from planner.domain.plan import Handover, Plan, Reason, Visit
from planner.domain.policy import RoundPolicy
from planner.domain.problem import Problem
from tests.builders import clock, make_catalogue
from tests.unit.checker.clean import (
    PLAN,
    PROBLEM,
    SET_ASIDE,
    Changes,
    counting,
    make_goals,
    make_visit,
    window,
    with_order,
    with_patient,
    with_policy,
    with_staff,
    with_stop,
    with_stops,
    with_test,
    with_tube,
)

CHANGES = Changes()
STRICT = frozenset({Handling.STRICT_LABEL})
NO_HEPARIN = frozenset({Handling.NO_HEPARIN_LINE})


def in_equal_time(problem: Problem) -> Problem:
    """A policy under which a child's visit takes no longer than an adult's, so that only one rule breaks."""
    service = replace(problem.policy.service, child_extra_s=0)
    return replace(problem, policy=replace(problem.policy, service=service))


def with_little_unknown(problem: Problem) -> Problem:
    """A policy under which a tenth of the day's limit is drawn where earlier blood is not known."""
    blood = replace(problem.policy.blood, unknown_drawn_pct=10.0)
    return replace(problem, policy=replace(problem.policy, blood=blood))


def with_other_round() -> Plan:
    """O8 is left to another round, and so does not count as uncollected."""
    left = (PLAN.unplanned[0], replace(PLAN.unplanned[1], reason=Reason.OTHER_ROUND))
    return replace(PLAN, unplanned=left, goals=make_goals(uncollected=0))


def with_route(**changes: Any) -> Plan:
    return replace(PLAN, routes=(PLAN.routes[0], replace(PLAN.routes[1], **changes)))


def with_unplanned(order: str) -> Plan:
    return replace(PLAN, unplanned=(*PLAN.unplanned, replace(PLAN.unplanned[1], order_id=order)))


def with_reason(reason: Reason) -> Plan:
    return replace(PLAN, unplanned=(replace(SET_ASIDE, reason=reason), PLAN.unplanned[1]))


def with_fasting_order() -> Problem:
    """The test of O1 states no fast, so the policy's 8 hours hold: 18 146 - 8 * 3600 = -10 654, drawn at 18 145."""
    return with_order("O1", with_patient("P1", last_ate_s=-10_654), fasting=True)


def with_dose(kind: str, **times: int) -> Problem:
    """LFT, drawn at 18 455, counts up to half an hour from a dose."""
    return with_test("LFT", with_order("O3", **times), dose_rule=DoseRule(kind=kind, from_s=0, to_s=1800))


def with_quiet(ward: str, from_s: int, to_s: int) -> Problem:
    return with_policy(round=RoundPolicy(quiet_hours={ward: (window(from_s, to_s),)}))


def with_away(from_s: int, to_s: int) -> Problem:
    return with_patient("P1", away=(window(from_s, to_s),))


def with_overlap() -> tuple[Problem, Plan]:
    """CD comes an hour earlier, to the bed where AB is: 18 010 to 18 310; tube station 18 360 to 18 420."""
    visit, handover = PLAN.routes[1].stops
    stops = (
        replace(make_visit("P1", "T1", 18_010, visit.tubes), draw_id=visit.draw_id),
        replace(handover, arrive_s=18_360, start_s=18_360, depart_s=18_420, lab_arrival_s=18_600),
    )
    # The last departure is AB's now: 19 370 - 18 000. Both are there as long: 126 000 - 50 * 1560.
    plan = with_stops(
        stops, replace(PLAN, goals=make_goals(finish=1370, arrival=4 * 4200 + 600, share=48_000)), route=1
    )
    return with_staff(1, from_s=18_000), plan


CHANGES.add("plan-shape", "a truth value for a time", lambda: with_stop(0, start_s=True))
CHANGES.add("plan-shape", "a list for a tuple", lambda: replace(PLAN, unplanned=list(PLAN.unplanned)))
CHANGES.add(
    "plan-shape", "no tube", lambda: with_stop(0, tubes=(replace(PLAN.routes[0].stops[0].tubes[0], tube=None),))
)
CHANGES.add("plan-shape", "a number beyond 53 bits", lambda: with_stop(0, depart_s=10**400))
CHANGES.add("unknown-name", "an order that is not there", lambda: with_stop(0, order_ids=("O1", "O9", "O99")))
CHANGES.add("unknown-name", "an order that was set aside", lambda: with_stop(0, order_ids=("O1", "O9", "X1")))
CHANGES.add("unknown-name", "a patient that is not there", lambda: with_stop(0, patient_id="P99"))
CHANGES.add("unknown-name", "a place that is not there", lambda: with_stop(4, place="NOWHERE"))
CHANGES.add("unknown-name", "a tube type that is not there", lambda: with_tube(0, 1, tube=TubeCode("NONE")))
CHANGES.add("unknown-name", "a test that is not there", lambda: with_tube(0, 1, tests=("NONE",)))
CHANGES.add("unknown-name", "the last phlebotomist counted from behind", lambda: with_route(phlebotomist=-1))
CHANGES.add("unknown-name", "one phlebotomist too many", lambda: with_route(phlebotomist=2))
CHANGES.add("unknown-name", "a preference of nobody", lambda: replace(PLAN, preferences_missed=(("O99", "clock"),)))
CHANGES.add("once", "an order that nobody mentions", lambda: replace(PLAN, unplanned=PLAN.unplanned[:1]))
CHANGES.add("once", "an order planned and unplanned", lambda: with_unplanned("O1"))
CHANGES.add("once", "an order unplanned twice", lambda: with_unplanned("O8"))
CHANGES.add("once", "an order twice in one visit", lambda: with_stop(0, order_ids=("O1", "O9", "O9")))
CHANGES.add("once", "what was set aside is lost", lambda: replace(PLAN, unplanned=PLAN.unplanned[1:]))
CHANGES.add("other-round", "an order that has no time of its own", lambda: with_other_round())
CHANGES.add("set-aside", "another reason than when it was read", lambda: with_reason(Reason.NOT_BLOOD))
# Draw 18 145; 06:00 is 21 600.
CHANGES.add("window-requested", "drawn before the order asks", lambda: with_order("O1", collect_from_s=clock("06:00")))
# To 04:02:24 + an hour's give-up = 18 144, one second before the draw; 3 601 s * 2 late.
CHANGES.add(
    "window-requested",
    "drawn after the give-up",
    lambda: counting(with_order("O1", collect_to_s=14_544), late=7202, last_minutes=601),
)
# 05:32:26 less half an hour is 18 146, one second after the draw.
CHANGES.add(
    "window-requested",
    "drawn before the tolerance",
    lambda: counting(with_order("O1", collect_at_s=19_946), off_time=1801),
)
CHANGES.add(
    "window-clock",
    "drawn before the clock time",
    lambda: with_test("CBC", clock_rule=ClockRule(from_s=clock("05:30"), to_s=clock("09:00"), is_required=True)),
)
# Ate at 23:00 the evening before, 8 hours: 07:00.
CHANGES.add("window-fasting", "drawn before the fast is over", lambda: with_patient("P4", last_ate_s=-3600))
CHANGES.add(
    "window-fasting", "drawn after the meal", lambda: counting(with_patient("P4", next_meal_s=19_134), last_minutes=601)
)
CHANGES.add("window-fasting", "the order asks for the fast", lambda: with_fasting_order())
CHANGES.add(
    "window-dose", "no time of the dose", lambda: with_test("CBC", dose_rule=DoseRule(kind="trough", to_s=1800))
)
CHANGES.add("window-dose", "a protocol without a time", lambda: with_test("LFT", dose_rule=DoseRule(kind="protocol")))
# Draw 18 455: the next dose at 18 454, the trough in the half hour before it.
CHANGES.add(
    "window-dose",
    "a trough after the dose",
    lambda: counting(with_dose("trough", next_dose_s=18_454), last_minutes=601),
)
# 18 455 + 1 801: 1 801 s before the dose.
CHANGES.add("window-dose", "a trough too early", lambda: with_dose("trough", next_dose_s=20_256))
# Half an hour at most: the dose was 1 801 s ago.
CHANGES.add(
    "window-dose",
    "too long after the dose",
    lambda: counting(with_dose("post_dose", last_dose_s=16_654), last_minutes=601),
)
CHANGES.add(
    "window-dose",
    "after the next dose",
    lambda: counting(with_dose("post_dose", last_dose_s=17_000, next_dose_s=18_454), last_minutes=601),
)
# A single dose at 18 000 is stated: four hours hold even a stat.
CHANGES.add(
    "window-dose",
    "a stat before the hours that hold it",
    lambda: with_test(
        "LFT",
        with_order("O3", priority=Priority.STAT, last_dose_s=18_000),
        dose_rule=DoseRule(kind="post_dose", from_s=14_400, holds_stat=True),
    ),
)
# Asked for until 18 454: a level has no hour of give-up. One second late, weight 2.
CHANGES.add(
    "window-requested",
    "a level past its stated time",
    lambda: (
        with_test("LFT", with_order("O3", collect_to_s=18_454), dose_rule=DoseRule(kind="trough", to_s=1800)),
        replace(PLAN, goals=make_goals(late=2, last_minutes=601)),
    ),
)
# Drawn at 18 145, within both windows.
CHANGES.add(
    "stated-times",
    "one draw for two stated times",
    lambda: counting(with_order("O9", with_order("O1", collect_at_s=19_000), collect_at_s=19_060), off_time=855 + 915),
)
CHANGES.add(
    "stated-times",
    "one draw for levels after two doses",
    lambda: with_test(
        "CBC",
        with_order(
            "O9", with_order("O5", with_order("O1", last_dose_s=17_000), last_dose_s=17_000), last_dose_s=17_001
        ),
        dose_rule=DoseRule(kind="post_dose"),
    ),
)
# A blood count at 18 145 and at 21 745, asked for 4502 s apart: four fifths are 3601 s, one more than there are.
CHANGES.add(
    "stated-spacing",
    "two draws of one test closer than they were asked for",
    lambda: (
        with_order(
            "T1",
            with_order("O9", with_order("O1", collect_from_s=14_000), collect_from_s=14_000),
            test=TestCode("CBC"),
            collect_from_s=18_502,
        ),
        with_tube(
            0,
            1,
            route=1,
            tube=TubeCode("EDTA"),
            tests=(TestCode("CBC"),),
            handling=frozenset(),
            stability_s=clock("24:00"),
        ),
    ),
)
CHANGES.add(
    "second-sample",
    "one draw for two samples of the blood bank",
    lambda: (
        with_test("CBC", handling=STRICT),
        with_tube(2, 5, with_tube(0, 1, handling=STRICT), handling=STRICT),
    ),
)


def with_both_samples_by_one() -> tuple[Problem, Plan]:
    """AB draws P1 for O1 and, after the shelf, for T1, both strict: 40 s back to B1, 50 s on to the station.

    Arrive 19 410, depart 19 710; station 19 760 to 19 820, three minutes to the laboratory. Away from beds:
    19 820 - 18 000 - (4 * 300 + 360) = 260.
    """
    tests = PROBLEM.catalogue.tests
    changed = [replace(tests[TestCode(code)], handling=STRICT) for code in ("CBC", "TNT")]
    changed[1] = replace(changed[1], handling=STRICT | {Handling.SECOND_SAMPLE})
    orders = tuple(order for order in PROBLEM.orders if order.id != "O9")
    problem = replace(PROBLEM, orders=orders, catalogue=make_catalogue(extra_tests=changed))
    plan = with_tube(0, 1, with_stop(0, order_ids=(OrderId("O1"),)), order_ids=(OrderId("O1"),), handling=STRICT)
    plan = with_tube(2, 5, plan, handling=STRICT)
    again, station = PLAN.routes[1].stops
    assert isinstance(again, Visit) and isinstance(station, Handover)
    [tube] = again.tubes
    tube = replace(tube, handover=6, tube=replace(tube.tube, handling=changed[1].handling))
    again = replace(again, arrive_s=19_410, start_s=19_410, draw_s=19_545, depart_s=19_710, tubes=(tube,))
    station = replace(station, arrive_s=19_760, start_s=19_760, depart_s=19_820, lab_arrival_s=20_000)
    plan = with_stops((*plan.routes[0].stops, again, station), plan)
    # All work at beds is AB's, who is there 57 % of the time: 156 000 - 57 * 1560.
    goals = make_goals(arrival=4 * 4200 + 2000, time=260, finish=1820, share=67_080)
    return problem, replace(with_stops((), plan, 1), goals=goals)


CHANGES.add("second-sample-by-one-person", "both samples for the blood bank by one person", with_both_samples_by_one)
CHANGES.add("window-dose", "before the infusion ends", lambda: with_dose("post_end", infusion_end_s=18_456))
# Draws at 18 145 and 18 455: only the first lies in 05:00 to 05:05.
CHANGES.add("window-quiet-hours", "a routine draw in quiet hours", lambda: with_quiet("W", 18_000, 18_300))
CHANGES.add("window-quiet-hours", "in everybody's quiet hours", lambda: with_quiet("*", 18_145, 18_300))
CHANGES.add(
    "preferences-listed", "a preference that was met", lambda: replace(PLAN, preferences_missed=(("O1", "clock"),))
)
CHANGES.add(
    "preferences-listed",
    "a missed preference that is not said",
    lambda: counting(
        with_test("CBC", clock_rule=ClockRule(from_s=clock("05:30"), to_s=clock("09:00"), is_required=False)),
        off_time=19_800 - 18_145 + 19_800 - 18_765,
    ),
)
CHANGES.add("visit-patient", "the patient lies elsewhere", lambda: with_patient("P2", bed=PlaceId("B3")))
CHANGES.add("draw-id", "two visits under one id", lambda: with_stop(1, draw_id="P1-O1"))
CHANGES.add("draw-id", "a visit without an id", lambda: with_stop(1, draw_id=""))
CHANGES.add(
    "series", "two draws of a series at once", lambda: with_order("O1", with_order("O9", series="S"), series="S")
)
CHANGES.add(
    "noted-apart",
    "a note speaks of a time",
    lambda: with_order("O1", with_order("O9"), time_in_note="3 h"),
)
CHANGES.add(
    "noted-apart",
    "two unmarked samples of one test",
    lambda: with_order("O1", with_test("CBC", with_order("O9"), serial_offsets=((0, 3600),))),
)
CHANGES.add("lead", "a draw one second late", lambda: with_stop(0, draw_s=18_146))
CHANGES.add("service", "difficult veins forgotten", lambda: with_patient("P1", has_difficult_veins=True))
# The stay is 18 010 to 18 310.
CHANGES.add("absence", "away before the visit ends", lambda: with_away(18_309, 18_400))
CHANGES.add("absence", "away as the visit begins", lambda: with_away(17_000, 18_011))
# 15 years and 17 kg (28.9 mL a day), 23 mL drawn before, adult tubes of 3 + 3 mL.
CHANGES.add(
    "blood-limit",
    "a light child",
    lambda: with_patient("P1", birth_date=date(2010, 5, 17), weight_g=17_000, drawn_24h_ul=22_901),
)
CHANGES.add("blood-limit", "a child without a weight", lambda: with_patient("P2", birth_date=date(2010, 5, 17)))
# 17 kg: 5 % of 80 mL/kg is 68 mL in 30 days, of which 3.0 mL for the round.
CHANGES.add(
    "blood-limit",
    "much drawn in the last 30 days",
    lambda: with_patient("P2", birth_date=date(2010, 5, 17), weight_g=17_000, drawn_30d_ul=65_001),
)
# A baby of nine weeks and 3.4 kg gives 2.5 mL at one time [L54], less than the tube of 3.0 mL.
CHANGES.add(
    "blood-draw-cap",
    "a tube too large for one draw",
    lambda: in_equal_time(with_patient("P2", birth_date=date(2026, 1, 5), weight_g=3400, drawn_24h_ul=0)),
)
# 15 years, 17 kg and 28.9 mL a day, of which a site allows 10 % where nobody knows what was drawn: 2.89 mL.
CHANGES.add(
    "blood-limit",
    "nobody knows what was drawn before",
    lambda: with_little_unknown(with_patient("P2", birth_date=date(2010, 5, 17), weight_g=17_000)),
)
CHANGES.add("collection-method", "drawn by the ward", lambda: with_patient("P2", method=Method.WARD))
CHANGES.add(
    "collection-method",
    "a newborn on whom nobody has decided",
    lambda: in_equal_time(with_patient("P2", birth_date=date(2026, 2, 11), weight_g=8000, drawn_24h_ul=0)),
)
CHANGES.add("free-arm", "both arms barred", lambda: with_patient("P2", arms_barred=frozenset(Arm)))
CHANGES.add(
    "free-arm",
    "one arm barred, the other by words",
    lambda: with_patient("P2", arms_barred=frozenset({Arm.LEFT}), arms_in_words=frozenset({Arm.RIGHT})),
)
CHANGES.add(
    "free-arm",
    "a note of one order bars the other arm",
    lambda: with_order(
        "O2", with_patient("P2", arms_barred=frozenset({Arm.LEFT})), arms_in_words=frozenset({Arm.RIGHT})
    ),
)
CHANGES.add(
    "free-arm",
    "something runs into the arm that is left",
    lambda: with_patient("P2", arms_in_words=frozenset({Arm.LEFT}), infusion_arms=frozenset({Arm.RIGHT})),
)
CHANGES.add(
    "free-arm",
    "a text names the arm that is left",
    lambda: with_patient("P2", arms_barred=frozenset({Arm.LEFT}), arms_unexplained=frozenset({Arm.RIGHT})),
)
CHANGES.add(
    "free-arm",
    "a reason without a side may close the arm that is left",
    lambda: with_patient("P2", infusion_arms=frozenset({Arm.RIGHT}), has_sideless_reason=True),
)
CHANGES.add("age-known", "no birth date", lambda: in_equal_time(with_patient("P2", birth_date=None)))
CHANGES.add(
    "age-known",
    "no birth date and an adult's weight",
    lambda: in_equal_time(with_patient("P2", birth_date=None, weight_g=80_000)),
)
# CDC growth charts, modified z from -5 to +8: at 15 years 17.0 to 290 kg.
CHANGES.add("weight-for-age", "too light", lambda: with_patient("P2", birth_date=date(2010, 5, 17), weight_g=16_900))
CHANGES.add("weight-for-age", "too heavy", lambda: with_patient("P2", birth_date=date(2010, 5, 17), weight_g=310_000))
CHANGES.add("weight-for-age", "a child's weight in an adult", lambda: with_patient("P2", weight_g=12_000))
# 17 kg: 28.9 mL, of which 3.0 mL for the round; 25.9 mL may have been drawn before.
CHANGES.add(
    "blood-limit",
    "much drawn the day before",
    lambda: with_patient("P2", birth_date=date(2010, 5, 17), weight_g=17_000, drawn_24h_ul=25_901),
)
# 17 kg and haemoglobin 55 of 110 g/L: half of 28.9 mL is 14.45 mL, less than 3.0 + 11.451.
CHANGES.add(
    "blood-limit",
    "an anaemic child",
    lambda: with_patient("P2", birth_date=date(2010, 5, 17), weight_g=17_000, haemoglobin_g_l=55, drawn_24h_ul=11_451),
)
CHANGES.add("one-at-the-bed", "two collectors at one bed", with_overlap)
