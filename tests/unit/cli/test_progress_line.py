"""The line that tells how far the search is: every goal count, bounds and proofs, nothing off a terminal."""

from __future__ import annotations

import io
import sys

import pytest

from planner.cli.console import ProgressLine
from planner.scheduling.timing.solution import GOALS


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def told(monkeypatch: pytest.MonkeyPatch, stream: io.StringIO, **amounts: tuple[int, int]) -> str:
    """Return what the line shows of goals given as (value, bound); the others are 0."""
    monkeypatch.setattr(sys, "stderr", stream)
    pairs = [amounts.get(name, (0, 0)) for name, _unit in GOALS]
    ProgressLine()("search", [value for value, _bound in pairs], [bound for _value, bound in pairs])
    return stream.getvalue()


def test_value_is_shown_with_its_bound_and_marked_when_proven(monkeypatch: pytest.MonkeyPatch) -> None:
    line = told(monkeypatch, Terminal(), uncollected=(21, 17), late=(600, 600), time=(7200, 0))
    assert "left out weight 21 (>=17)" in line
    assert "late min 10!" in line
    assert "walk and wait min 120" in line
    assert len(line) <= 80


def test_nothing_is_shown_off_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    assert told(monkeypatch, io.StringIO(), uncollected=(21, 17)) == ""
