"""Builds what a replanned round prints first: what changed, the add-ons, what is done and what is in the tray."""

from __future__ import annotations

from collections.abc import Callable

from planner.domain.draws import Tube
from planner.domain.orders import PatientId
from planner.domain.places import PlaceId
from planner.domain.plan import Handover, Outcome, PlannedTube, Route, Stop, Visit
from planner.domain.revisions.replan import AddOn, Replan
from planner.domain.revisions.stop_changes import ChangeKind, Move, StopChange
from planner.exporters.view.cards.visits import handover_words, special_words
from planner.exporters.view.context import ViewContext, born_words, name_words, who_words
from planner.exporters.view.notes.assumed import assumed_words, untold_words
from planner.exporters.view.notes.change_words import CHANGE_WORD, gone_words, tests_words
from planner.exporters.view.notes.changes import AddOnLine, ChangeLine, DoneLine, ReplanView
from planner.exporters.view.notes.event_words import event_words
from planner.exporters.view.notes.gains import gain_words
from planner.exporters.view.stop_view import container_label
from planner.exporters.view.words import OUTCOME_SAID, count_words
from planner.units import SECONDS_PER_MINUTE


def replan_view(context: ViewContext) -> ReplanView | None:
    """Return what a replanned round says first; None when the round is planned afresh."""
    replan = context.problem.replan
    if replan is None:
        return None
    return ReplanView(
        as_of=context.clock(replan.now_s),
        parent=f"revision {replan.parent}",
        given=_given(context, replan, None),
        read_back=_given(context, replan, lambda patient_id: who_words(context, patient_id)),
        earlier=tuple(context.clean(text) for text in replan.notes),
        changes=tuple(_change(context, change) for change in context.changes),
        addons=tuple(_addon(context, addon) for addon in replan.addons),
        assumed=assumed_words(context),
        untold=untold_words(context),
    )


def _given(context: ViewContext, replan: Replan, who: Callable[[PatientId], str] | None) -> tuple[str, ...]:
    back = (f"taken back: {words}" for words in event_words(context.problem, replan.taken_back, who))
    return tuple(context.clean(text) for text in (*back, *event_words(context.problem, replan.events, who)))


def _change(context: ViewContext, change: StopChange) -> ChangeLine:
    visit, before = change.visit, change.before
    now = previous = ""
    if visit is not None and change.phlebotomist is not None:
        now = f"{context.clock(visit.start_s)} {context.person(change.phlebotomist)}"
    if before is not None:
        lead_s = 0 if visit is None else visit.draw_s - visit.start_s
        previous = f"{context.clock(before.draw_s - lead_s)} {context.person(before.phlebotomist)}"
        previous += f", bed {context.place(before.place)}" if Move.BED in change.moves else ""
    return ChangeLine(
        word=CHANGE_WORD[change.kind],
        bed=context.place(change.place),
        now=now or "not drawn",
        before=previous or "not planned",
        why=_why(context, change),
    )


def _why(context: ViewContext, change: StopChange) -> str:
    parts = []
    if change.visit is not None and change.before is not None and change.kind is ChangeKind.MOVED:
        minutes = round((change.visit.draw_s - change.before.draw_s) / SECONDS_PER_MINUTE)
        says = {Move.PERSON: "other person", Move.ORDER: "other place in the order", Move.BED: "other bed"}
        says[Move.TIME] = f"{abs(minutes)} min {'later' if minutes > 0 else 'earlier'}"
        parts += [says[move] for move in change.moves]
        parts += [f"else {gain}"] if (gain := gain_words(context, change)) else []
    if change.new_orders:
        parts.append(f"draw {'also ' if change.before else ''}{tests_words(context, change.new_orders)}")
    if change.gone_orders:
        parts.append(gone_words(context, change))
    return "; ".join(parts)


