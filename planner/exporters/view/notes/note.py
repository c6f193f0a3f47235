"""Builds the change note of one phlebotomist: short numbered sentences that can be read out over the phone."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from planner.domain.orders import Order, OrderId, PatientId, Priority
from planner.domain.plan import Handover, Route, Stop, Visit
from planner.domain.revisions.stop_changes import ChangeKind, Move, StopChange
from planner.exporters.view.cards.refused import refused_words
from planner.exporters.view.cards.windows import MarkKind, hurry_words
from planner.exporters.view.context import ViewContext, born_words, name_words, who_words
from planner.exporters.view.notes.assumed_moved import assumed_moved_lines
from planner.exporters.view.notes.change_words import gone_words, lies_now, tests_words
from planner.exporters.view.notes.changes import NoteKind, NoteLine
from planner.exporters.view.notes.due import due_sentence, due_words, dues
from planner.exporters.view.notes.gains import gain_words
from planner.exporters.view.notes.reported import reported_stops
from planner.exporters.view.pauses import courier_words, pause_words
from planner.exporters.view.stop_view import StopView, VisitView
from planner.exporters.view.words import KEEP_OUT, count_words, join_words


def note_lines(
    context: ViewContext,
    route: Route,
    stops: Sequence[StopView],
    bedside: Sequence[str],
    lacking: NoteLine | None = None,
) -> tuple[NoteLine, ...]:
    """Return the sentences for one phlebotomist.

    First what lacks, what was due and is not reported, what to leave out, what is new or moved (stats before others);
    then all stops to come. A note stands alone: it repeats the stops to come with their patients, says of each what its
    card says, and refers to no other sheet. ``stops`` are the views of the stops to come, ``bedside`` what is said once
    for many of them. Who has nothing to do, and
    nothing to leave out or give away, gets no note; nor does anybody without a replan.
    """
    replan = context.problem.replan
    if replan is None:
        return ()
    cards = {stop.number: stop for stop in stops if isinstance(stop, VisitView)}
    changes = context.changes
    told = [
        *_due(context, route),
        *assumed_moved_lines(context, route.phlebotomist),
        *_left_out(context, route, changes),
        *_reported(context, route),
        *_after_all(context, route, cards),
        *_own(context, route, changes, cards),
    ]
    lines = sorted(told, key=lambda line: not line.is_stat)
    if not lines and route.phlebotomist in replan.joined and not stops:
        base = context.place(context.problem.staff[route.phlebotomist].starts_at)
        return (
            NoteLine(text=f"There is no stop for you yet. Be at {base}, where you can be called.", kind=NoteKind.PAUSE),
        )
    if not lines and not stops and not _carried(context, route):
        return ()
    if not lines and (pauses := pause_words(context, route)):
        lines = [NoteLine(text=f"Your beds stay as they are; {pauses}.", kind=NoteKind.PAUSE)]
    lines += [NoteLine(text=text, kind=NoteKind.PAUSE) for text in courier_words(context, route)]
    if not lines:
        lines = [NoteLine(text="Nothing changes for you.", kind=NoteKind.NOTHING)]
    last = f"This replaces revision {replan.parent} and everything before it. Please say it back."
    first = () if lacking is None else (lacking,)
    common = tuple(NoteLine(text=f"Test: {words}") for words in bedside)
    return (*first, *lines, _stops_now(context, route, cards), *common, NoteLine(text=last))


def _due(context: ViewContext, route: Route) -> Iterator[NoteLine]:
    """Yield what is said of visits that were due and not reported: to whose they were, and to whose they are now."""
    for due in dues(context):
        if route.phlebotomist in (due.asked, due.phlebotomist):
            sentence = due_sentence(context, due, who_words(context, due.visit.patient_id))
            kind = NoteKind.ASK_STAT if due.is_stat else NoteKind.ASK
            yield NoteLine(text=sentence, kind=kind, bed=context.place(due.visit.place), is_stat=due.is_stat)


def _left_out(context: ViewContext, route: Route, changes: Iterable[StopChange]) -> Iterator[NoteLine]:
    for change in changes:
        before = change.before
        if before is None or before.phlebotomist != route.phlebotomist:
            continue
        place = context.place(before.place)
        bed = f"{place}, {who_words(context, before.patient_id)}"
        details = _patient(context, before.patient_id)
        is_stat = context.problem.has_stat(before.order_ids)
        now = lies_now(context, before.patient_id, before.place)
        if change.kind is ChangeKind.DROPPED:
            text = f"Leave out bed {bed}. {gone_words(context, change)}.{f' {now}.' if now else ''}"
            yield NoteLine(text=text, details=details, kind=NoteKind.LEAVE_OUT, bed=place, is_stat=is_stat)
        elif Move.PERSON in change.moves and change.phlebotomist is not None:
            who = context.person(change.phlebotomist)
            gain = gain_words(context, change)
            text = f"Leave out bed {bed}. {f'{now}; {who} goes to that bed' if now else f'{who} goes there'}."
            text += f" Else {gain}." if gain else ""
            yield NoteLine(text=text, details=details, kind=NoteKind.LEAVE_OUT, bed=place, is_stat=is_stat)


def _reported(context: ViewContext, route: Route) -> Iterator[NoteLine]:
    """Yield what is said of stops that were reported: they are no longer on the list of stops to come."""
    for stop in reported_stops(context, route):
        patient_id = stop.visit.patient_id
        place = context.place(stop.visit.place)
        text = f"Leave out bed {place}, {who_words(context, patient_id)}: {stop.words}."
        details = _patient(context, patient_id)
        yield NoteLine(text=text, details=details, kind=NoteKind.LEAVE_OUT, bed=place, is_stat=stop.is_stat)


def _after_all(context: ViewContext, route: Route, cards: Mapping[int, VisitView]) -> Iterator[NoteLine]:
    """Yield what is said of stops that somebody was told to leave out by mistake: they may have passed the bed."""
    replan = context.problem.replan
    came_back = replan.came_back if replan else ()
    own = {order_id for one in came_back if one.phlebotomist == route.phlebotomist for order_id in one.order_ids}
    for number, visit in context.coming(route):
        if isinstance(visit, Visit) and own.intersection(visit.order_ids) and not cards[number].keep_out:
            place = context.place(visit.place)
            bed = f"{place}, {who_words(context, visit.patient_id)}"
            is_asked = bool(due_words(context, route, visit))
            what = "if it is not drawn, draw there after all. If you passed it, go back"
            text = f"Bed {bed}: {what if is_asked else 'draw there after all. If you passed the bed, go back'}."
            is_stat = context.problem.has_stat(visit.order_ids)
            yield NoteLine(text=text, kind=NoteKind.STAT if is_stat else NoteKind.GO, bed=place, is_stat=is_stat)


def _patient(context: ViewContext, patient_id: PatientId) -> tuple[str]:
    patient = context.problem.patients[patient_id]
    return (f"Patient {name_words(context, patient)}, born {born_words(context, patient)}.",)


def _own(
    context: ViewContext, route: Route, changes: Iterable[StopChange], cards: dict[int, VisitView]
) -> Iterator[NoteLine]:
    by_draw = {change.visit.draw_id: change for change in changes if change.visit is not None}
    for index, stop in enumerate(route.stops):
        change = by_draw.get(stop.draw_id) if isinstance(stop, Visit) and stop.outcome is None else None
        if change is not None:
            assert isinstance(stop, Visit)
            sentence = _sentence(context, route, index, change, cards[index + 1])
            limit = hurry_words(context.window_of(stop), context.problem.clock)
            is_stat = context.problem.has_stat(stop.order_ids)
            yield replace(sentence, limit=limit, is_stat=is_stat, kind=NoteKind.STAT if is_stat else sentence.kind)


def _sentence(context: ViewContext, route: Route, index: int, change: StopChange, card: VisitView) -> NoteLine:
    visit = change.visit
    assert visit is not None
    where, who = _after(context, route, index), who_words(context, visit.patient_id)
    if card.keep_out:
        text = f"Bed {card.bed}, {who}: {KEEP_OUT}. {card.keep_out}"
        return NoteLine(text=text, details=_card(card), kind=NoteKind.GO, short=KEEP_OUT, bed=card.bed)
    late = [mark.words.lower() for mark in card.marks if mark.kind is MarkKind.LATE]
    draw = f"Draw at {card.draw_at}{', ' + late[0] if late else ''}."
    draw += f" Allowed: {card.window}." if card.window else ""
    if _is_new(change):
        tests = _tests(context, visit.order_ids)
        old = change.before.place if change.before is not None and Move.BED in change.moves else None
        was = "" if old is None else f", until now in bed {context.place(old)}"
        refused = refused_words(context, visit)
        was += f", who {refused} (ask again first)" if refused else ""
        return NoteLine(
            text=f"{where} go to bed {card.bed}, {who}{was}: {tests}. {draw}{_failed_before(context, visit)}",
            details=_card(card),
            kind=NoteKind.GO,
            bed=card.bed,
        )
    before = change.before
    assert before is not None
    said = []
    if Move.BED in change.moves:
        said.append(f"{who}, of bed {context.place(before.place)}, lies in bed {card.bed} now.")
    if Move.ORDER in change.moves:
        said.append(f"{where} go to bed {card.bed}, {who}.")
    if change.kind is ChangeKind.MOVED:
        is_later = visit.draw_s > before.draw_s
        named = "" if said else f", {who}"
        said.append(
            f"Bed {card.bed}{named}: draw at {card.draw_at}, {'later' if is_later else 'earlier'} than before "
            f"({context.clock(before.draw_s)})."
        )
    if change.new_orders:
        said.append(f"At bed {card.bed}{'' if said else f', {who},'} draw also {_tests(context, change.new_orders)}.")
        if context.problem.has_stat(change.new_orders):
            said.append(draw)
    if change.gone_orders:
        said.append(f"At bed {card.bed}{'' if said else f', {who},'} do not draw {gone_words(context, change)}.")
    has_other_tubes = bool(change.new_orders or change.gone_orders)
    patient = f"Patient {card.name}, born {card.born}, number {card.patient_number}."
    details = (patient, *((_tubes(card),) if has_other_tubes else ()))
    return NoteLine(text=" ".join(said), details=details, kind=NoteKind.CHANGED, bed=card.bed)


def _failed_before(context: ViewContext, visit: Visit) -> str:
    """Return who failed at a visit's orders, and how often the next person may try; empty where nobody did."""
    replan, own = context.problem.replan, set(visit.order_ids)
    retries = replan.retries if replan else ()
    failed = dict.fromkeys(person for retry in retries if retry.order_id in own for person in sorted(retry.not_by))
    if not failed:
        return ""
    return f" Two attempts by {join_words([context.person(p) for p in failed])} failed. Try twice at most, then stop."


