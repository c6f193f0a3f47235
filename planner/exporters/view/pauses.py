"""Compares the hand-overs and the break of a route to come with those of the last sheet, for the change note."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planner.domain.places import PickupKind, PlaceId
from planner.domain.plan import Handover, Route, Stop, Visit
from planner.domain.revisions.replan import PromisedPause
from planner.exporters.view.context import ViewContext

_Pause = tuple[int, PlaceId, PickupKind | None]
"""Visits to come before it, the place, how specimens leave there (None: a break)."""


def pause_words(context: ViewContext, route: Route) -> str:
    """Return what of a route's hand-overs and break is not as on the last sheet; empty when all is."""
    was = [(p.num_before, p.place, p.kind) for p in _promised(context, route)]
    now = _pauses(route.stops[context.num_past(route) :])
    if was == now:
        return ""
    if [p for p in was if p[2] is not None] == [p for p in now if p[2] is not None]:
        return "your break changes"
    coming = [stop for stop in route.stops[context.num_past(route) :] if isinstance(stop, Handover)]
    said = [f"{context.place(stop.place)} at {context.clock(stop.start_s)}" for stop in coming]
    return f"your hand-overs change: now {'; '.join(said)}" if said else "you have no hand-over to come"


def courier_words(context: ViewContext, route: Route) -> Iterator[str]:
    """Yield a sentence for each hand-over to come that is for another courier than the last sheet says."""
    coming = [s for s in route.stops[context.num_past(route) :] if isinstance(s, Handover) and s.departs_s is not None]
    for place in dict.fromkeys(stop.place for stop in coming):
        now = {stop.departs_s for stop in coming if stop.place == place}
        was = {p.departs_s for p in _promised(context, route) if p.place == place} - {None}
        for new_s, old_s in zip(_times(now - was), _times(was - now), strict=False):
            yield (
                f"Hand over at {context.place(place)} for the courier of {context.clock(new_s)}, not of "
                f"{context.clock(old_s)}."
            )


def _promised(context: ViewContext, route: Route) -> list[PromisedPause]:
    replan = context.problem.replan
    return [p for p in replan.pauses if p.phlebotomist == route.phlebotomist] if replan else []


def _pauses(coming: Sequence[Stop]) -> list[_Pause]:
    found: list[_Pause] = []
    num_before = 0
    for stop in coming:
        if isinstance(stop, Visit):
            num_before += 1
        else:
            found.append((num_before, stop.place, stop.kind if isinstance(stop, Handover) else None))
    return found


def _times(instants: set[int | None]) -> list[int]:
    return sorted(s for s in instants if s is not None)