def _addon(context: ViewContext, addon: AddOn) -> AddOnLine:
    patient = context.problem.patients[addon.patient_id]
    kind = context.problem.catalogue.tubes[addon.tube]
    test = context.problem.catalogue.tests[addon.test]
    tube = container_label(context.clean(kind.name), context.clean(kind.closure))
    return AddOnLine(
        bed=context.place(addon.place),
        name=name_words(context, patient),
        born=born_words(context, patient),
        patient_number=context.clean(patient.id),
        order=context.clean(addon.order_id),
        test=context.clean(f"{test.code}, {test.name}"),
        tube=f"{tube} (number {addon.draw_position} of the draw)",
        drawn=f"{context.clock(addon.drawn_s)} by {context.clean(addon.collector)}",
        limit="no limit stated" if addon.limit_s is None else context.clock(addon.limit_s),
    )


def done_lines(context: ViewContext, route: Route) -> tuple[DoneLine, ...]:
    """Return the stops of a route that were made before this revision, or are being made."""
    replan = context.problem.replan
    if replan is None:
        return ()
    assumed = next((p.assumed for p in replan.past if p.phlebotomist == route.phlebotomist), frozenset())
    return tuple(
        _done(context, index, stop, is_assumed=index in assumed, now_s=replan.now_s)
        for index, stop in enumerate(route.stops[: context.num_past(route)])
    )


def _done(context: ViewContext, index: int, stop: Stop, *, is_assumed: bool, now_s: int) -> DoneLine:
    name, what = "", ""
    if isinstance(stop, Visit):
        name = name_words(context, context.problem.patients[stop.patient_id])
        what = _outcome(context, stop)
    else:
        what = "handed over" if isinstance(stop, Handover) else "break"
    is_under_way = stop.depart_s > now_s
    place = context.place(stop.place)
    return DoneLine(
        number=index + 1,
        at=context.clock(stop.start_s),
        place=f"bed {place}" if isinstance(stop, Visit) else place,
        name=name,
        what=f"UNDER WAY until {context.clock(stop.depart_s)}: finish it" if is_under_way else what,
        is_assumed=is_assumed and not is_under_way,
        is_under_way=is_under_way,
    )


def _outcome(context: ViewContext, visit: Visit) -> str:
    words = OUTCOME_SAID[visit.outcome or Outcome.COLLECTED]
    tubes = sum(not planned.tube.is_discard for planned in visit.tubes)
    if tubes and visit.outcome in (None, Outcome.COLLECTED, Outcome.PARTIAL):
        words += f", {count_words(tubes, 'tube')}"
    return words + (f"; not: {tests_words(context, visit.tried)}" if visit.tried else "")


def tray_lines(context: ViewContext, route: Route) -> tuple[str, ...]:
    """Return what the phlebotomist carries at the instant of the revision, by hand-over: nothing before it."""
    if context.problem.replan is None:
        return ()
    num_past = context.num_past(route)
    by_stop: dict[int, list[tuple[PlaceId, Tube]]] = {}
    for visit in (stop for stop in route.stops[:num_past] if isinstance(stop, Visit)):
        for planned in visit.tubes:
            if not planned.tube.is_discard and not _is_given(planned, num_past):
                where = -1 if planned.handover is None else planned.handover
                by_stop.setdefault(where, []).append((visit.place, planned.tube))
    return tuple(_tray(context, route, where, tubes) for where, tubes in sorted(by_stop.items()))


def _is_given(planned: PlannedTube, num_past: int) -> bool:
    return planned.handover is not None and planned.handover < num_past


def _tray(context: ViewContext, route: Route, where: int, tubes: list[tuple[PlaceId, Tube]]) -> str:
    beds = context.counted_beds(bed for bed, _ in tubes)
    stop = route.stops[where] if where >= 0 else None
    give = f"for {handover_words(context, stop)}" if isinstance(stop, Handover) else "no hand-over: ask the lead"
    special = special_words(context, tubes)
    return f"{count_words(len(tubes), 'tube')} ({beds}), {give}" + (f". KEEP {special}" if special else "")
