"""What the bed needs to know beside the tubes: notes of the orders, and orders of the patient still open."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from planner.domain.orders import Method, OrderId, Patient, PatientId
from planner.domain.patients.births import BirthDate, PartialDate, latest_birth
from planner.domain.plan import Reason, Unplanned
from planner.exporters.view.build import build_view
from planner.exporters.view.lists import checked_orders
from planner.exporters.view.stop_view import VisitView
from planner.findings import Finding, Severity
from planner.loaders.catalogue.load import load_catalogue
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from planner.visits import order_windows
from tests.builders import make_order, make_patient, make_problem


def only_visit(**changes: object) -> VisitView:
    problem = make_problem([make_order("O1", "P1", "CBC", note="LEFT ARM: no draw\x07")])
    problem = replace(problem, **changes)
    plan = plan_round(problem, SolveParams(effort="quick")).plan
    view = build_view(problem, plan, order_windows(problem)[0], revision=1)
    (visit,) = (visit for route in view.routes for visit in route.visits)
    return visit


def test_note_of_an_order_is_printed_clean() -> None:
    assert [a for a in only_visit().alerts if "LEFT ARM" in a] == ["note (CBC): LEFT ARM: no draw"]


def test_open_order_of_the_patient_is_named_at_the_bed() -> None:
    left = Unplanned(
        order_id=OrderId("O9"), reason=Reason.UNKNOWN_TEST, detail="", patient_id=PatientId("P1"), bed="B1", test="BCX"
    )
    assert any("BCX (order O9)" in words for words in only_visit(set_aside=(left,)).not_drawn)


def test_cancelled_order_is_not_called_open() -> None:
    left = Unplanned(
        order_id=OrderId("O9"), reason=Reason.CANCELLED, detail="", patient_id=PatientId("P1"), bed="B1", test="BCX"
    )
    assert not any("O9" in alert for alert in only_visit(set_aside=(left,)).alerts)


def visit_of(patient: Patient, **policy: object) -> VisitView:
    problem = make_problem([make_order("O1", "P1", "CBC")], [patient], catalogue=load_catalogue()[0])
    blood = replace(problem.policy.blood, **policy)
    problem = replace(problem, policy=replace(problem.policy, blood=blood))
    plan = plan_round(problem, SolveParams(effort="quick")).plan
    view = build_view(problem, plan, order_windows(problem)[0], revision=1)
    (visit,) = (visit for route in view.routes for visit in route.visits)
    return visit


@pytest.mark.parametrize(
    ("born", "words"),
    [
        (date(2016, 4, 3), "03 Apr 2016 (9 y, female, 24.5 kg)"),
        (PartialDate(2016, 2), "Feb 2016, day not on file (10 y, female, 24.5 kg)"),
        (PartialDate(2016), "2016, day and month not on file (9 y, female, 24.5 kg)"),
        (None, "not on file (24.5 kg)"),
    ],
)
def test_birth_date_is_printed_as_far_as_it_is_known_with_the_weight_used(born: object, words: str) -> None:
    # The round is on 10 March 2026; no day is made up, and the weight that the limit went by stands on the card.
    assert visit_of(make_patient(birth_date=born, weight_g=24_500)).born == words


@pytest.mark.parametrize(
    ("born", "age"),
    [
        (date(2026, 3, 1), "9 d"),
        (date(2026, 2, 11), "27 d"),
        (date(2026, 2, 10), "0 mo"),
        (date(2026, 2, 7), "1 mo"),  # 31 days
        (date(2024, 3, 11), "23 mo"),
        (date(2024, 3, 10), "2 y"),
        (PartialDate(2026, 1), "1 mo"),  # at the youngest born on the 31st, 38 days
    ],
)
def test_age_of_a_small_child_is_in_days_or_months(born: BirthDate, age: str) -> None:
    small = make_patient(
        birth_date=born, weight_g=4000 if date(2025, 9, 1) < latest_birth(born) else 10_000, method=Method.VENOUS
    )
    assert f"({age}, female, " in visit_of(small).born


@pytest.mark.parametrize(
    ("facts", "is_said"),
    [
        ({"birth_date": date(2019, 3, 11), "weight_g": 20_000}, True),  # seven years tomorrow
        ({"birth_date": date(2019, 3, 10), "weight_g": 20_000}, False),
        ({"birth_date": None, "weight_g": 19_900}, True),
        ({"birth_date": None, "weight_g": 20_000}, False),
        ({"birth_date": date(1960, 5, 17)}, False),
    ],
)
def test_child_too_young_to_state_a_name_is_identified_by_parent_or_nurse(
    facts: dict[str, object], is_said: bool
) -> None:
    said = [
        line for line in visit_of(make_patient(**facts)).do if "identifies the child with you by the wristband" in line
    ]
    assert len(said) == is_said


def test_an_adult_without_birth_date_has_no_age_on_the_card() -> None:
    assert visit_of(make_patient(birth_date=None), adult_wards=("W",)).born == "not on file"


@pytest.mark.slow
def test_the_card_asks_for_a_childs_earlier_blood_where_it_is_not_on_file() -> None:
    child = make_patient(birth_date=date(2016, 4, 3), weight_g=24_500)
    assert any("drawn in the last 24 h" in text for text in visit_of(child).ask)
    assert visit_of(replace(child, drawn_24h_ul=0)).ask == ()
    assert visit_of(make_patient()).ask == ()


@pytest.mark.slow
def test_the_card_of_a_child_says_the_most_that_may_be_drawn() -> None:
    # 10 kg: 1.7 mL/kg in 24 h [L53, L55] are 17 mL; 10 mL at one time [L54].
    child = make_patient(birth_date=date(2024, 4, 3), weight_g=10_000, drawn_24h_ul=4_000)
    assert [a for a in visit_of(child).alerts if a.startswith("MAX")] == [
        "MAX this visit 10 mL, repeats and waste count; 24 h limit 17 mL, 4 mL of it drawn before"
    ]
    # 14 years, 40 kg: 68 mL in 24 h, and no cap for one draw from that age on [L54]; at 13 years it is 30 mL.
    for year, most in ((2012, "68 mL (24 h limit alone: no cap for one draw from 14 years on), "), (2013, "30 mL, ")):
        (alert,) = visit_of(make_patient(birth_date=date(year, 1, 3), weight_g=40_000, drawn_24h_ul=0)).alerts
        assert alert.startswith(f"MAX this visit {most}repeats and waste count; 24 h limit 68 mL, ")
    # 12 mL before leave 5 mL of the day.
    (alert,) = (a for a in visit_of(replace(child, drawn_24h_ul=12_000)).alerts if a.startswith("MAX"))
    assert alert.startswith("MAX this visit 5 mL,")
    visit = visit_of(replace(child, drawn_24h_ul=None))
    planned = float(visit.total.split()[0])
    (alert,) = (a for a in visit.alerts if a.startswith("MAX"))
    assert f"if the nurse says more than {17 - planned:g} mL, do not draw, phone the lead" in alert
    assert not any(a.startswith("MAX") for a in visit_of(make_patient()).alerts)


@pytest.mark.slow
def test_who_has_no_birth_date_is_identified_by_a_second_identifier_said_on_the_card() -> None:
    words = "Second identifier: nurse or parent, with the wristband number; none: do not draw"
    assert words in visit_of(make_patient(birth_date=None), adult_wards=("W",)).do
    assert words in visit_of(make_patient(birth_date=None, weight_g=24_500, drawn_24h_ul=0)).do
    assert words not in visit_of(make_patient()).do


def test_a_draw_from_the_skin_says_how_and_names_no_needle() -> None:
    newborn = make_patient(birth_date=date(2026, 3, 1), weight_g=3100, drawn_24h_ul=0, method=Method.CAPILLARY)
    visit = visit_of(newborn)
    assert visit.needle == "lancet" and visit.needle_why == "drawn from the skin"
    assert any("heel or finger by local policy" in do and "wipe the first drop away" in do for do in visit.do)
    assert [(line.name, line.size) for line in visit.tubes] == [("Small open EDTA tube", "0.25 mL")]


def test_missed_wish_hides_no_other_finding_of_its_order_from_the_card() -> None:
    """A fed patient whose note speaks against the draw: the card says what to do about the meal, and what to check."""
    problem = make_problem([make_order("O1", "P1", "CBC")])
    found = [
        Finding(code=code, severity=Severity.WARNING, message=code, order_ids=("O1",))
        for code in ("preference-missed", "note-contradicts")
    ]
    assert checked_orders(problem, found) == {"O1": ("note-contradicts",)}
