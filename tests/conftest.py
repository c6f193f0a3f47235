"""Fixtures that several test modules share, and which rooms of tests are slow."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.domain.problem import Problem
from tests.builders import make_problem

SLOW_ROOMS = ("end_to_end", "fuzz", "property")
"""Rooms in which every test plans, prints or damages for long; elsewhere whatever takes over 0.2 s is marked itself."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark the tests of slow rooms as slow."""
    rooms = {Path(__file__).parent / name for name in SLOW_ROOMS}
    for item in items:
        if not rooms.isdisjoint(item.path.parents):
            item.add_marker(pytest.mark.slow)


@pytest.fixture
def four_bed_round() -> Problem:
    """Four adults in four beds on one corridor, a full blood count each, one collector from 05:00 to 09:00."""
    return make_problem()
