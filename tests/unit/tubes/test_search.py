"""The search in bare numbers: cheap exact case, first fit, bounds, and what happens when a limit stops the proof."""

from __future__ import annotations

import pytest

from planner.tubes import model
from planner.tubes.fewer import most_of_each_kind, most_of_each_size
from planner.tubes.greedy import first_fit
from planner.tubes.model import solve_sharing, unit_of
from planner.tubes.sharing import Bin, ItemClass, Kind, SharingProblem, load_ul, one_tube
from tests.unit.tubes.bedside import PARAMS, choose, make_catalogue, make_child, make_kind, make_patient, make_test

TWO_KINDS = SharingProblem(
    kinds=(Kind((2000, 3000)), Kind((2500,))),
    classes=(ItemClass((0, 1), 1000, 500, 2), ItemClass((None, 0), 1500, 500, 1)),
)
"""Two tests of 1.0 + 0.5 in either kind, one of 1.5 + 0.5 in the second only."""


def test_load_is_additions_and_the_largest_extra() -> None:
    # 0.5 + 0.5 + 0.5 and the largest extra, 1.5 - 0.5 = 1.0: 2.5 mL.
    assert load_ul(TWO_KINDS, (2, 1)) == 2500
    assert load_ul(TWO_KINDS, (2, 0)) == 1500
    assert load_ul(TWO_KINDS, (0, 0)) == 0


def test_one_tube_is_found_without_a_search() -> None:
    found = one_tube(TWO_KINDS)
    assert found is not None
    assert found.is_proven
    assert found.bins == (Bin(kind=1, size_ul=2500, volume_ul=2500, counts=(2, 1)),)


def test_no_single_tube_is_said() -> None:
    three = SharingProblem(TWO_KINDS.kinds, (ItemClass((0, 1), 1000, 500, 6),))
    # 3.0 + 0.5 = 3.5 mL is more than any size.
    assert one_tube(three) is None


def test_tube_filled_to_need_takes_the_need() -> None:
    problem = SharingProblem((Kind((4000, 10_000), to_need=True),), (ItemClass((0,), 3000, 500, 2),))
    found = one_tube(problem)
    assert found is not None
    assert found.bins == (Bin(kind=0, size_ul=4000, volume_ul=3500, counts=(2,)),)


def test_unit_divides_every_volume() -> None:
    # gcd of 2000, 3000, 2500, 1000, 500, 1500.
    assert unit_of(TWO_KINDS) == 500


def test_search_beats_first_fit() -> None:
    # One kind of 4 mL; tests that add what they need: 3, 2, 2, 1 would pack as (3, 1) (2, 2). First fit, largest
    # first, finds that; tests of 2, 1.5, 1.5, 1, 1, 1 (8 mL, two tubes of 4) it packs as (2, 1.5) (1.5, 1, 1) (1).
    problem = SharingProblem(
        (Kind((4000,)),),
        (ItemClass((0,), 2000, 2000, 1), ItemClass((0,), 1500, 1500, 2), ItemClass((0,), 1000, 1000, 3)),
    )
    assert len(first_fit(problem)) == 3
    found = solve_sharing(problem, PARAMS)
    assert (len(found.bins), found.is_proven) == (2, True)


def test_first_fit_is_kept_and_said_when_a_limit_stops_the_search(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(model.WORK_LIMIT, PARAMS.effort, 0.0)
    sizes = [1700, 1500, 1300, 1100, 900, 700, 500, 300]
    tests = [make_test(f"T{n}", "A;B", ul, ul - 100) for n, ul in enumerate(sizes)]
    catalogue = make_catalogue(tests, [make_kind("A", 2100, 2900), make_kind("B", 2300, 3100)])
    choice = choose(make_patient(), ", ".join(t.code for t in tests), catalogue=catalogue)
    (found,) = choice.tube_sets.values()
    assert not found.is_proven
    assert [f.code for f in choice.findings] == ["tube-set-not-proven"]
    assert {code for tube in found.tubes for code in tube.tests} == {t.code for t in tests}


def test_limited_search_that_is_stopped_stays_within_the_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(model.WORK_LIMIT, PARAMS.effort, 0.0)
    choice = choose(make_child(0, 3), "CBC, ESR, BMP, PROG, PT, TAC, CYA")
    drawn = [order_id for s in choice.tube_sets.values() for t in s.tubes for order_id in t.order_ids]
    assert sum(s.volume_ul for s in choice.tube_sets.values()) <= 2500
    assert sorted(drawn + [u.order_id for u in choice.postponed]) == [f"P1-{n:03d}" for n in range(1, 8)]


def test_tubes_that_could_be_one_are_left_out() -> None:
    # The example of `most_of_each_size`: sizes 0.5, 1.1, 3.5 mL, tests of 0.5 that add 0.1. Two of 0.5 (three need
    # 0.7, one of 1.1 does), three of 1.1 (four need 3.2, one of 3.5 does); 3.5: two need 6.6, no size does, so as
    # many as 10 mL fill, 2.
    problem = SharingProblem((Kind((500, 1100, 3500)),), (ItemClass((0,), 500, 100, 30),))
    assert most_of_each_size(problem, 10_000) == [[2, 3, 2]]
    assert most_of_each_kind(problem, [[2, 3, 2]]) == [7]


def test_test_class_that_fits_no_tube_is_refused() -> None:
    problem = SharingProblem((Kind((1000,)),), (ItemClass((0,), 1500, 500, 1),))
    with pytest.raises(ValueError, match="fits no tube"):
        first_fit(problem)
