"""What happened stays: the past of a revision is found in the next one as it was, unless it was only assumed.

An assumed visit stays too, but for a stat draw, which is never assumed, and one that was only under way.
"""

from __future__ import annotations

from dataclasses import replace

from planner.domain.orders import Priority
from planner.domain.plan import Stop, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.events import PhlebotomistNeverCame
from planner.domain.revisions.replan import Past


def past_faults(before: Problem, after: Problem) -> list[str]:
    """Return what of a revision's past is not in the next one's."""
    if before.replan is None or after.replan is None:
        return []
    faults = []
    absent = {e.what.phlebotomist for e in after.replan.log if isinstance(e.what, PhlebotomistNeverCame)}
    for old, new in zip(before.replan.past, after.replan.past, strict=False):
        if old.phlebotomist in absent:  # of whom nothing was reported, and who has made nothing
            continue
        left = list(new.stops)
        for n, stop in enumerate(old.stops):
            if n in old.assumed:
                if (
                    isinstance(stop, Visit)
                    and not _may_go(before, stop)
                    and stop.draw_id not in {s.draw_id for s in new.stops if isinstance(s, Visit)}
                ):
                    faults.append(f"person {old.phlebotomist}: assumed visit {stop.draw_id} is gone")
                continue
            index = next((i for i, other in enumerate(left) if _is_same(stop, other, old, new)), None)
            if index is None:
                faults.append(f"person {old.phlebotomist}, stop {n}: changed, or out of its order")
            else:
                left = left[index + 1 :]
        is_whole = not any(
            isinstance(s, Visit) and _may_go(before, s) for n, s in enumerate(old.stops) if n in old.assumed
        )
        if (
            is_whole
            and old.assumed == new.assumed & frozenset(range(len(old.stops)))
            and not all(_is_same(a, b, old, new) for a, b in zip(old.stops, new.stops, strict=False))
        ):
            faults.append(f"person {old.phlebotomist}: nothing was corrected, and the past is not a prefix")
    return faults


def _may_go(before: Problem, visit: Visit) -> bool:
    """Return whether an assumed visit may be still to come in the next revision."""
    assert before.replan is not None
    stat = {order.id for order in before.orders if order.priority is Priority.STAT}
    return bool(stat & set(visit.order_ids)) or visit.depart_s > before.replan.now_s


def _is_same(stop: Stop, other: Stop, old: Past, new: Past) -> bool:
    """Return whether two stops are one: a tube in the tray may have been given away since, an other one went there.

    A stay may have been shorter than it was calculated: a draw elsewhere has been reported since.
    """
    if stop.start_s <= other.depart_s <= stop.depart_s:
        other = replace(other, depart_s=stop.depart_s)
    if not isinstance(stop, Visit) or not isinstance(other, Visit):
        return stop == other
    if len(stop.tubes) != len(other.tubes):
        return False
    tubes = tuple(
        replace(b, handover=a.handover)
        if a.handover is None or (b.handover is not None and old.stops[a.handover].place == new.stops[b.handover].place)
        else b
        for a, b in zip(stop.tubes, other.tubes, strict=True)
    )
    return stop == replace(other, tubes=tubes)
