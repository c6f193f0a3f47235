"""Sets of seconds: compared with sets of seconds."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.domain.orders import TimeWindow
from planner.visits.spans import Windows, clip, cut, intersect, shift

_PAIRS = st.lists(st.tuples(st.integers(0, 30), st.integers(0, 8)), max_size=4)


def _windows(pairs: list[tuple[int, int]]) -> Windows:
    """Return disjoint ascending windows made from (gap, length) pairs."""
    made, at_s = [], 0
    for gap, length in pairs:
        made.append(TimeWindow(earliest_s=at_s + gap, latest_s=at_s + gap + length))
        at_s += gap + length + 2
    return tuple(made)


def _seconds(windows: Windows) -> set[int]:
    return {s for w in windows for s in range(w.earliest_s, w.latest_s + 1)}


@pytest.mark.slow
@settings(max_examples=200, deadline=None)
@given(_PAIRS, _PAIRS, st.integers(-5, 60), st.integers(-5, 60))
def test_spans_do_what_sets_do(first: list, second: list, a_s: int, b_s: int) -> None:
    one, other = _windows(first), _windows(second)
    assert _seconds(intersect(one, other)) == _seconds(one) & _seconds(other)
    assert _seconds(clip(one, a_s, b_s)) == {s for s in _seconds(one) if a_s <= s <= b_s}
    assert _seconds(cut(one, [(a_s, b_s)])) == _seconds(one) - set(range(a_s, b_s))
    assert _seconds(shift(one, a_s)) == {s + a_s for s in _seconds(one)}
    for result in (intersect(one, other), cut(one, [(a_s, b_s)])):
        assert all(x.latest_s < y.earliest_s for x, y in pairwise(result))
