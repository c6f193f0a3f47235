"""Unknown age is never an adult's, and a weight that cannot be is nobody's (design 4; hazards 1 and 2)."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise

import pytest

from planner.checker.ages import counts_as, weight_bounds_g
from planner.domain.orders import Method, PatientId
from planner.domain.patients.ages import has_child_rules, is_age_open
from planner.domain.patients.births import PartialDate
from planner.domain.patients.weights import WEIGHT_BOUNDS
from planner.domain.places import PlaceId
from planner.domain.policy import NeonateMethod
from planner.solving.params import SolveParams
from planner.tubes import choose_tubes
from planner.tubes.unsettled import weight_bounds
from tests.unit.tubes.bedside import (
    DAY,
    choose,
    make_child,
    make_order,
    make_patient,
    make_problem,
    make_request,
    written,
)


def reasons(choice) -> list[str]:
    return [u.reason.value for u in choice.postponed]


@pytest.mark.parametrize("weight_g", [None, 40_000, 80_000])
def test_without_birth_date_a_person_decides(weight_g: int | None) -> None:
    choice = choose(make_patient(birth_date=None, weight_g=weight_g), "CBC, BMP")
    assert choice.tube_sets == {}
    assert reasons(choice) == ["age-unknown", "age-unknown"]
    assert all(u.reason.needs_decision for u in choice.postponed)
    assert [f.code for f in choice.findings] == ["age-unknown"]


def test_a_childs_weight_means_the_rules_for_children() -> None:
    # 3.1 kg and no birth date: 5.27 mL in 24 h [L53, L55], 2.5 mL at one time [L54]; once 23 mL were planned.
    choice = choose(
        make_patient(birth_date=None, weight_g=3100, drawn_24h_ul=0, method=Method.VENOUS), "CBC, BMP, CU, XM, LACT, PT"
    )
    (found,) = choice.tube_sets.values()
    assert 0 < found.volume_ul <= 2500
    assert "blood-limit" in reasons(choice)


def test_wards_of_the_policy_tell_children_from_adults() -> None:
    heron = {"birth_date": None, "ward": "Heron", "weight_g": 60_000}
    # A children's ward: a child's sizes (EDTA 0.5 mL), whatever the weight.
    choice = choose(make_patient(**heron, drawn_24h_ul=0), "CBC", blood={"child_wards": ("Heron",)})
    (found,) = choice.tube_sets.values()
    assert written(found) == ["EDTA 0.5 CBC"]
    # A ward of adults: an adult's; a ward of that name only.
    choice = choose(make_patient(**heron), "CBC", blood={"adult_wards": ("Heron",)})
    assert not choice.postponed
    assert reasons(choose(make_patient(**heron), "CBC", blood={"adult_wards": ("Wren",)})) == ["age-unknown"]
    # Named as both: the children's ward counts.
    both = {"adult_wards": ("*",), "child_wards": ("Heron",)}
    assert reasons(choose(make_patient(birth_date=None, ward="Heron"), "CBC", blood=both)) == ["weight-missing"]
    # A child's weight on a ward of adults: the limits hold.
    choice = choose(
        make_patient(birth_date=None, weight_g=3100, drawn_24h_ul=0, method=Method.VENOUS),
        "CU, CBC",
        blood={"adult_wards": ("*",)},
    )
    assert max(s.volume_ul for s in choice.tube_sets.values()) <= 2500


def test_a_month_or_a_year_means_the_youngest_age() -> None:
    # FHIR birthDate 2024-02, HL7 PID-7 2024: a child, not an unknown adult. The round is in May 2024.
    for born in (PartialDate(2024, 2), PartialDate(2023)):
        child = make_patient(birth_date=born, weight_g=5000, drawn_24h_ul=0)
        choice = choose(child, "CBC, BMP, CU, XM, LACT, PT")
        assert max(s.volume_ul for s in choice.tube_sets.values()) <= 5000
    assert not choose(make_patient(birth_date=PartialDate(1950)), "CBC").postponed


def test_one_decision_for_a_list_without_any_birth_date() -> None:
    people = [make_patient(f"P{n}", birth_date=None, ward=f"Ward {n % 2}") for n in range(5)]
    orders = [make_order("CBC", f"{p.id}-1", p.id) for p in people]
    problem = make_problem(people, orders)
    requests = [make_request(p, [o]) for p, o in zip(people, orders, strict=True)]
    choice = choose_tubes(problem, requests, SolveParams())
    assert len(choice.postponed) == 5
    (detail,) = {u.detail for u in choice.postponed}  # the same words, so that the sheet prints them once
    assert "--adults-only" in detail
    (finding,) = choice.findings
    assert finding.code == "age-unknown" and len(finding.order_ids) == 5
    assert "Ward 0, Ward 1" in finding.message and "--adults-only" in finding.message
    # The answer is one line of the policy: the list is planned.
    settled = make_problem(people, orders, blood={"adult_wards": ("*",)})
    assert not choose_tubes(settled, requests, SolveParams()).postponed


def test_a_decision_each_where_others_have_a_birth_date() -> None:
    people = [
        make_patient(f"P{n}", birth_date=None if n else date(1960, 1, 1), bed=PlaceId(f"3A-{n}")) for n in range(3)
    ]
    orders = [make_order("CBC", f"{p.id}-1", p.id) for p in people]
    requests = [make_request(p, [o]) for p, o in zip(people, orders, strict=True)]
    choice = choose_tubes(make_problem(people, orders), requests, SolveParams())
    assert [u.patient_id for u in choice.postponed] == [PatientId("P1"), PatientId("P2")]
    assert [f.code for f in choice.findings] == ["age-unknown", "age-unknown"]


@pytest.mark.parametrize(
    ("days", "kg", "is_possible"),
    [
        (9, 31.0, False),  # the slip that was seen: 31 kg for 3.1 kg at nine days
        (9, 3.1, True),
        (9, 0.4, True),  # born too early
        (9, 6.3, True),  # WHO: z = +5 at birth is 6.4 kg
        (400, 1.5, False),  # WHO: z = -6 at 13 months is 4.6 kg
        (400, 9.5, True),
        (730, 120.0, False),
        (4 * 365, 16.0, True),
        (9 * 365, 3.1, False),  # 31 kg with its point moved
        (9 * 365, 28.0, True),
        (16 * 365, 150.0, True),
        (45 * 365, 12.0, False),  # a child's weight beside an adult's birth date: one of them is wrong
        (45 * 365, 36.0, True),
        (45 * 365, 250.0, True),
    ],
)
def test_weight_that_cannot_be_at_an_age_is_a_decision(days: int, kg: float, is_possible: bool) -> None:
    patient = make_patient(birth_date=DAY - timedelta(days=days), weight_g=round(kg * 1000), drawn_24h_ul=0)
    choice = choose(patient, "CBC", blood={"neonate_method": NeonateMethod.VENOUS})
    assert ("weight-implausible" in reasons(choice)) is not is_possible
    assert bool(choice.tube_sets) is is_possible


def test_bounds_rise_with_age_and_hold_the_medians_of_who() -> None:
    for lower, upper in pairwise(WEIGHT_BOUNDS):
        assert all(a <= b for a, b in zip(lower, upper, strict=True))
    # WHO Child Growth Standards 2006, median of boys and girls, kg, by month.
    for months, boys, girls in [(0, 3.35, 3.23), (1, 4.47, 4.19), (3, 6.38, 5.85), (6, 7.93, 7.30), (12, 9.65, 8.95)]:
        least, most = weight_bounds(31 * months, 31 * months)
        assert least < 1000 * girls and 1000 * boys < most


def test_an_open_age_is_measured_against_all_ages_that_it_allows() -> None:
    # Born in 2023: 16 to 4 months old on 14 May 2024 (WHO: 2.5 to 25.4 kg are possible somewhere between).
    open_year = {"birth_date": PartialDate(2023), "drawn_24h_ul": 0}
    assert choose(make_patient(**open_year, weight_g=12_000), "CBC").tube_sets
    assert reasons(choose(make_patient(**open_year, weight_g=40_000), "CBC")) == ["weight-implausible"]
    assert reasons(choose(make_patient(**open_year, weight_g=900), "CBC")) == ["weight-implausible"]


@pytest.mark.slow
def test_planner_and_checker_know_the_same_bounds_and_the_same_open_ages() -> None:
    problem = make_problem([], [], blood={"child_wards": ("Wren",), "adult_wards": ("Heron",)})
    policy = problem.policy.blood
    for ward in ("Wren", "Heron", "Robin"):
        for weight_g in (None, 3000, 39_999, 40_000, 90_000):
            patient = make_patient(birth_date=None, ward=ward, weight_g=weight_g)
            said = (
                "child" if has_child_rules(problem, patient) else "open" if is_age_open(problem, patient) else "adult"
            )
            assert said == counts_as(policy, patient), (ward, weight_g)
    for days in range(0, 7000, 3):
        for born in (DAY - timedelta(days=days), PartialDate((DAY - timedelta(days=days)).year)):
            patient = make_patient(birth_date=born)
            youngest, oldest = patient.youngest_days(DAY), patient.oldest_days(DAY)
            assert youngest is not None and oldest is not None
            assert weight_bounds(youngest, oldest) == weight_bounds_g(patient, DAY), (born, days)


def test_findings_name_bed_and_orders_only() -> None:
    for patient in (
        make_child(0, 31, family_name="Secretname", given_name="Hidden"),
        make_patient(birth_date=None, family_name="Secretname", given_name="Hidden"),
    ):
        choice = choose(patient, "CBC")
        assert choice.findings
        for text in (*map(str, choice.findings), *(u.detail for u in choice.postponed)):
            assert "Secretname" not in text and "Hidden" not in text and "2024" not in text
