"""The references themselves: rounds that a loader would take, and the quick brute force against the plain one."""

from __future__ import annotations

import pytest

from tests.reference import brute_force, exhaust
from tests.reference.tiny import TinyRound, random_round, with_trays


def test_every_break_lies_within_its_shift_and_fits_into_its_span() -> None:
    # A loader refuses a break that does not lie within the shift (`break-outside-shift`): none is asked of the planner.
    people = [(seed, person) for seed in range(4000) for person in random_round(seed, max_visits=2).people]
    rests = [(seed, who, who.rest) for seed, who in people if who.rest is not None]
    assert len(rests) > 500
    assert [seed for seed, who, (first_s, _last_s) in rests if first_s < who.from_s] == []
    assert [seed for seed, who, (_first_s, last_s) in rests if last_s > who.until_s] == []
    assert [seed for seed, who, (first_s, last_s) in rests if last_s - first_s < who.rest_s] == []


def _plain(tiny: TinyRound) -> tuple[int, ...] | None:
    try:
        return brute_force.optimum(tiny)
    except LookupError:
        return None


def _quick(tiny: TinyRound) -> tuple[int, ...] | None:
    try:
        return exhaust.optimum(tiny, work_limit=100_000_000)
    except LookupError:
        return None


@pytest.mark.parametrize("num_beds, seeds", [(3, range(120)), (4, range(5000, 5040))])
def test_curves_of_guesses_lose_nothing(num_beds: int, seeds: range) -> None:
    """The plain brute force leaves nothing out while limited tubes are held; the quick one must find as good."""
    rounds = {seed: random_round(seed, num_beds) for seed in seeds}
    assert [seed for seed, tiny in rounds.items() if _plain(tiny) != _quick(tiny)] == []


def test_curves_of_guesses_lose_nothing_with_trays() -> None:
    rounds = {seed: with_trays(random_round(seed, 2), seed) for seed in range(6000, 6060)}
    assert [seed for seed, tiny in rounds.items() if _plain(tiny) != _quick(tiny)] == []


def test_too_much_work_is_said_and_not_done() -> None:
    with pytest.raises(exhaust.TooMuchWorkError):
        exhaust.optimum(random_round(0, 4), work_limit=500)
