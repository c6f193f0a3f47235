"""Plans to choose from: they differ, each is what it is called, the list is the same every time, one can be taken."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

import planner
from planner.cli.alternatives import alternative_data, alternative_lines
from planner.cli.exit_codes import ExitCode
from planner.domain.goals import Part
from planner.domain.revisions.stop_changes import ChangeKind, stop_changes
from planner.domain.wishes import Wish
from planner.library.alternatives import Alternative
from planner.library.alternatives import offered as offered_by
from planner.library.replanning import Begun, Following, begin
from planner.library.writing import options_of
from planner.pipeline import Listener
from tests.helpers import planner as command
from tests.three_wards import three_ward_tables, write_tables

pytestmark = pytest.mark.slow

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
    return offered_by(begun(out), lambda _stage, _values, _bounds: None)


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
    value = {part: usual.plan.part(part).value for part in (Part.UNCOLLECTED, Part.LATE, Part.TIME)}
    left = {one.left_out for one in found}
    if left == {value[Part.UNCOLLECTED]}:
        assert named["fewest changes"].moved <= moved
        assert named["least late"].late <= value[Part.LATE]
        assert named["least effort"].walking_s <= value[Part.TIME]
    # The prices of the site stay those of the round, whatever a plan was searched with.
    assert all(one.made.problem.policy == usual.problem.policy for one in found)


def test_each_late_order_is_named_with_its_bed(first: Path) -> None:
    for one in offered(first):
        problem, windows = one.made.problem, one.made.windows
        coming = [v for r in one.made.plan.routes for v in r.visits if v.outcome is None]
        targets = {o: target_s for o, window in windows.items() if (target_s := window.target_s) is not None}
        late = {o: v.draw_s - targets[o] for v in coming for o in v.order_ids if v.draw_s > targets.get(o, v.draw_s)}
        assert dict(one.late_orders) == late
        number = len(problem.orders)
        ids = [order.id for order in problem.orders]
        for few in (ids[:1], ids[:3], ids):
            said = alternative_lines([replace(one, late_orders=tuple((o, 1680) for o in few))], 400)[0]
            for order_id in few[:3]:
                bed = problem.place_name(problem.patient_of(problem.order(order_id)).bed)
                assert f"{order_id} at bed {bed} by 28 min" in said
        assert f"; {number - 3} more)" in said
        assert "1 order late (" in alternative_lines([replace(one, late_orders=((ids[0], 20),))], 400)[0]
        assert "by under 1 min" in alternative_lines([replace(one, late_orders=((ids[0], 20),))], 400)[0]
        assert "none late" in alternative_lines([replace(one, late_orders=())], 400)[0]


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


def test_programs_get_the_same_list_and_writing_one_is_taking_it(first: Path, tmp_path: Path) -> None:
    out = Path(shutil.copytree(first, tmp_path / "out"))
    shown = planner.alternatives(out, NOW, NEWS)
    assert [(one.names, stops(one.made)) for one in shown] == [(one.names, stops(one.made)) for one in offered(first)]
    planner.write(shown[-1].made, out)
    assert begun(out, take=len(shown)).already(options_of("quick", 1, "a4")) is not None
    assert begun(out).already(options_of("quick", 1, "a4")) is None


def test_data_of_the_list_says_what_is_left_out_and_to_decide(first: Path) -> None:
    shown = offered(first)
    for one, data in zip(shown, alternative_data(shown), strict=True):
        undecided = [order for order in one.made.plan.unplanned if order.reason.needs_decision]
        assert (data["left_out_weight"], data["to_decide"]) == (one.left_out, len(undecided))
        assert undecided  # a refusal


def test_one_that_is_taken_says_that_a_search_beside_it_was_stopped(
    first: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    search = Begun.found

    def found(self: Begun, following: Following, listener: Listener, wish: Wish | None = None) -> planner.RoundPlan:
        return replace(search(self, following, listener, wish), hit_wall_guard=wish is list(Wish)[-1])

    monkeypatch.setattr(Begun, "found", found)
    assert [one.made.is_whole for one in offered(first)] == [False] * len(offered(first))


def test_take_and_alternatives_together_are_refused(first: Path) -> None:
    done = command("replan", str(first), "--now", NOW, "--alternatives", "--take", "1", cwd=first)
    assert done.returncode == ExitCode.USAGE
    assert "--take" in done.stderr
