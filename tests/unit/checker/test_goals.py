"""The goals are recomputed as the rule book defines them: each figure here is worked out by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.checker import accounting
from planner.checker.facts import Facts
from planner.checker.windows import target_s
from planner.domain.catalogue import DoseRule
from planner.domain.orders import Precaution, Priority
from planner.domain.plan import Plan, Route
from planner.domain.policy import Policy, RoundPolicy
from planner.domain.price_policy import PricePolicy
from planner.domain.problem import Problem
from tests.builders import clock
from tests.unit.checker.clean import PLAN, PROBLEM, with_order, with_patient, with_test
from tests.unit.checker.past_changes import BEGUN_PLAN, begun


def late(problem: Problem) -> int:
    return accounting.late(Facts(problem, PLAN))


@pytest.mark.parametrize(
    ("changes", "weight"),
    [
        ({}, 1),
        ({"priority": Priority.STAT}, 100),
        ({"priority": Priority.ASAP}, 30),
        ({"priority": Priority.URGENT}, 20),
        ({"collect_at_s": clock("06:00")}, 10),
        ({"collect_to_s": clock("06:00"), "priority": Priority.URGENT}, 20),
    ],
)
def test_order_left_out_weighs_by_priority_and_at_least_ten_when_timed(changes: dict, weight: int) -> None:
    assert accounting.uncollected(Facts(with_order("O8", **changes), PLAN)) == weight


def test_order_with_a_dose_rule_left_out_weighs_at_least_ten() -> None:
    problem = with_test("CORTAM", dose_rule=DoseRule(kind="trough"))
    assert accounting.uncollected(Facts(problem, PLAN)) == 10


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        # O2 is drawn at 18 455. Stat: target 18 000 + 900 = 18 900, met.
        ({"priority": Priority.STAT}, 0),
        # Ordered 05:00 exactly or before counts from the begin of the round; at 05:01, 18 060 + 900: met too.
        ({"priority": Priority.STAT, "ordered_s": 18_060}, 0),
        # Asked for until 05:05 = 18 300: 155 s late; routine weight 1, but timed: 2.
        ({"collect_to_s": 18_300}, 310),
        # The same and asap: weight 4; no priority target, because the order is timed.
        ({"collect_to_s": 18_300, "priority": Priority.ASAP}, 620),
        # At 04:30 = 16 200 with half an hour: 18 000, 455 s late, twice.
        ({"collect_at_s": 16_200}, 910),
        # One of a series: a quarter of an hour, 17 100: 1 355 s late, twice.
        ({"collect_at_s": 16_200, "series": "S"}, 2710),
        # Instant 04:30 and until 04:50 = 17 400: the smaller target, 1 055 s late, twice.
        ({"collect_at_s": 16_200, "collect_to_s": 17_400}, 2110),
    ],
)
def test_lateness_is_seconds_past_the_smallest_target_times_weight(changes: dict, expected: int) -> None:
    assert late(with_order("O2", **changes)) == expected


def test_stat_draw_late_by_a_second_costs_ten() -> None:
    """O7 is drawn at 19 135. Ordered at 05:03:54 = 18 234: target 19 134."""
    assert late(with_order("O7", priority=Priority.STAT, ordered_s=18_234)) == 10
    assert late(with_order("O7", priority=Priority.STAT, ordered_s=18_235)) == 0


def test_routine_order_without_a_time_has_no_target() -> None:
    assert target_s(Facts(PROBLEM, PLAN), PROBLEM.order("O1")) is None


@pytest.mark.parametrize(
    ("needed_by", "expected"),
    [
        ({}, 0),
        # Everything arrives at 22 200; ten orders less the one left out are nine.
        ({"*": 22_199}, 9),
        ({"*": 22_200}, 0),
        ({"W": 22_190}, 90),
        ({"W": 22_200, "*": 0}, 0),
        ({"OTHER": 0}, 0),
    ],
)
def test_delivery_counts_every_order_past_the_wards_need(needed_by: dict[str, int], expected: int) -> None:
    problem = replace(PROBLEM, policy=Policy(round=RoundPolicy(needed_by_s=needed_by)))
    assert accounting.delivery(Facts(problem, PLAN)) == expected


def test_delivery_is_weighed_by_priority_alone() -> None:
    """Asap weighs 4; a timed routine order weighs 1 here, not 2: 9 orders, one of them 4."""
    policy = Policy(round=RoundPolicy(needed_by_s={"*": 22_199}))
    problem = with_order("O2", with_order("O1", replace(PROBLEM, policy=policy), collect_to_s=20_000))
    problem = with_order("O2", problem, priority=Priority.ASAP)
    assert accounting.delivery(Facts(problem, PLAN)) == 12


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        # O2 is P2's, everybody's tubes arrive at 22 200. AB begins at 18 000 at the base, 20 s from B2, 135 s of lead:
        # it could be drawn at 18 155, and should be there ten minutes later, at 18 755.
        ({"priority": Priority.STAT}, 10 * (22_200 - 18_755)),
        # Ordered for 05:10 = 18 600: due at 19 200.
        ({"priority": Priority.STAT, "collect_at_s": 18_600}, 10 * (22_200 - 19_200)),
        # An asap by an hour after the begin, 21 600, half an hour more: 23 400.
        ({"priority": Priority.ASAP}, 0),
        # Asked for until 05:05 = 18 300: due at 20 100.
        ({"priority": Priority.ASAP, "collect_to_s": 18_300}, 4 * (22_200 - 20_100)),
        ({"priority": Priority.URGENT}, 0),
        ({}, 0),
    ],
)
def test_stat_and_asap_count_past_their_time_in_the_laboratory(changes: dict, expected: int) -> None:
    assert accounting.stat_to_lab(Facts(with_order("O2", **changes), PLAN)) == expected


def test_stat_waits_from_when_it_could_first_be_drawn() -> None:
    # Drawn at 18 455, could be at 18 155; O3 of the same visit counts no second time.
    assert accounting.stat_wait(Facts(with_order("O2", priority=Priority.STAT), PLAN)) == 300
    both = with_order("O3", with_order("O2", priority=Priority.STAT), priority=Priority.STAT)
    assert accounting.stat_wait(Facts(both, PLAN)) == 300
    assert accounting.stat_wait(Facts(with_order("O2", priority=Priority.STAT, collect_at_s=18_600), PLAN)) == 0


def test_patient_on_a_ward_without_need_counts_nothing() -> None:
    policy = Policy(round=RoundPolicy(needed_by_s={"W": 22_199}))
    problem = with_patient("P2", replace(PROBLEM, policy=policy), ward="X")
    # O2 and O3 are P2's.
    assert accounting.delivery(Facts(problem, PLAN)) == 7


@pytest.mark.parametrize(("patient", "expected"), [("P1", 1), ("P2", 2), ("P3", 2), ("P4", 1)])
def test_change_of_ward_counts_on_every_route_between_visits(patient: str, expected: int) -> None:
    """AB visits P1, P2, P3 and P4; CD visits P1 alone."""
    assert accounting.ward_changes(Facts(with_patient(patient, ward="X"), PLAN)) == expected


@pytest.mark.parametrize(("patient", "expected"), [("P1", 0), ("P2", 1), ("P3", 2), ("P4", 1)])
def test_change_of_ward_counts_from_the_last_visit_made(patient: str, expected: int) -> None:
    """AB has been at P1 and P2, and goes on to P3 and P4."""
    assert accounting.ward_changes(Facts(with_patient(patient, begun(), ward="X"), BEGUN_PLAN)) == expected


def test_empty_plan_has_nothing_but_its_uncollected_weight() -> None:
    facts = Facts(PROBLEM, Plan(routes=(Route(phlebotomist=0, stops=()),), unplanned=(), goals=()))
    tiers = accounting.expected_goals(facts)
    assert [value for _name, _unit, value, _parts in tiers] == [10, 0, 0]
    assert [amount for *_tier, parts in tiers for _name, _unit, amount, _price in parts] == [10] + 16 * [0]


def test_tiers_and_their_parts_are_those_of_the_rule_book() -> None:
    tiers = accounting.expected_goals(Facts(PROBLEM, PLAN))
    assert {name: [part for part, *_rest in parts] for name, _unit, _value, parts in tiers} == {
        "left-out": ["uncollected"],
        "service": ["late", "delivery", "stat-to-lab", "second-punctures", "changes"],
        "effort": [
            "time",
            "stat-wait",
            "last-minutes",
            "off-time",
            "arrival",
            "finish",
            "share",
            "ward-changes",
            "other-wards",
            "precautions",
            "protective-after-airborne",
        ],
    }


def priced(**prices: int) -> dict[str, int]:
    """Return the price of each part under a policy."""
    problem = replace(PROBLEM, policy=Policy(prices=PricePolicy(**prices)))
    tiers = accounting.expected_goals(Facts(problem, PLAN))
    return {name: price for *_tier, parts in tiers for name, _unit, _amount, price in parts}


def test_tier_adds_its_parts_up_at_the_prices_of_the_policy() -> None:
    # One second puncture; 230 s, 21 000 s of arrivals, 4020 s until the last is done, 37 080 hundredths above a share.
    problem = replace(PROBLEM, policy=Policy(prices=PricePolicy(puncture_s=7, arrival_pct=2, finish_pct=5, share=1)))
    values = [value for _name, _unit, value, _parts in accounting.expected_goals(Facts(problem, PLAN))]
    assert values == [1, 7, 100 * 230 + 2 * 21_000 + 5 * 4020 + 37_080]


def test_prices_of_pairs_are_hundredths_of_a_second() -> None:
    found = priced(isolation_s=3, protective_after_airborne_s=4, moved_stop_s=5)
    assert (found["precautions"], found["protective-after-airborne"], found["changes"]) == (300, 400, 5)


AIRBORNE, PROTECTIVE = frozenset({Precaution.AIRBORNE}), frozenset({Precaution.PROTECTIVE})


def pairs(problem: Problem) -> tuple[int, int]:
    facts = Facts(problem, PLAN)
    return accounting.precautions(facts), accounting.protective_after_airborne(facts)


def test_protective_patient_after_an_airborne_one_is_a_pair_of_its_own() -> None:
    # AB sees P1 to P4. P1 airborne: before P2, P3 and P4, who has protective isolation.
    problem = with_patient("P4", with_patient("P1", precautions=AIRBORNE), precautions=PROTECTIVE)
    # P2 and P3 are before P4 too: (P1, P2), (P1, P3), (P2, P4), (P3, P4), and apart from these (P1, P4).
    assert pairs(problem) == (4, 1)


def test_what_is_not_clear_beside_protective_has_the_turn_of_protective() -> None:
    # P1 is known to be protective, and another word is not clear: first. With contact too it has the turn of contact.
    known = with_patient("P4", PROBLEM, precautions=PROTECTIVE)
    assert pairs(with_patient("P1", known, precautions=PROTECTIVE | {Precaution.UNCLEAR})) == (2, 0)
    last = with_patient("P1", known, precautions=PROTECTIVE | {Precaution.UNCLEAR, Precaution.CONTACT})
    assert pairs(last) == (5, 0)
    # Behind an airborne room it is protective after airborne.
    behind = with_patient("P4", PROBLEM, precautions=PROTECTIVE | {Precaution.UNCLEAR})
    assert pairs(with_patient("P1", behind, precautions=AIRBORNE)) == (4, 1)


@pytest.mark.parametrize(("to_s", "expected"), [(18_329, (3, 0)), (18_330, (3, 1))])
def test_pair_that_could_not_stand_the_other_way_round_counts_nothing(to_s: int, expected: tuple[int, int]) -> None:
    # P1 is airborne, P4 protective. P4 first: begun at 18 000 less the lead of 135, over at 18 165, 30 s to B1: 18 195.
    # P1's O1 is asked for until to_s: its last start is 135 s before. Of the usual pairs (P1, P3) counts at neither:
    # 360 s at P3's bed.
    problem = with_patient("P4", with_patient("P1", precautions=AIRBORNE), precautions=PROTECTIVE)
    assert pairs(with_order("O1", problem, collect_to_s=to_s)) == expected
