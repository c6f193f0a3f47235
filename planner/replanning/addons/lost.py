"""Add-ons of earlier revisions whose tube was not drawn after all: a person decides what becomes of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from planner.domain.plan import Reason, Unplanned, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.replan import AddOn, Past


@dataclass(frozen=True, slots=True, kw_only=True)
class StillAdded:
    """The add-ons that still stand, and the list of orders set aside, in which the others ask for a decision."""

    addons: tuple[AddOn, ...]
    set_aside: tuple[Unplanned, ...]


def still_added(problem: Problem, past: Iterable[Past], addons: Iterable[AddOn]) -> StillAdded:
    """Return which add-ons still have their tube.

    A tube is gone when its visit was told otherwise than assumed, or when an order of it is drawn in part or again.
    An add-on that was cancelled since is left out.
    """
    reasons = {item.order_id: item.reason for item in problem.set_aside}
    wanted = [addon for addon in addons if reasons.get(addon.order_id) is Reason.ADD_ON]
    visits = [stop for one in past for stop in one.stops if isinstance(stop, Visit)]
    lost = {addon.order_id: addon for addon in wanted if not _has_tube(addon, visits)}
    return StillAdded(
        addons=tuple(addon for addon in wanted if addon.order_id not in lost),
        set_aside=tuple(
            _to_decide(problem, item, lost[item.order_id]) if item.order_id in lost else item
            for item in problem.set_aside
        ),
    )


def _has_tube(addon: AddOn, visits: Sequence[Visit]) -> bool:
    return any(
        planned.tube.draw_position == addon.draw_position and not set(planned.tube.order_ids) & set(visit.tried)
        for visit in visits
        if visit.draw_id == addon.draw_id
        for planned in visit.tubes
    )


def _to_decide(problem: Problem, item: Unplanned, addon: AddOn) -> Unplanned:
    drawn = problem.clock.format_clock(addon.drawn_s)
    detail = (
        f"it was to be added to the {addon.tube} tube of {drawn}, which was not drawn after all or is drawn again; "
        "tell the laboratory, and order it again if it is still needed"
    )
    return replace(item, reason=Reason.ADD_ON_LOST, detail=detail)
