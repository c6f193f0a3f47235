"""Says how specimens are given away: what goes on ice or by hand, who carries it, and what if the courier is gone."""

from __future__ import annotations

from collections.abc import Sequence

from planner.domain.catalogue import Handling, TransportMode
from planner.domain.draws import Tube
from planner.domain.orders import Priority
from planner.domain.places import PickupKind, PlaceId
from planner.domain.plan import Handover, Route, Visit
from planner.exporters.view.context import ViewContext
from planner.exporters.view.words import count_words, join_words
from planner.units import SECONDS_PER_MINUTE

COURIER_TIGHT_S = 5 * SECONDS_PER_MINUTE
"""The last bed before a courier is marked TIGHT when less than this is left at the shelf (our choice)."""

TOO_LATE = "TOO LATE"
"""Stands in the words of a way out by which something is in the laboratory only past its limit."""

_VERB = {PickupKind.TUBE: "SEND", PickupKind.COURIER: "GIVE", PickupKind.CARRIED: "CARRY"}


def given_words(
    context: ViewContext, stop: Handover, tubes: Sequence[tuple[PlaceId, Tube]], *, in_full: bool = False
) -> str:
    """Return what goes on ice, warm, dark or by hand, with the beds; ``tubes`` are (bed, tube).

    ``in_full`` adds who carries what goes by hand.

    What the catalogue forbids the pneumatic tube is never planned for it: see ``Tube.by_hand``.
    """
    groups: dict[tuple[str, ...], list[PlaceId]] = {}
    for bed, tube in tubes:
        if ways := _ways(tube, stop.kind):
            groups.setdefault(ways, []).append(bed)
    parts = []
    for ways, beds in groups.items():
        number = count_words(len(beds), "tube") if in_full else str(len(beds))
        said = f"{number} {join_words(ways)} ({context.beds(beds)})"
        if in_full and "by hand" in ways and stop.kind is PickupKind.COURIER:
            said += f": you to {context.place(stop.place)}, the courier from there, never by pneumatic tube"
        parts.append(said)
    return f"{_VERB[stop.kind]} {'; '.join(parts)}" if parts else ""


def _ways(tube: Tube, kind: PickupKind) -> tuple[str, ...]:
    on_ice = "on ice: sealed bag with a cold pack, no loose slurry" if kind is PickupKind.TUBE else "on ice"
    ways = (
        (on_ice, tube.mode is TransportMode.ICE),
        ("at 37 C", tube.mode is TransportMode.WARM),
        ("dark", Handling.LIGHT in tube.handling),
        ("by hand", tube.by_hand),
    )
    return tuple(words for words, applies in ways if applies)


def missed_words(context: ViewContext, route: Route, index: int) -> str:
    """Return what to do when the courier of the hand-over with this index is gone, and the first limit of its tubes."""
    stop = route.stops[index]
    if not isinstance(stop, Handover) or stop.kind is not PickupKind.COURIER:
        return ""
    limit = limit_of(context, route, index)
    return f"Courier missed: phone the lead{f'; bed {limit[1]} in the lab by {limit[0]}' if limit else ''}."


def fallback_words(context: ViewContext, route: Route, index: int) -> str:
    """Return where to go when the tube station of a stop is down; empty for other stops."""
    stop = route.stops[index]
    if not isinstance(stop, Handover) or stop.kind is not PickupKind.TUBE:
        return ""
    return f"If down: {other_way(context, route, index) or 'phone lead'}"


