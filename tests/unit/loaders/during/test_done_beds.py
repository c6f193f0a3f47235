"""Beds named as done: each stands for its visit, and one that does not is a finding that says what is meant."""

from __future__ import annotations

from planner.loaders.during.typed import parse_done
from tests.builders import make_order, make_patient, make_place, make_problem, make_ward
from tests.replan_builders import make_plan, make_visit
from tests.unit.loaders.during.progress_rounds import NOW_S, codes, told, ward_round


def test_done_beds_were_collected_as_planned() -> None:
    problem, plan = ward_round()
    reports, findings = parse_done("2, b1", problem, plan, NOW_S)
    assert told(reports) == [(("O3",), "collected", None), (("O1", "O2"), "collected", None)]
    assert findings == ()


def test_done_bed_that_is_not_there_is_a_finding() -> None:
    reports, findings = parse_done("2,7,B4", *ward_round(), NOW_S)
    assert told(reports) == [(("O3",), "collected", None)]
    assert codes(findings) == ["bed-not-found", "bed-not-found"]
    assert "no visit" in findings[1].message  # B4 is a bed of the ward, but nobody is to be drawn there


def test_done_bed_in_two_wards_lists_the_choices() -> None:
    places = [
        *make_ward(1),
        make_place("Alder/14", ward="Alder", label="14", position=40),
        make_place("Birch/14", ward="Birch", label="14", position=50),
    ]
    patients = [make_patient("P1", "Alder/14", ward="Alder"), make_patient("P2", "Birch/14", ward="Birch")]
    problem = make_problem([make_order("O1", "P1"), make_order("O2", "P2")], patients, places=places)
    plan = make_plan([make_visit(problem, ["O1"]), make_visit(problem, ["O2"], "05:20")])
    reports, findings = parse_done("14", problem, plan, NOW_S)
    assert (reports, codes(findings)) == ((), ["bed-not-found"])
    assert "Alder 14 or Birch 14" in findings[0].message
    assert told(parse_done("birch 14", problem, plan, NOW_S)[0]) == [(("O2",), "collected", None)]
