"""Every control of a severe hazard is taken out once, in a copy: its tests must notice.

Slow, so only the deep sweep runs it: ``HAZARD_REMOVALS=1 python -m pytest tests/hazards``.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from planner.loaders.catalogue.hazards import load_hazards
from tests.hazards.removal import Removal
from tests.hazards.removals import BY_ROOM, REMOVALS

ROOT = Path(__file__).parents[2]
SEVERE = {hazard.id for hazard in load_hazards() if hazard.severity >= 4 and hazard.tests}


def test_every_severe_hazard_has_a_removal() -> None:
    assert sorted(SEVERE - {name for removal in REMOVALS for name in removal.hazards}) == []


@pytest.mark.parametrize("room", BY_ROOM)
def test_removal_stands_with_those_of_its_room(room: str) -> None:
    rooms = {Path(removal.file).parts[1] for removal in BY_ROOM[room]}
    assert rooms.isdisjoint(BY_ROOM) if room == "rest" else rooms == {room}


@pytest.mark.parametrize("removal", REMOVALS, ids=lambda removal: "+".join(removal.hazards))
def test_what_is_taken_out_stands_once(removal: Removal) -> None:
    assert (ROOT / removal.file).read_text(encoding="utf-8").count(removal.before) == 1


@pytest.mark.slow
@pytest.mark.skipif("HAZARD_REMOVALS" not in os.environ, reason="deep sweep: set HAZARD_REMOVALS=1")
@pytest.mark.parametrize("removal", REMOVALS, ids=lambda removal: "+".join(removal.hazards))
def test_a_test_notices_that_the_control_is_gone(removal: Removal, tmp_path_factory: pytest.TempPathFactory) -> None:
    # The same path each time: compiled code is kept by the path and time of its source, and copied files keep theirs.
    tmp_path = tmp_path_factory.getbasetemp() / "without"
    shutil.rmtree(tmp_path, ignore_errors=True)
    for name in ("planner", "tests", "inputs"):
        shutil.copytree(ROOT / name, tmp_path / name, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    changed = tmp_path / removal.file
    text = changed.read_text(encoding="utf-8")
    changed.write_text(text.replace(removal.before, removal.after), encoding="utf-8")
    tests = {test for hazard in load_hazards() if hazard.id in removal.hazards for test in hazard.tests}
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", *sorted(removal.tests or tests)],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(tmp_path)},
        capture_output=True,
        text=True,
        check=False,
    )
    # 1: tests ran and some failed. Anything else (nothing collected, a usage error) proves nothing.
    assert done.returncode == 1, done.stdout[-2000:] + done.stderr[-2000:]
