"""Plans to choose from: they differ, each is what it is called, the list is the same every time, one can be taken."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

import planner
from planner.domain.revisions.stop_changes import ChangeKind, stop_changes
from planner.library.alternatives import Alternative, alternatives
from planner.library.replanning import Begun, begin
from tests.three_wards import three_ward_tables, write_tables

NEWS = planner.News(stat=["Kite (South) 1A:POT", "Heron 1B:LACT"], refused=["Rail, East 2B"])
NOW = "05:40"


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("three")
    loaded = planner.load(write_tables(three_ward_tables(), folder / "three-wards"))
    planner.write(planner.plan(loaded, effort="quick"), folder / "out")
    return folder / "out"


def begun(out: Path, take: int | None = None) -> Begun:
    return begin(out, NOW, NEWS, take=take)


def offered(out: Path) -> tuple[Alternative, ...]:
    return alternatives(begun(out), lambda _stage, _values, _bounds: None)


def stops(one: planner.RoundPlan) -> set[tuple[int, tuple[str, ...]]]:
    return {(r.phlebotomist, tuple(v.draw_id for v in r.visits)) for r in one.plan.routes}


def test_alternatives_differ_and_are_what_they_are_called(first: Path) -> None:
    found = offered(first)
    assert 1 <= len(found) <= 3
    assert [name for one in found for name in one.names].count("least late") == 1
    named = {name: one for one in found for name in one.names}
    assert set(named) == {"fewest changes", "least late", "least effort"}
    assert len({frozenset(stops(one.made)) for one in found}) == len(found)
    usual = begun(first).planned(apply_rest=False, listener=lambda _stage, _values, _bounds: None)
    moved = sum(change.kind is ChangeKind.MOVED for change in stop_changes(usual.problem, usual.plan))
    value = {goal.name: goal.value for goal in usual.plan.goals}
    left = {one.left_out for one in found}
    if left == {value["uncollected"]}:
        assert named["fewest changes"].moved <= moved
        assert named["least late"].late <= value["late"]
        assert named["least effort"].walking_s <= value["time"]
    # The prices of the site stay those of the round, whatever a plan was searched with.
    assert all(one.made.problem.policy == usual.problem.policy for one in found)


def test_list_is_the_same_every_time(first: Path) -> None:
    assert [(one.names, one.moved, stops(one.made)) for one in offered(first)] == [
        (one.names, one.moved, stops(one.made)) for one in offered(first)
    ]


def test_one_is_taken_by_its_number_and_others_are_refused_with_the_list(first: Path, tmp_path: Path) -> None:
    from planner.cli.alternatives import alternative_taken

    out = Path(shutil.copytree(first, tmp_path / "out"))
    expected = offered(out)[-1]
    asked = begun(out, take=len(offered(out)))
    made = alternative_taken(asked, len(offered(out)), lambda _stage, _values, _bounds: None, apply_rest=False)
    assert stops(made) == stops(expected.made)
    planner.write(made, out)
    assert [f for f in planner.check(out).findings if f.severity is planner.Severity.ERROR] == []
    with pytest.raises(planner.RequestError, match="1 fewest changes") as refused:
        alternative_taken(begun(first, take=9), 9, lambda _stage, _values, _bounds: None, apply_rest=False)
    assert "--take 9" in str(refused.value)
