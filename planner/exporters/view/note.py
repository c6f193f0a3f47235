"""Builds the change note of one phlebotomist: short numbered sentences that can be read out over the phone."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from planner.domain.orders import Order, OrderId, Priority
from planner.domain.plan import Handover, Route, Stop, Visit
from planner.domain.stop_changes import ChangeKind, Move, StopChange
from planner.exporters.view.change_words import gone_words
from planner.exporters.view.changes import NoteLine
from planner.exporters.view.context import ViewContext
from planner.exporters.view.pauses import courier_words, pause_words
from planner.exporters.view.round_view import StopView, VisitView
from planner.exporters.view.words import count_words, join_words


def note_lines(context: ViewContext, route: Route, stops: Sequence[StopView]) -> tuple[NoteLine, ...]:
    """Return the sentences for one phlebotomist: what to leave out, then what is new or moved, then her stops now.

    ``stops`` are the views of her stops to come. Who joins has no older sheet to go on with. Without a replan there is
    nothing to say.
    """
    replan = context.problem.replan
    if replan is None:
        return ()
    cards = {stop.number: stop for stop in stops if isinstance(stop, VisitView)}
    changes = context.changes
    lines = [*_left_out(context, route, changes), *_own(context, route, changes, cards)]
    is_new = route.phlebotomist in replan.joined
    if not lines and is_new:
        base = context.place(context.problem.staff[route.phlebotomist].starts_at)
        return (NoteLine(text=f"There is no stop for you yet. Be at {base}, where you can be called."),)
    if not lines and (pauses := pause_words(context, route)):
        lines = [NoteLine(text=f"Your beds stay as they are; {pauses}.")]
    couriers = [NoteLine(text=text) for text in courier_words(context, route)]
    if not lines and not couriers:
        return (NoteLine(text=f"Nothing changes for you. Go on with the sheet of revision {replan.parent}."),)
    if lines:
        lines = [*lines, *couriers, NoteLine(text=_stops_now(context, route))]
    return (*(lines or couriers), NoteLine(text=f"{_rest(context, route, is_new)} Please say it back.".lstrip()))


def _rest(context: ViewContext, route: Route, is_new: bool) -> str:
    """Return what is said of all that the note does not name."""
    assert context.problem.replan is not None
    if not route.stops[context.num_past(route) :]:
        return ""
    return "That is all." if is_new else f"All else stays as on the sheet of revision {context.problem.replan.parent}."


def _left_out(context: ViewContext, route: Route, changes: Iterable[StopChange]) -> Iterator[NoteLine]:
    for change in changes:
        before = change.before
        if before is None or before.phlebotomist != route.phlebotomist:
            continue
        bed = context.place(before.place)
        if change.kind is ChangeKind.DROPPED:
            yield NoteLine(text=f"Leave out bed {bed}. {gone_words(context, change)}.")
        elif Move.PERSON in change.moves and change.phlebotomist is not None:
            yield NoteLine(text=f"Leave out bed {bed}. {context.person(change.phlebotomist)} goes there.")


def _own(
    context: ViewContext, route: Route, changes: Iterable[StopChange], cards: dict[int, VisitView]
) -> Iterator[NoteLine]:
    by_draw = {change.visit.draw_id: change for change in changes if change.visit is not None}
    for index, stop in enumerate(route.stops):
        change = by_draw.get(stop.draw_id) if isinstance(stop, Visit) and stop.outcome is None else None
        if change is not None:
            yield _sentence(context, route, index, change, cards[index + 1])


def _sentence(context: ViewContext, route: Route, index: int, change: StopChange, card: VisitView) -> NoteLine:
    visit = change.visit
    assert visit is not None
    where = _after(context, route, index)
    late = [mark.lower() for mark in card.marks if mark.startswith("LATE")]
    draw = f"Draw at {card.draw_at}{', ' + late[0] if late else ''}."
    draw += f" Allowed: {card.window}." if card.window else ""
    if change.kind is ChangeKind.ADDED or Move.PERSON in change.moves:
        tests = _tests(context, visit.order_ids)
        return NoteLine(text=f"{where} go to bed {card.bed}: {tests}. {draw}", details=_card(card))
    before = change.before
    assert before is not None
    said = []
    if Move.BED in change.moves:
        said.append(f"The patient of bed {context.place(before.place)} lies in bed {card.bed} now.")
    if Move.ORDER in change.moves:
        said.append(f"{where} go to bed {card.bed}.")
    if change.kind is ChangeKind.MOVED:
        is_later = visit.draw_s > before.draw_s
        said.append(
            f"Bed {card.bed}: draw at {card.draw_at}, {'later' if is_later else 'earlier'} "
            f"than the {context.clock(before.draw_s)} of your sheet."
        )
    if change.new_orders:
        said.append(f"At bed {card.bed} draw also {_tests(context, change.new_orders)}.")
    if change.gone_orders:
        said.append(f"At bed {card.bed} do not draw {gone_words(context, change)}.")
    has_other_tubes = bool(change.new_orders or change.gone_orders)
    return NoteLine(text=" ".join(said), details=(_tubes(card),) if has_other_tubes else ())


def _after(context: ViewContext, route: Route, index: int) -> str:
    if index == 0:
        return "First"
    return f"After {_called(context, route.stops[index - 1])}"


def _called(context: ViewContext, stop: Stop) -> str:
    place = context.place(stop.place)
    if isinstance(stop, Visit):
        return f"bed {place}"
    return f"the hand-over at {place}" if isinstance(stop, Handover) else "the break"


def _tests(context: ViewContext, order_ids: Sequence[OrderId]) -> str:
    """Return tests by their names, the most urgent first: 'stat potassium and lactate; creatinine'."""
    orders = [o for o in context.problem.orders if o.id in set(order_ids)]
    parts = []
    for priority in Priority:
        names = [_spoken(context, order) for order in orders if order.priority is priority]
        if names:
            parts.append(
                ("" if priority is Priority.ROUTINE else f"{priority.value} ") + join_words(list(dict.fromkeys(names)))
            )
    return "; ".join(parts)


def _spoken(context: ViewContext, order: Order) -> str:
    """Return the name of a test as it stands in a sentence: its first letter small, unless the word is a short form."""
    name = context.clean(context.problem.test_of(order).name)
    first = name.split(" ", 1)[0]
    return name[:1].lower() + name[1:] if first[1:].isalpha() and first[1:].islower() else name


def _card(card: VisitView) -> tuple[str, ...]:
    """Return what she needs at a bed that her old sheet does not have."""
    lines = [f"Patient {card.name}, born {card.born}, number {card.patient_number}."]
    lines += [f"Wear: {words}." for words in card.wear]
    if card.alerts:
        lines.append(f"Alert: {'; '.join(card.alerts)}.")
    lines += [f"Ask: {question}" for question in card.ask]
    if card.do:
        lines.append(f"{'. '.join(card.do)}.")
    give = "; ".join(card.goes_to)
    return (*lines, _tubes(card), *([f"Give: {give}."] if give else []))


def _tubes(card: VisitView) -> str:
    named = [
        f"{t.positions}, {t.label}, {t.size} ({t.tests})"
        + (f", {t.handling[:1].lower()}{t.handling[1:]}" * bool(t.handling))
        for t in card.tubes
    ]
    return f"{count_words(card.num_tubes, 'tube')} in this order: {'; '.join(named)}."


def _stops_now(context: ViewContext, route: Route) -> str:
    coming = route.stops[context.num_past(route) :]
    if not coming:
        return f"You have no more stops.{_carried(context, route)}"
    named = [
        _hand_over(context, stop)
        if isinstance(stop, Handover)
        else f"{_called(context, stop)} at {context.clock(stop.start_s)}"
        for stop in coming
    ]
    return f"Your stops are now: {'; '.join(named)}."


def _carried(context: ViewContext, route: Route) -> str:
    """Return what somebody without stops still has in her tray."""
    tubes = [
        (stop.place, planned.tube)
        for stop in route.stops
        if isinstance(stop, Visit)
        for planned in stop.tubes
        if planned.handover is None and not planned.tube.is_discard
    ]
    if not tubes:
        return ""
    beds = context.beds(bed for bed, _tube in tubes)
    return f" You carry {count_words(len(tubes), 'tube')} of {beds}: keep them by you until they are fetched."


def _hand_over(context: ViewContext, stop: Handover) -> str:
    leaves = f", courier leaves {context.clock(stop.departs_s)}" if stop.departs_s is not None else ""
    return f"hand over at {context.place(stop.place)} at {context.clock(stop.start_s)}{leaves}"
