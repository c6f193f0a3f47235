"""Whether somebody could make one visit if there were no other."""

from __future__ import annotations

from collections.abc import Sequence

from planner.domain.draws import Draw
from planner.domain.problem import Problem
from planner.scheduling.rounds.numbers import build_instance
from planner.scheduling.timing.instance import Instance


def made_alone(instance: Instance, index: int) -> bool:
    """Return whether somebody could make this one visit, with its hand-overs, if there were no other."""
    from planner.scheduling.timing.kernel import is_made_alone

    return is_made_alone(instance.rules, index)


def draws_made_alone(problem: Problem, draws: Sequence[Draw]) -> list[bool]:
    """Return of each draw whether somebody could make it if there were no other."""
    instance = build_instance(problem, draws)
    return [made_alone(instance, index) for index in range(len(draws))]
