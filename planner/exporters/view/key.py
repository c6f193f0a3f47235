"""Leaves in a legend what stands on its sheet: tubes that are drawn, tests that are named."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from planner.exporters.view.rows import DecisionLine, LateLine, TestKey, TubeKey


def tubes_named(keys: Iterable[TubeKey], names: Iterable[str]) -> tuple[TubeKey, ...]:
    """Return the entries of these containers; ``names`` may add a site: 'Aerobic culture bottle, site 2'."""
    drawn = {name.partition(", site ")[0] for name in names}
    return tuple(key for key in keys if key.name in drawn)


def tests_named(
    keys: Iterable[TestKey], drawn: Iterable[str], left: Sequence[DecisionLine], late: Sequence[LateLine]
) -> tuple[TestKey, ...]:
    """Return the entries of the tests in the tubes (``drawn``: 'BMP, CRP'), and of the orders left out or late."""
    named = {code for tests in (*drawn, *(line.tests for line in left)) for code in tests.split(", ")}
    named |= {word.rstrip(",") for line in late for word in line.orders.split()}
    return tuple(key for key in keys if key.code in named)
