"""Every control of a severe hazard is taken out once, in a copy: its tests must notice.

Slow, so only the deep sweep runs it: ``HAZARD_REMOVALS=1 python -m pytest tests/hazards``.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from planner.loaders.catalogue.hazards import load_hazards
from tests.hazards.removal import Removal
from tests.hazards.removals import BY_ROOM, REMOVALS
from tests.hazards.without import Without

ROOT = Path(__file__).parents[2]
SEVERE = {hazard.id for hazard in load_hazards() if hazard.severity >= 4 and hazard.tests}

deep = pytest.mark.skipif("HAZARD_REMOVALS" not in os.environ, reason="deep sweep: set HAZARD_REMOVALS=1")


def _name(removal: Removal) -> str:
    return "+".join(removal.hazards)


def test_every_severe_hazard_has_a_removal() -> None:
    assert sorted(SEVERE - {name for removal in REMOVALS for name in removal.hazards}) == []


@pytest.mark.parametrize("room", BY_ROOM)
def test_removal_stands_with_those_of_its_room(room: str) -> None:
    rooms = {Path(removal.file).parts[1] for removal in BY_ROOM[room]}
    assert rooms.isdisjoint(BY_ROOM) if room == "rest" else rooms == {room}


@pytest.mark.parametrize("removal", REMOVALS, ids=_name)
def test_what_is_taken_out_stands_once(removal: Removal) -> None:
    assert (ROOT / removal.file).read_text(encoding="utf-8").count(removal.before) == 1


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the program and its tests, which one control after another is taken out of."""
    copy = tmp_path_factory.mktemp("without")
    for name in ("planner", "tests", "inputs"):
        shutil.copytree(ROOT / name, copy / name, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", copy)
    return copy


@pytest.fixture(scope="module")
def without(copy: Path) -> Iterator[Without]:
    without = Without(copy)
    yield without
    without.close()


def _tests(removal: Removal) -> set[str]:
    rows = {test for hazard in load_hazards() if hazard.id in removal.hazards for test in hazard.tests}
    return set(removal.tests) or rows


@pytest.mark.slow
@deep
def test_all_controls_are_there_in_the_copy(without: Without) -> None:
    code, printed = without.run(set().union(*map(_tests, REMOVALS)))
    assert code == pytest.ExitCode.OK, printed[-4000:]


@pytest.mark.slow
@deep
@pytest.mark.parametrize("removal", REMOVALS, ids=_name)
def test_a_test_notices_that_the_control_is_gone(removal: Removal, copy: Path, without: Without) -> None:
    changed = copy / removal.file
    times, text = changed.stat(), changed.read_text(encoding="utf-8")
    changed.write_text(text.replace(removal.before, removal.after), encoding="utf-8")
    number = REMOVALS.index(removal)
    os.utime(changed, (number, number))  # Python knows by it that what it compiled before is of another text
    try:
        code, printed = without.run(_tests(removal))
    finally:
        changed.write_text(text, encoding="utf-8")
        os.utime(changed, ns=(times.st_atime_ns, times.st_mtime_ns))
    # Tests ran and some failed. Anything else (nothing collected, a usage error) proves nothing.
    assert code == pytest.ExitCode.TESTS_FAILED, printed[-4000:]
