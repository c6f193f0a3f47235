"""Uric acid under rasburicase: the enzyme goes on in the tube unless that is chilled (product labelling, from memory).

Five wards with equal bed numbers.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from planner.domain.catalogue import Handling, TransportMode
from planner.findings import Finding, to_decide
from planner.loaders import LoadOptions, load
from planner.loaders.build.said import with_texts
from tests.builders import DAY
from tests.three_wards import five_ward_tables, plan_quickly, write_tables


def chilled(folder: Path, test: str, **cells: str) -> list[Finding]:
    tables = five_ward_tables()
    tables["orders"][-1] |= {"test": test, "note": cells.pop("note", "")}
    tables["patients"][-1] |= cells
    loaded = load(write_tables(tables, folder), LoadOptions(round_date=DAY))
    return [f for f in to_decide(loaded.findings) if f.code == "chilled-by-alert"]


@pytest.mark.parametrize("cells", [{"alerts": "Rasburicase since Monday"}, {"note": "on pegloticase"}])
def test_uric_acid_under_rasburicase_is_a_decision(tmp_path: Path, cells: dict[str, str]) -> None:
    (finding,) = chilled(tmp_path / "five", "URATE", **cells)
    assert "bed Tern 3A" in finding.message and "tube of its own" in finding.message
    assert finding.order_ids == ("T0502-1",)


def test_other_tests_and_other_patients_are_not_concerned(tmp_path: Path) -> None:
    assert chilled(tmp_path / "other", "CBC", alerts="rasburicase") == []
    assert chilled(tmp_path / "none", "URATE") == []


def test_denied_word_is_no_decision_and_is_asked_on_the_card(tmp_path: Path) -> None:
    assert chilled(tmp_path / "denied", "URATE", alerts="never had rasburicase") == []
    assert len(chilled(tmp_path / "said", "URATE", alerts="never had rasburicase; rasburicase today")) == 1


def test_it_is_planned_in_a_chilled_tube_of_its_own_on_ice(tmp_path: Path) -> None:
    # UW Health, test directory: pre-chilled heparin tube, on a coolant pack at once, received within 4 hours.
    tables = five_ward_tables()
    tables["orders"][-1] |= {"test": "URATE"}
    tables["orders"].append(tables["orders"][-1] | {"order_number": "T0502-2", "test": "POT"})
    tables["patients"][-1]["alerts"] = "rasburicase"
    problem = load(write_tables(tables, tmp_path / "five"), LoadOptions(round_date=DAY)).problem
    assert problem is not None
    planned = plan_quickly(problem)
    tubes = {
        t.tube.tests: t.tube for r in planned.plan.routes for v in r.visits for t in v.tubes if v.patient_id == "T0502"
    }
    assert set(tubes) == {("URICE",), ("POT",)}
    assert tubes["URICE",].tube == "HEP" and tubes["URICE",].mode is TransportMode.ICE
    assert {Handling.PRECHILL, Handling.ICE} <= tubes["URICE",].handling
    assert Handling.PRECHILL not in tubes["POT",].handling


def test_later_alert_turns_the_order_unless_it_is_drawn_and_the_list_still_knows_it(tmp_path: Path) -> None:
    tables = five_ward_tables()
    tables["orders"][-1] |= {"test": "URATE"}
    problem = load(write_tables(tables, tmp_path / "five"), LoadOptions(round_date=DAY)).problem
    assert problem is not None
    order = next(o for o in problem.orders if o.id == "T0502-1")
    patient = replace(problem.patients[order.patient_id], alerts=("rasburicase",))
    later = with_texts(replace(problem, patients={**problem.patients, patient.id: patient}))
    turned = next(o for o in later.orders if o.id == "T0502-1")
    assert (turned.test, turned.stands_for, turned.ordered_test) == ("URICE", "URATE", "URATE")
    assert turned.asks_the_same(order) and order.asks_the_same(turned)
