"""Builds the view of the routes: their stops in order, and for each collection what lies there to tick off."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence, Set
from dataclasses import replace

from planner.domain.catalogue import TransportMode
from planner.domain.draws import Tube
from planner.domain.places import PickupKind, PlaceId, PlaceKind
from planner.domain.plan import Break, Handover, Route, Visit
from planner.exporters.view.cards.bedside import common_of, common_words
from planner.exporters.view.cards.visits import containers, visit_view, wait_words
from planner.exporters.view.context import ViewContext
from planner.exporters.view.handovers import fallback_words, given_words, limit_of, missed_words
from planner.exporters.view.legs import Ways
from planner.exporters.view.notes.lacking import lacking_line
from planner.exporters.view.notes.note import note_lines
from planner.exporters.view.notes.replan import done_lines, tray_lines
from planner.exporters.view.round_view import WHOLE, RouteView
from planner.exporters.view.rows import CollectionLine
from planner.exporters.view.sign_out import sign_out_lines
from planner.exporters.view.slack import RouteSlack, slip_words
from planner.exporters.view.stop_view import BreakView, HandoverView, StopView
from planner.exporters.view.supplies import cold_lines
from planner.exporters.view.what_if import what_if_lines
from planner.exporters.view.words import (
    BREAK_AFTER,
    EMPTY_HANDLING,
    LOAD_EMPTY,
    LOAD_ICE,
    LOADING,
    LOADING_S,
    NEWEST,
    count_words,
)
from planner.units import SECONDS_PER_MINUTE, format_ml


def route_view(context: ViewContext, route: Route) -> RouteView:
    """Return the view of one phlebotomist's route; an empty route says so."""
    person = context.problem.staff[route.phlebotomist]
    from_s, place_id = context.begins(route)
    ends = context.clock(route.stops[-1].depart_s if route.stops else from_s)
    slack, above = RouteSlack(context, route), common_of(context, route)
    ways = Ways(context)
    legs = ways.legs(route)
    stops = tuple(
        replace(_stop_view(context, route, number - 1, slack, above), way=legs.get(number - 1, ""))
        for number, _ in context.coming(route)
    )
    lacking, bedside = lacking_line(context, route), common_words(context, route, above)
    return RouteView(
        name=context.person(route.phlebotomist),
        staff_index=route.phlebotomist,
        initials=context.clean(person.initials),
        has_initials=context.is_named_alike(route.phlebotomist),
        starts=f"{context.clock(from_s)} at {_called(context, place_id)}",
        ends=ends,
        summary=_route_summary(context, route, ends),
        stops=stops,
        cold=cold_lines(context, route),
        first_walk=_first_walk(context, route, ways),
        done=done_lines(context, route),
        tray=tray_lines(context, route),
        unconfirmed=context.unconfirmed,
        bedside=bedside,
        lacking="" if lacking is None else lacking.text,
        loading=_loading(context, route),
        newest=_newest(context),
        break_after=_break_after(context, route),
        sign_out=sign_out_lines(context, route),
        what_if=what_if_lines(context, route, slack),
        note=note_lines(context, route, stops, bedside, lacking),
        is_idle=context.problem.replan is not None and not stops and not tray_lines(context, route),
    )


def with_packets(routes: Sequence[RouteView]) -> tuple[RouteView, ...]:
    """Return routes with the names of their files: by initials, which hold no patient data; no two are alike.

    Some systems do not tell capitals from small letters, so neither do we.
    """
    taken: set[str] = set()
    named = []
    for number, route in enumerate(routes, start=1):
        initials = re.sub(r"[^\w.-]+", "-", route.initials).strip("-.")
        stem = f"{WHOLE}-{initials or number}"
        name, again = stem, 2
        while name.casefold() in taken:
            name, again = f"{stem}-{again}", again + 1
        taken.add(name.casefold())
        named.append(replace(route, packet=name))
    return tuple(named)


def _loading(context: ViewContext, route: Route) -> str:
    """Return when to begin to load and in which order; empty for who has set out. Nobody begins before now."""
    if context.num_past(route) or not context.visits_to_come(route):
        return ""
    begin_s, replan = context.begins(route)[0] - LOADING_S, context.problem.replan
    begin = context.clock(begin_s if replan is None else max(begin_s, replan.now_s))
    tubes = [planned.tube for visit in context.visits_to_come(route) for planned in visit.tubes]
    return LOADING.format(
        name=context.person(route.phlebotomist),
        begin=begin,
        empty=LOAD_EMPTY if any(not tube.handling.isdisjoint(EMPTY_HANDLING) for tube in tubes) else "",
        ice=LOAD_ICE if any(tube.mode is TransportMode.ICE for tube in tubes) else "",
    )


def _newest(context: ViewContext) -> str:
    replan = context.problem.replan
    return NEWEST if replan is None else f"{NEWEST} This one replaces revision {replan.parent}: destroy that."


