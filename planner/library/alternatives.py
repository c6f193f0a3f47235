"""Other plans for the same news: the fewest changes, the least lateness, the least effort, where they differ.

Each is searched as wished (`planner.domain.wishes`), and counted and checked with the site's own prices. What a plan is
called is read off the plans that were found, not off the wish: the one with the fewest changes is just that.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path

from planner.domain.goals import Part
from planner.domain.orders import OrderId
from planner.domain.plan import Plan
from planner.domain.problem import Problem
from planner.domain.revisions.stop_changes import ChangeKind, stop_changes
from planner.domain.wishes import Wish
from planner.errors import RequestError
from planner.library.news import News
from planner.library.planning import RoundPlan
from planner.library.replanning import Begun, begin
from planner.loaders.policy.prices import Prices
from planner.pipeline import Listener


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternative:
    """One of the plans to choose from, and what it comes to.

    ``names`` say in what it is the best of those offered. ``left_out`` is the weight of orders not planned, ``late``
    weighted seconds, ``late_orders`` the orders that are late and by how many seconds, the latest first; ``walking_s``
    walking and waiting of all, ``finish_s`` seconds after midnight.
    """

    names: tuple[str, ...]
    made: RoundPlan = field(repr=False)
    moved: int
    left_out: int
    late: int
    walking_s: int
    finish_s: int
    late_orders: tuple[tuple[OrderId, int], ...] = ()

    @property
    def to_decide(self) -> int:
        """How many orders are left for a person to decide."""
        return sum(order.reason.needs_decision for order in self.made.left_out)


def alternatives(
    out: str | Path,
    now: str,
    news: News,
    *,
    undo: bool = False,
    apply_rest: bool = False,
    effort: str = "quick",
    seed: int = 1,
    prices: Prices = (),
    accept_edited: bool = False,
    listener: Listener = lambda _stage, _values, _bounds: None,
) -> tuple[Alternative, ...]:
    """Return up to three plans to choose from for the same news; `planner.write` with one's ``made`` writes it.

    Parameters
    ----------
    out, now, news, undo, apply_rest, effort, seed, prices, accept_edited, listener
        As `planner.replan`.

    Raises
    ------
    NotUnderstoodError, RequestError, InputError, PlanFileError, CheckRefusedError
        As `planner.replan`.
    """
    begun = begin(out, now, news, undo=undo, effort=effort, seed=seed, prices=prices, accept_edited=accept_edited)
    return tuple(
        replace(one, made=replace(one.made, digest=begun.digest.taking(number)))
        for number, one in enumerate(offered(begun, listener, apply_rest=apply_rest), start=1)
    )


def offered(begun: Begun, listener: Listener, *, apply_rest: bool = False) -> tuple[Alternative, ...]:
    """Return up to three plans that differ, the one with the fewest changes first; always the same ones.

    Raises
    ------
    NotUnderstoodError, CheckRefusedError
        As `planner.replan`.
    """
    following = begun.following(apply_rest=apply_rest)
    searched = [begun.found(following, listener, wish) for wish in (None, *Wish)]
    was_interrupted = any(made.was_interrupted for made in searched)
    hit_wall_guard = any(made.hit_wall_guard for made in searched)
    # a number in the list is that of the same plan again only if every search ran to its end
    found = [
        _alternative(replace(made, was_interrupted=was_interrupted, hit_wall_guard=hit_wall_guard)) for made in searched
    ]
    best: dict[int, list[str]] = {}
    for name, key in _BEST.items():
        best.setdefault(min(range(len(found)), key=lambda n: (key(found[n]), n)), []).append(name)
    chosen: list[Alternative] = []
    for n, names in best.items():
        same = next((k for k, one in enumerate(chosen) if _stops(one.made.plan) == _stops(found[n].made.plan)), None)
        if same is None:
            chosen.append(replace(found[n], names=tuple(names)))
        else:
            chosen[same] = replace(chosen[same], names=(*chosen[same].names, *names))
    return tuple(chosen)


def taken(shown: tuple[Alternative, ...], number: int, list_of: Callable[[], str]) -> Alternative:
    """Return an alternative by its number in the list, from 1.

    Raises
    ------
    RequestError
        If there is none of that number; it holds the list.
    """
    if not 1 <= number <= len(shown):
        raise RequestError(
            f"--take {number}: there is no such alternative; nothing was written. There are:\n{list_of()}"
        )
    return shown[number - 1]


_BEST: dict[str, Callable[[Alternative], tuple[int, ...]]] = {
    "fewest changes": lambda one: (one.left_out, one.moved, one.late, one.walking_s),
    "least late": lambda one: (one.left_out, one.late, one.moved, one.walking_s),
    "least effort": lambda one: (one.left_out, one.walking_s, one.late, one.moved),
}


def _alternative(made: RoundPlan) -> Alternative:
    coming = (v for route in made.plan.routes for v in route.visits if v.outcome is None)
    drawn = ((o, v.draw_s, made.windows[o].target_s) for v in coming for o in v.order_ids if o in made.windows)
    late = [(o, draw_s - target_s) for o, draw_s, target_s in drawn if target_s is not None and draw_s > target_s]
    return Alternative(
        names=(),
        made=made,
        moved=sum(change.kind is ChangeKind.MOVED for change in stop_changes(made.problem, made.plan)),
        left_out=made.plan.part(Part.UNCOLLECTED).value,
        late=made.plan.part(Part.LATE).value,
        walking_s=made.plan.part(Part.TIME).value,
        finish_s=_finish_s(made.problem, made.plan),
        late_orders=tuple(sorted(late, key=lambda one: (-one[1], one[0]))),
    )


def _finish_s(problem: Problem, plan: Plan) -> int:
    return max((stop.depart_s for route in plan.routes for stop in route.stops), default=problem.start_s)


def _stops(plan: Plan) -> set[tuple[int, tuple[str, ...]]]:
    """Return who makes which visits in which order: plans that are alike in this are one."""
    return {(route.phlebotomist, tuple(visit.draw_id for visit in route.visits)) for route in plan.routes}
