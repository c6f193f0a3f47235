"""Single changes of a price or a limit that give a person another share of the visits, found by planning again."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from planner.domain.derived.shares import shares
from planner.domain.prices import price_name, price_words
from planner.domain.problem import Problem
from planner.domain.settings import MOST_OF_A_PRICE_S
from planner.errors import CheckRefusedError
from planner.pipeline import plan_round
from planner.solving.params import SolveParams

_PRICES = {
    "share": (10, 0),
    "ward_change_s": (0, MOST_OF_A_PRICE_S),
    "isolation_s": (0,),
    "other_ward_s": (0, MOST_OF_A_PRICE_S),
}
"""Prices that shape who gets what, and the ends of their range that are tried."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareTry:
    """A change in words, and how many visits the person then has; ``before``: the same search without the change."""

    words: str
    num_visits: int
    before: int


def share_tries(
    problem: Problem, person: int, params: SolveParams, on_try: Callable[[str], None] = lambda _words: None
) -> Iterator[ShareTry]:
    """Yield the changes that give a person another number of visits to come.

    Each is planned again with the same work as the round unchanged, so that a difference is not one of effort, and
    the independent checker has passed the plan. A number of visits is only what that plan has.
    """
    before = _num_visits(problem, person, params)
    if before is None:
        return
    for words, changed in _changes(problem, person):
        on_try(words)
        number = _num_visits(changed, person, params)
        if number is not None and number != before:
            yield ShareTry(words=words, num_visits=number, before=before)


def _num_visits(problem: Problem, person: int, params: SolveParams) -> int | None:
    try:
        planned = plan_round(problem, params)
    except CheckRefusedError:
        return None
    return len(shares(problem, planned.plan, planned.windows)[person].visits)


def _changes(problem: Problem, person: int) -> Iterator[tuple[str, Problem]]:
    """Yield each change in words, and the round with it: prices first, then what limits the person."""
    prices, who = problem.policy.prices, problem.staff[person]
    for field, values in _PRICES.items():
        for value in values:
            if value != getattr(prices, field) and (field != "other_ward_s" or any(p.prefers for p in problem.staff)):
                policy = replace(problem.policy, prices=replace(prices, **{field: value}))
                now = price_words(field, getattr(prices, field))
                yield (
                    f"price {price_name(field)} {price_words(field, value)} in place of {now}",
                    replace(problem, policy=policy),
                )
    freed = []
    if who.wards:
        freed.append(("all wards", replace(who, wards=frozenset())))
    skills = frozenset(skill for patient in problem.patients.values() for skill in patient.needs)
    if not skills <= who.skills:
        freed.append(("all skills", replace(who, skills=who.skills | skills)))
    if who.from_s > problem.start_s or who.until_s < problem.end_s:
        clock = problem.clock
        span = f"a shift from {clock.format_clock(problem.start_s)} to {clock.format_clock(problem.end_s)}"
        freed.append((span, replace(who, from_s=problem.start_s, until_s=problem.end_s)))
    for words, other in freed:
        staff = (*problem.staff[:person], other, *problem.staff[person + 1 :])
        yield f"{words} for {who.initials}", replace(problem, staff=staff)