def _break_after(context: ViewContext, route: Route) -> str:
    """Return the break that is taken when the route is done: no stop stands for it in the plan."""
    person = context.problem.staff[route.phlebotomist]
    window = person.break_window
    if window is None or not context.coming(route) or any(isinstance(stop, Break) for stop in route.stops):
        return ""
    return BREAK_AFTER.format(
        minutes=person.break_s // SECONDS_PER_MINUTE,
        begins=context.clock(window.earliest_s),
        ends=context.clock(window.latest_s),
        done=context.clock(route.stops[-1].depart_s),
    )


def _first_walk(context: ViewContext, route: Route, ways: Ways) -> str:
    """Return the way to the first stop: 'from Supply room to bed H6: left in at Ward door'; empty without a map."""
    coming = context.coming(route)
    if not coming or context.names.has_several_wards:  # there the first leg says it
        return ""
    start, end = context.begins(route)[1], coming[0][1].place
    way = ways.words(start, end)
    return f"from {_called(context, start)} to {_called(context, end)}: {way}" if way else ""


def _called(context: ViewContext, place_id: PlaceId) -> str:
    is_bed = context.problem.places[place_id].kind is PlaceKind.BED
    return f"bed {context.place(place_id)}" if is_bed else context.place(place_id)


def collection_lines(context: ViewContext) -> tuple[CollectionLine, ...]:
    """Return every hand-over of the round, by place and time of leaving, with counts to tick off."""
    found = []
    for route in context.plan.routes:
        for number, stop in context.coming(route):
            if isinstance(stop, Handover):
                leaves_s = stop.departs_s if stop.departs_s is not None else stop.start_s
                key = (leaves_s, stop.place, route.phlebotomist, number)
                name = context.person(route.phlebotomist)
                found.append((key, _collection(context, route, number - 1, stop, name)))
    return tuple(line for _, line in sorted(found, key=lambda item: item[0]))


def _route_summary(context: ViewContext, route: Route, ends: str) -> str:
    visits = context.visits_to_come(route)
    if not context.coming(route):
        return "No more stops on this round" if route.stops else "No visits on this round"
    tubes = [p.tube for visit in visits for p in visit.tubes]
    return (
        f"{count_words(len(visits), 'visit')}{' to come' if context.problem.replan else ''}, "
        f"{count_words(sum(not t.is_discard for t in tubes), 'tube')}, "
        f"{format_ml(sum(t.volume_ul for t in tubes))} mL, done {ends} at {context.place(route.stops[-1].place)}"
    )


def _stop_view(context: ViewContext, route: Route, index: int, slack: RouteSlack, above: Set[str]) -> StopView:
    stop, slip = route.stops[index], slip_words(slack.of(index))
    if isinstance(stop, Visit):
        card = visit_view(context, route, index, stop, above)
        return card if card.keep_out else replace(card, slip=slip)
    if isinstance(stop, Break):
        return BreakView(
            number=index + 1,
            at=context.clock(stop.start_s),
            until=context.clock(stop.depart_s),
            place=context.place(stop.place),
            slip=slip,
            wait=wait_words(context, stop),
        )
    tubes = list(_given(context, route, index))
    limit = limit_of(context, route, index) if stop.kind is PickupKind.COURIER else None
    return HandoverView(
        number=index + 1,
        at=context.clock(stop.start_s),
        place=context.place(stop.place),
        what=_what(context, stop),
        leaves=stop.kind is PickupKind.COURIER,
        num_tubes=len(tubes),
        contents=containers(context, [tube for _, tube in tubes]),
        beds=context.counted_beds(bed for bed, _ in tubes),
        special=given_words(context, stop, tubes),
        limit="" if limit is None else limit[0],
        fallback=fallback_words(context, route, index),
        arrives=context.clock(stop.lab_arrival_s),
        slip=slip,
        wait=wait_words(context, stop),
    )


def _collection(context: ViewContext, route: Route, index: int, stop: Handover, name: str) -> CollectionLine:
    tubes = list(_given(context, route, index))
    return CollectionLine(
        place=context.place(stop.place),
        leaves=_what(context, stop),
        phlebotomist=name,
        staff_index=route.phlebotomist,
        at=context.clock(stop.start_s),
        num_tubes=len(tubes),
        contents=containers(context, [tube for _, tube in tubes]),
        beds=context.counted_beds(bed for bed, _ in tubes),
        special=given_words(context, stop, tubes, in_full=True),
        missed=missed_words(context, route, index),
    )


def _what(context: ViewContext, stop: Handover) -> str:
    if stop.kind is PickupKind.COURIER:
        assert stop.departs_s is not None
        return f"Courier leaves {context.clock(stop.departs_s)}"
    if stop.kind is PickupKind.TUBE:
        return "Send by pneumatic tube"
    return "Hand in yourself"


def _given(context: ViewContext, route: Route, index: int) -> Iterator[tuple[PlaceId, Tube]]:
    """Yield (bed, tube) for everything that the stop with this index gives away, in the order drawn."""
    for visit in route.visits:
        bed = context.problem.patients[visit.patient_id].bed
        for planned in visit.tubes:
            if planned.handover == index:
                yield bed, planned.tube
