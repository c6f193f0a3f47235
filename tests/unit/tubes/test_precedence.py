"""Over a child's limit the clinically least important orders wait, after the priority (design 4; hazard 5)."""

from __future__ import annotations

import pytest

from planner.domain.catalogue import Importance
from planner.domain.orders import Priority
from planner.tubes.precedence import rank_weights
from tests.unit.tubes.bedside import choose, make_child, make_order, real_catalogue, tube_set, with_only


def test_transfusion_sample_is_drawn_before_any_number_of_trace_metals() -> None:
    # 3 kg, 2.5 mL at one time [L54]. Zinc, copper and selenium share one tube of 2 mL (1.7 + 0.1 + 0.1), so that three
    # orders would be served by leaving one out: the sample for transfusion is kept all the same.
    child = make_child(0, 3, drawn_24h_ul=0)
    catalogue = real_catalogue()
    for code, least_ul in (("TS", 1000), ("ZN", 1700), ("CU", 1700), ("SE", 1700)):
        catalogue = with_only(catalogue, code, child_min_volume_ul=least_ul, add_volume_ul=100)
    assert choose(child, "ZN, CU, SE", catalogue=catalogue).postponed == ()
    assert tube_set(child, "TS", catalogue=catalogue).volume_ul <= 2500
    choice = choose(child, "TS, ZN, CU, SE", catalogue=catalogue)
    assert "TS" not in {u.test for u in choice.postponed}
    assert {u.test for u in choice.postponed} == {"ZN", "CU", "SE"}


def test_gas_glucose_and_potassium_before_what_can_wait() -> None:
    choice = choose(make_child(0, 3, drawn_24h_ul=4000), "GLU, POT, LACT, VITD, CEA, IGS, TTG")
    waiting = {u.test for u in choice.postponed}
    assert waiting and not waiting & {"GLU", "POT"}


def test_priority_goes_before_importance() -> None:
    # 0.7 mL left of 5.1: one tube of half a millilitre.
    orders = [make_order("VITD", "P1-900", priority=Priority.STAT), make_order("LACT", "P1-001")]
    choice = choose(make_child(0, 3, drawn_24h_ul=4400), orders)
    assert [u.test for u in choice.postponed] == ["LACT"]


def test_the_list_says_reason_rank_and_millilitres() -> None:
    choice = choose(make_child(0, 3, drawn_24h_ul=4000), "GLU, ZN, VITD, CBC")
    details = {u.test: u.detail for u in choice.postponed}
    assert "(routine; can wait for another day)" in details["VITD"]
    assert "5.1 mL in 24 h, 4 mL of it drawn before" in details["VITD"] and "needs at least" in details["VITD"]


@pytest.mark.parametrize("ranks", [[(1, 0)], [(1, -3)] * 3 + [(1, 0)] * 2 + [(100, -3)], [(1, -1)] * 7 + [(10, 0)] * 4])
def test_an_order_weighs_more_than_all_of_lower_ranks_together(ranks: list[tuple[int, int]]) -> None:
    weights = rank_weights(ranks)
    for rank in set(ranks):
        assert weights[rank] == 1 + sum(weights[other] for other in ranks if other < rank)


def test_ranks_stay_within_what_the_solver_adds() -> None:
    ranks = [(p, -i) for p in (1, 10, 20, 30, 100) for i in range(4) for _ in range(9)]
    weights = rank_weights(ranks)
    assert sum(weights[rank] for rank in ranks) < 2**31
    # Whatever is taken together at the bottom, what is most urgent and most important stays apart.
    assert weights[(100, 0)] > sum(weights[rank] for rank in ranks if rank < (100, 0))


def test_every_test_has_an_importance_and_the_design_names_the_first_and_the_last() -> None:
    tests = real_catalogue().tests
    vital = {code for code, test in tests.items() if test.importance is Importance.VITAL}
    later = {code for code, test in tests.items() if test.importance is Importance.LATER}
    assert {"TS", "XM", "VBG", "GLU", "POT"} <= vital
    assert {"ZN", "CU", "SE", "PB", "VITA"} <= later
