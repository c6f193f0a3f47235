"""Whether somebody could make one visit if there were no other: every way to make it is tried."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planner.domain.draws import Draw
from planner.domain.problem import Problem
from planner.scheduling.rounds.numbers import build_instance
from planner.scheduling.timing.instance import BREAK, Instance
from planner.scheduling.timing.timing import Stops, time_route


def made_alone(instance: Instance, index: int) -> bool:
    """Return whether somebody could make this one visit, with its hand-overs, if there were no other.

    Exact: a lone visit needs one hand-over, or one each for what may go by tube station and what may not. A break
    stands before any stop; behind the last one it is never owed (`CollectorData.owes_break`).
    """
    return any(
        time_route(instance, collector, stops) is not None
        for collector in sorted(instance.visits[index].able)
        for stops in _ways(instance, collector, index)
    )


def draws_made_alone(problem: Problem, draws: Sequence[Draw]) -> list[bool]:
    """Return of each draw whether somebody could make it if there were no other."""
    instance = build_instance(problem, draws)
    return [made_alone(instance, index) for index in range(len(draws))]


def _ways(instance: Instance, collector: int, index: int) -> Iterator[Stops]:
    """Yield the routes that hold one visit: its hand-overs behind it, and the break, if there is one, anywhere."""
    has_break = instance.collectors[collector].break_window is not None
    for stops in _with_handovers(instance, index):
        yield stops
        if has_break:
            yield from ((*stops[:gap], BREAK, *stops[gap:]) for gap in range(len(stops)))


def _with_handovers(instance: Instance, index: int) -> Iterator[Stops]:
    specimens, pickups = instance.visits[index].specimens, range(len(instance.pickups))
    if not specimens:
        yield (index,)
    yield from ((index, ~p) for p in pickups)
    if len(specimens) > 1:
        yield from ((index, ~p, ~q) for p in pickups for q in pickups if p != q)