def other_way(context: ViewContext, route: Route, index: int) -> str:
    """Return the way out for what a stop was to give away, from when it cannot; empty when none is open.

    That is the nearest by which all of it is in the laboratory in time; where there is none, the soonest there, and
    the words say that it is too late. What is more urgent than routine goes the soonest way. A courier who is gone may
    come again to the same place. Nothing that goes by hand is sent by pneumatic tube.
    """
    stop = route.stops[index]
    assert isinstance(stop, Handover)
    is_by_hand = any(p.tube.by_hand for visit in route.visits for p in visit.tubes if p.handover == index)
    is_urgent = _is_urgent(context, route, index)
    limit_s, limit_bed = min(_limits(context, route, index), default=(None, ""))
    ready_s = stop.start_s if stop.departs_s is None else stop.departs_s + 1
    ways = []
    for pickup in context.problem.pickups:
        is_same = pickup.place == stop.place
        walk_s = 0 if is_same else context.problem.walking.seconds.get((stop.place, pickup.place))
        if walk_s is None or (is_same and stop.departs_s is None) or (pickup.kind is PickupKind.TUBE and is_by_hand):
            continue
        there_s = ready_s + walk_s
        leaves_s = next((d for d in pickup.departures_s if d >= there_s), None)
        if pickup.kind is PickupKind.COURIER and leaves_s is None:
            continue
        in_lab_s = (there_s if leaves_s is None else leaves_s) + pickup.transit_s
        is_late = limit_s is not None and in_lab_s > limit_s
        when = f", courier {context.clock(leaves_s)}" if leaves_s is not None else ""
        order = (in_lab_s, walk_s) if is_late or is_urgent else (walk_s, in_lab_s)
        ways.append((is_late, order, f"{_way_to(context, stop.place, pickup.place, walk_s)}{when}"))
    if not ways:
        return ""
    is_late, _, words = min(ways)
    if not is_late or limit_s is None:
        return words
    return f"{words}; {TOO_LATE} for bed {limit_bed} (in the lab by {context.clock(limit_s)}): phone the lead first"


def _way_to(context: ViewContext, start: PlaceId, end: PlaceId, walk_s: int) -> str:
    """Return another way out and how far it is: '3 min to Tube station, floor 2'.

    The floor is said where it is another one that the name does not hold.
    """
    if start == end:
        return context.place(end)
    here, there = context.problem.places[start], context.problem.places[end]
    name, floor = context.place(end), context.clean(there.floor)
    is_said = there.floor == here.floor or floor in name.replace(")", " ").split()
    return f"{-(-walk_s // SECONDS_PER_MINUTE)} min to {name}" + (f", floor {floor}" if floor and not is_said else "")


def _is_urgent(context: ViewContext, route: Route, index: int) -> bool:
    """Return whether a stop gives away something that was ordered as stat, asap or urgent."""
    given = {i for v in route.visits for p in v.tubes if p.handover == index for i in p.tube.order_ids}
    return any(o.id in given and o.priority is not Priority.ROUTINE for o in context.problem.orders)


def limit_of(context: ViewContext, route: Route, index: int) -> tuple[str, str] | None:
    """Return when the first specimen of the hand-over with this index must be in the lab, and of which bed it is."""
    limits = _limits(context, route, index)
    if not limits:
        return None
    first_s, bed = min(limits)
    return context.clock(first_s), bed


def _limits(context: ViewContext, route: Route, index: int) -> list[tuple[int, str]]:
    return [
        (visit.draw_s + planned.tube.stability_s, context.place(visit.place))
        for visit in route.visits
        for planned in visit.tubes
        if planned.handover == index and planned.tube.stability_s is not None
    ]


def to_spare_words(context: ViewContext, route: Route, index: int) -> str:
    """Return how little is left at the courier that a visit must catch; empty when enough, or when a bed follows.

    Of the beds whose tubes one courier takes, only the last before the hand-over says so: waits before it can still
    make up for the others.
    """
    visit = route.stops[index]
    assert isinstance(visit, Visit)
    for at in sorted({p.handover for p in visit.tubes if p.handover is not None}):
        stop = route.stops[at]
        assert isinstance(stop, Handover)
        between = route.stops[index + 1 : at]
        if stop.departs_s is None or any(isinstance(s, Visit) for s in between):
            continue
        left_s = stop.departs_s - stop.depart_s + sum(s.start_s - s.arrive_s for s in (*between, stop))
        if left_s < COURIER_TIGHT_S:
            minutes = max(0, left_s) // SECONDS_PER_MINUTE
            return f"courier {context.clock(stop.departs_s)}: {minutes} min to spare"
    return ""
