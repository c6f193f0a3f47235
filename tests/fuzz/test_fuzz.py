"""A few hundred damaged inputs over all doors; ``FUZZ_CASES`` and ``FUZZ_SEED`` try others (tests/README.md)."""

from __future__ import annotations

import copy
import os

import pytest

from tests.fuzz.doors import DOORS
from tests.fuzz.run import run
from tests.unit.loaders.messages.fhir.ward import WARD

CASES = int(os.environ.get("FUZZ_CASES", "360"))
SEED = int(os.environ.get("FUZZ_SEED", "18"))


@pytest.mark.parametrize("door", DOORS)
def test_door_holds(door: str) -> None:
    tally = run(max(1, CASES // len(DOORS)), SEED, (door,))[door]
    assert tally.tried > 0
    assert not tally.fell, "\n".join(tally.fell[:20])


def test_a_case_leaves_nothing_to_the_next() -> None:
    """Case n of a seed is the same whatever else is tried, so that it can be repeated alone."""
    before = copy.deepcopy(WARD)
    run(30, SEED, ("FHIR",))
    assert before == WARD
