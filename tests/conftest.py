"""Fixtures that several test modules share, and which rooms of tests are slow."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.domain.problem import Problem
from tests.builders import make_problem

SLOW_ROOMS = ("end_to_end", "fuzz", "property")
"""Rooms in which every test plans, prints or damages for long; elsewhere whatever takes over 0.2 s is marked itself."""


_FAST_LOOP = "not slow"
_SLOW_MODULE = "\npytestmark = pytest.mark.slow\n"


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Leave modules unread in which the fast loop would run nothing: reading them all takes longer than many tests."""
    if config.option.markexpr != _FAST_LOOP:
        return None
    if collection_path.is_dir():
        return True if collection_path in _slow_rooms() else None
    return True if collection_path.suffix == ".py" and _SLOW_MODULE in collection_path.read_text("utf-8") else None


def _slow_rooms() -> set[Path]:
    return {Path(__file__).parent / name for name in SLOW_ROOMS}


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark the tests of slow rooms as slow."""
    for item in items:
        if not _slow_rooms().isdisjoint(item.path.parents):
            item.add_marker(pytest.mark.slow)


@pytest.fixture
def four_bed_round() -> Problem:
    """Four adults in four beds on one corridor, a full blood count each, one collector from 05:00 to 09:00."""
    return make_problem()