def _is_new(change: StopChange) -> bool:
    """Whether a stop is new to whom it falls: the note says everything of it."""
    return change.kind is ChangeKind.ADDED or Move.PERSON in change.moves


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
    """Return what a bed needs that an old sheet does not have, or has otherwise."""
    give = "; ".join(line.words for line in card.goes_to)
    return (
        f"Patient {card.name}, born {card.born}, number {card.patient_number}.",
        *_careful(card),
        *([_tubes(card)] if card.tubes else []),
        *([f"Give: {give}."] if give else []),
    )


def _careful(card: VisitView) -> list[str]:
    """Return what the card says of precautions, questions and handling: in a note that stands alone, at every bed."""
    lines = [f"{KEEP_OUT}: {card.keep_out}"] if card.keep_out else []
    lines += [f"Wait {card.wait}"] if card.wait else []
    lines += [f"Wear: {words}." for words in card.wear]
    if card.alerts:
        lines.append(f"Alert: {'; '.join(card.alerts)}.")
    if card.not_drawn:
        lines.append(f"Not drawn by you: {'; '.join(card.not_drawn)}.")
    lines += [f"Ask: {question}" for question in card.ask]
    lines += [f"Test: {words}" for words in card.bedside]
    do = [*card.do, *([f"Needle {card.needle}: {card.needle_why}"] if card.needle_why else [])]
    return [*lines, f"Do: {'. '.join(do)}."] if do else lines


