"""Figures of tube sets for people."""

from __future__ import annotations

from planner.tubes import choose_tubes
from planner.tubes.report import by_patient, figures_of, total_line, tube_lines
from tests.unit.tubes.bedside import PARAMS, make_order, make_orders, make_patient, make_problem, make_request


def test_tubes_are_listed_by_bed_beside_one_tube_for_each_order() -> None:
    first = make_patient("P2", bed="B-01", has_difficult_veins=True, drawn_24h_ul=5000)
    other = make_patient("P1", bed="B-02")
    orders = [*make_orders("PT, CBC, ESR", "P2"), *make_orders("BC", "P1"), make_order("TNI", "P2-9", "P2")]
    problem = make_problem([first, other], orders)
    requests = [
        make_request(other, make_orders("BC", "P1")),
        make_request(first, make_orders("PT, CBC, ESR", "P2")),
        make_request(first, [orders[-1]], 2),
    ]
    choice = choose_tubes(problem, requests, PARAMS)
    listed = by_patient(problem, requests, choice.tube_sets)
    # P2: discard 1.0, CIT 1.8, EDTA 3.0, then HEPG 3.0: 8.8 mL in 3 tubes; apart PT 1.8, CBC 3, ESR 3, TNI 3, 1.0.
    assert list(tube_lines(problem, listed[0])) == [
        "bed B-01: 3 tubes, 8.8 mL (one tube for each order: 4 tubes, 11.8 mL); 13.8 mL in 24 h",
        "  visit 1: 23G winged suggested (difficult veins noted; coagulation tests: not finer than 23G)",
        "    1. Discard tube (light blue or plain), 1 mL: thrown away",
        "    2. Citrate tube (light blue), 1.8 mL: PT",
        "    3. EDTA tube (lavender), 3 mL: CBC, ESR",
        "  visit 2: 23G winged suggested (difficult veins noted)",
        "    1. Heparin gel tube (light green), 3 mL: TNI",
    ]
    assert [p.bed for p in listed] == ["B-01", "B-02"]
    assert listed[1].today_ul is None
    # With the culture: 20 mL in 2 bottles more on both sides.
    assert total_line(figures_of(choice.tube_sets.values())) == (
        "5 tubes, 28.8 mL in 3 visits; one tube for each order: 6 tubes, 31.8 mL; saved: 1 tubes, 3 mL; "
        "proven minimal: 3 of 3"
    )
