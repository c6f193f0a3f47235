"""Fixtures that several test modules share."""

from __future__ import annotations

import pytest

from planner.domain.problem import Problem
from tests.builders import make_problem


@pytest.fixture
def four_bed_round() -> Problem:
    """Four adults in four beds on one corridor, a full blood count each, one collector from 05:00 to 09:00."""
    return make_problem()