def _tubes(card: VisitView) -> str:
    named = [
        f"{t.positions}, {t.label}, {t.size} ({t.tests})"
        + (f", {t.handling[:1].lower()}{t.handling[1:]}" * bool(t.handling))
        for t in card.tubes
    ]
    return f"{count_words(card.num_tubes, 'tube')} in this order: {'; '.join(named)}."


def _stops_now(context: ViewContext, route: Route, cards: Mapping[int, VisitView]) -> NoteLine:
    """Return all stops to come in one sentence; as details, of each that is not new, the short form of its card."""
    coming = context.coming(route)
    new = {c.visit.draw_id for c in context.changes if c.visit and _is_new(c)}
    if not coming:
        return NoteLine(text=f"You have no more stops.{_carried(context, route)}")
    named = [
        _hand_over(context, stop)
        if isinstance(stop, Handover)
        else f"{_called(context, stop)} at {context.clock(stop.start_s)}"
        for _number, stop in coming
    ]
    details = [
        " ".join(
            (
                f"{context.clock(stop.start_s)} {_called(context, stop)}: {cards[number].name}, born "
                f"{cards[number].born}: {tests_words(context, stop.order_ids)}.",
                *_careful(cards[number]),
                *(f"Tube {tube.positions}: {tube.handling}." for tube in cards[number].tubes if tube.handling),
            )
        )
        for number, stop in coming
        if isinstance(stop, Visit) and number in cards and stop.draw_id not in new
    ]
    return NoteLine(text=f"Your stops are now: {'; '.join(named)}.", details=tuple(details))


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
