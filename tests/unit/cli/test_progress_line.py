"""The line that tells how far the search is: every tier's count, bounds and proofs, nothing off a terminal."""

from __future__ import annotations

import io
import sys

import pytest

from planner.cli.console import ProgressLine
from planner.domain.goals import Tier


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def told(monkeypatch: pytest.MonkeyPatch, stream: io.StringIO, **amounts: tuple[int, int]) -> str:
    """Return what the line shows of tiers given as (value, bound); the others are 0."""
    monkeypatch.setattr(sys, "stderr", stream)
    pairs = [amounts.get(tier.name.lower(), (0, 0)) for tier in Tier]
    ProgressLine()("search", [value for value, _bound in pairs], [bound for _value, bound in pairs])
    return stream.getvalue()


def test_value_is_shown_with_its_bound_and_marked_when_proven(monkeypatch: pytest.MonkeyPatch) -> None:
    line = told(monkeypatch, Terminal(), left_out=(21, 17), service=(600, 600), effort=(720_000, 0))
    assert "left out weight 21 (>=17)" in line
    assert "service min 10!" in line
    assert "effort min 120" in line
    assert len(line) <= 80


def test_nothing_is_shown_off_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    assert told(monkeypatch, io.StringIO(), left_out=(21, 17)) == ""
