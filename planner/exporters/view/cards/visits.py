"""Builds the view of one visit: where, when, who, what to wear, ask and draw, and where the tubes go."""

from __future__ import annotations

from collections.abc import Sequence, Set
from dataclasses import replace
from itertools import groupby

from planner.domain.catalogue import Handling, TransportMode
from planner.domain.derived.two_samples import second_samples
from planner.domain.draws import Device, Needle, Tube
from planner.domain.orders import Order, Patient, Priority
from planner.domain.places import PickupKind, PlaceId
from planner.domain.plan import Handover, PlannedTube, Reason, Route, Stop, Visit
from planner.exporters.view.cards.after_isolation import isolation_words
from planner.exporters.view.cards.answers import answer_fields
from planner.exporters.view.cards.bedside import bedside_words, sample_questions, skin_words
from planner.exporters.view.cards.blood import blood_questions, ceiling_words
from planner.exporters.view.cards.cares import arm_words, asked_of
from planner.exporters.view.cards.doses import dose_questions
from planner.exporters.view.cards.fasting import fasting_questions
from planner.exporters.view.cards.identity import identity_words
from planner.exporters.view.cards.keeping import keeps_words, limit_words
from planner.exporters.view.cards.refused import refusal_questions
from planner.exporters.view.cards.said import alert_texts, note_words
from planner.exporters.view.cards.windows import (
    MarkKind,
    absence_words,
    draw_limits,
    late_words,
    marks,
    ordered_words,
    window_words,
)
from planner.exporters.view.context import ViewContext, born_words, name_words
from planner.exporters.view.handovers import to_spare_words
from planner.exporters.view.notes.change_words import CHANGE_WORD, change_words
from planner.exporters.view.notes.due import due_words
from planner.exporters.view.notes.urgent import why_now
from planner.exporters.view.stop_view import GoesTo, TubeLine, VisitView
from planner.exporters.view.texts import handling_words
from planner.exporters.view.words import (
    DRAW_HANDLING,
    EMPTY_HANDLING,
    FROM_SKIN,
    NOT_YET,
    REASON,
    SITE_HEAD,
    SPECIAL_HANDLING,
    TUBE_HANDLING,
    USE_OF_A_WAIT,
    WEAR,
    count_words,
    ranges_words,
)
from planner.units import SECONDS_PER_MINUTE, format_ml

_USUAL_GAUGE, _USUAL_DEVICE = 21, Device.STRAIGHT
"""The needle that needs no reason on the sheet (common practice, no source)."""


LONG_WAIT_S = 120

_SAID_AT_THE_BED = frozenset({Reason.DRAWN_BY_OTHERS, Reason.ARTERIAL, Reason.ON_HOLD, Reason.OTHER_ROUND})
"""Reasons that need no decision and are said at the bed all the same: what the others leave out is not to be drawn."""


def visit_view(context: ViewContext, route: Route, index: int, visit: Visit, above: Set[str]) -> VisitView:
    """Return the view of the stop with this index on its route; ``above`` is what is said once for many beds."""
    patient = context.problem.patients[visit.patient_id]
    orders = context.orders_of(visit)
    priority = min((o.priority for o in orders), key=list(Priority).index, default=Priority.ROUTINE)
    window, clock = context.window_of(visit), context.problem.clock
    change = next((c for c in context.changes if c.visit is visit), None)
    clean = context.clean
    courier = to_spare_words(context, route, index)
    asked = asked_of(context, patient, orders)
    card = VisitView(
        number=index + 1,
        bed=context.place(patient.bed),
        label=context.label(patient.bed),
        ward=clean(patient.ward),
        at=context.clock(visit.start_s),
        draw_at=context.clock(visit.draw_s),
        window="; ".join(
            filter(
                None,
                (
                    window_words(window, priority, clock, ordered_words(orders, clock)),
                    *absence_words(patient.away, clock),
                    *keeps_words(context, route, visit),
                ),
            )
        ),
        too_late=late_words(window, priority),
        marks=marks(window, orders, priority, is_tight=bool(courier)),
        limits=draw_limits(visit, context.windows_of(visit), priority, clock),
        courier=courier,
        why_now=why_now(context, route, index, priority),
        name=name_words(context, patient),
        born=born_words(context, patient),
        patient_number=clean(patient.id),
        keep_out=asked.keep_out,
        wear=tuple(WEAR[p] for p in WEAR if p in patient.precautions),
        alerts=(
            *due_words(context, route, visit),
            *isolation_words(context, route, visit),
            *arm_words(patient, [o for o in context.problem.orders if o.patient_id == patient.id]),
            *ceiling_words(context, visit, patient),
            *_texts(context, patient, orders),
            *_second_samples(context, visit),
            *_to_check(context, visit),
        ),
        not_drawn=_not_drawn(context, visit),
        ask=(
            *refusal_questions(context, visit),
            *asked.ask,
            *fasting_questions(context, visit, patient, orders),
            *sample_questions(context, orders),
            *dose_questions(context, visit, orders),
            *blood_questions(context, patient),
        ),
        answers=answer_fields(context, patient, orders),
        do=(*identity_words(context, patient), *asked.do, *_do(context, visit, orders)),
        bedside=bedside_words(context, visit, above),
        tubes=tube_lines(context, visit),
        num_tubes=sum(not planned.tube.is_discard for planned in visit.tubes),
        total=f"{format_ml(sum(planned.tube.volume_ul for planned in visit.tubes))}\u00a0mL",
        needle=clean(visit.needle.name.removesuffix(f" {_USUAL_DEVICE}")),
        needle_why="" if _is_usual(visit.needle) else clean("; ".join(visit.needle.reasons)),
        goes_to=_goes_to(context, route, visit),
        order_numbers=tuple(clean(order_id) for order_id in visit.order_ids),
        wait=wait_words(context, visit),
        sites=len({planned.tube.site for planned in visit.tubes}),
        change_word=CHANGE_WORD[change.kind] if change else "",
        change=change_words(context, change) if change else "",
    )
    return _kept_out(context, route, visit, card) if card.keep_out else card


def _kept_out(context: ViewContext, route: Route, visit: Visit, card: VisitView) -> VisitView:
    """Return the card of a bed that nobody enters: what is known of it, and nothing as if somebody drew there.

    Its orders are named as not drawn. What makes it urgent stays, as the lead must hear it.
    """
    patient, orders = context.problem.patients[visit.patient_id], context.orders_of(visit)
    waiting = ", ".join(context.clean(f"{order.called} (order {order.id})") for order in orders)
    return replace(
        card,
        window="",
        too_late="",
        courier="",
        why_now="",
        wait="",
        marks=tuple(mark for mark in card.marks if mark.kind is MarkKind.PRIORITY),
        limits=None,
        wear=(),
        alerts=(
            *due_words(context, route, visit),
            *_texts(context, patient, orders),
            *_to_check(context, visit),
        ),
        not_drawn=(*([f"{waiting}: {NOT_YET}"] if waiting else []), *card.not_drawn),
        ask=(),
        answers=(),
        do=(),
        bedside=(),
        tubes=(),
        num_tubes=0,
        total="",
        needle="",
        needle_why="",
        sites=1,
        goes_to=(),
    )


def tube_lines(context: ViewContext, visit: Visit) -> tuple[TubeLine, ...]:
    """Return the tubes in order of draw; equal ones in a row stand together."""
    ordered = sorted(visit.tubes, key=lambda planned: planned.tube.draw_position)
    sites = len({planned.tube.site for planned in ordered})
    lines = [_tube_line(context, list(group), sites) for _, group in groupby(ordered, key=_alike)]
    begun: set[int] = set()
    for number, (_, group) in enumerate(groupby(ordered, key=_alike)):
        site = next(group).tube.site
        is_another = bool(begun) and site not in begun  # what is no culture follows from the needle that is in
        begun.add(site)
        if is_another:
            lines[number] = replace(lines[number], site_head=SITE_HEAD.format(site=site, sites=sites))
    return tuple(lines)


def _alike(planned: PlannedTube) -> tuple[object, ...]:
    tube = planned.tube
    return tube.tube, tube.size_ul, tube.volume_ul, tube.tests, tube.handling, tube.site


def _tube_line(context: ViewContext, group: Sequence[PlannedTube], sites: int) -> TubeLine:
    tube = group[0].tube
    kind = context.problem.catalogue.tubes[tube.tube]
    site = f", site {tube.site}" if sites > 1 and kind.is_culture else ""
    volume_ul = tube.volume_ul if kind.filled_to_need else tube.size_ul
    words, tests = handling_words(), context.tests_in(tube)
    return TubeLine(
        positions=ranges_words([planned.tube.draw_position for planned in group]),
        count=len(group),
        kind=kind.code,
        name=context.clean(kind.name_of(tube.size_ul)) + site,
        additive=context.clean(kind.additive),
        closure=context.clean(kind.closure),
        size=f"{format_ml(volume_ul)} mL",
        inversions=context.clean(kind.inversions) if kind.has_additive else "",
        tests="throw away" if tube.is_discard else ", ".join(tests),
        test_names=() if tube.is_discard else tests,
        handling=". ".join(words[h] for h in TUBE_HANDLING if h in tube.handling),
        is_special=bool(tube.handling & SPECIAL_HANDLING) or tube.mode is not TransportMode.ROOM,
        fills=tuple(
            (
                p.tube.draw_position,
                tuple(map(context.clean, p.tube.order_ids)),
                None if p.handover is None else p.handover + 1,
            )
            for p in group
        ),
    )


def wait_words(context: ViewContext, stop: Stop) -> str:
    """Return how long the plan waits at a stop, and what for: a window opens later, or a specimen would be too old."""
    wait_s = stop.start_s - stop.arrive_s
    if wait_s < LONG_WAIT_S:
        return ""
    minutes = wait_s // SECONDS_PER_MINUTE
    return f"{minutes} min: do not begin before {context.clock(stop.start_s)}. {USE_OF_A_WAIT}"


def _to_check(context: ViewContext, visit: Visit) -> tuple[str, ...]:
    """Return what to look at before the draw, in the words of the first page: the reader may not hold that page."""
    words = (text for order_id in visit.order_ids for text in context.checked.get(order_id, ()))
    return tuple(f"check first: {context.clean(text)}" for text in dict.fromkeys(words))


def _not_drawn(context: ViewContext, visit: Visit) -> tuple[str, ...]:
    """Return which of the patient's orders this card does not draw, and why, so that nobody thinks them forgotten."""
    by_reason: dict[Reason, dict[str, None]] = {}
    for left in (*context.problem.set_aside, *context.plan.unplanned):
        if left.patient_id == visit.patient_id and (left.reason.needs_decision or left.reason in _SAID_AT_THE_BED):
            by_reason.setdefault(left.reason, {})[context.clean(f"{left.test} (order {left.order_id})")] = None
    return tuple(f"{', '.join(orders)}: {_why(reason)}" for reason, orders in by_reason.items())


def _why(reason: Reason) -> str:
    what = REASON[reason][0]
    return f"{what[:1].lower()}{what[1:]}{'; the lead decides, ask before you draw' if reason.needs_decision else ''}"


def _second_samples(context: ViewContext, visit: Visit) -> tuple[str, ...]:
    """Return which of the patient's samples for the blood bank a visit draws, where it is not the only one."""
    orders = context.orders_of(visit)
    tests = context.called(o for o in orders if Handling.STRICT_LABEL in context.problem.test_of(o).handling)
    if not tests:
        return ()
    pairs = [
        (one, other)
        for (_, one), (_, other) in second_samples(context.problem, context.plan)
        if one.patient_id == visit.patient_id
    ]
    drawn = {sample.draw_id: sample for pair in pairs for sample in pair}
    if visit.draw_id not in drawn:
        return ()
    in_turn = sorted(drawn.values(), key=lambda sample: (sample.draw_s, sample.draw_id))
    number = in_turn.index(drawn[visit.draw_id]) + 1
    by = {v.draw_id: r.phlebotomist for r in context.plan.routes for v in r.visits}
    mine = by[visit.draw_id]
    others = "; ".join(
        f"sample {n}{'' if other.outcome is None else ' drawn'} {context.clock(other.draw_s)} by "
        f"{'you' if by[other.draw_id] == mine else context.person(by[other.draw_id])}"
        for n, other in enumerate(in_turn, start=1)
        if other.draw_id != visit.draw_id
    )
    rest = "label before you leave, never share a tube or a label"
    if number > 1:
        may = context.problem.policy.transfusion.one_person_may_draw_both
        rest = f"another identity check{'' if may else ', better another person'}; {rest}"
    return (f"{', '.join(tests)}: SAMPLE {number} of {len(drawn)} ({others}): {rest}",)


def _texts(context: ViewContext, patient: Patient, orders: Sequence[Order]) -> tuple[str, ...]:
    """Return what alerts of the patient and notes of the orders say, as they were written."""
    return (*_alerts(context, patient), *note_words(context, ((order.called, order.note) for order in orders)))


def _alerts(context: ViewContext, patient: Patient) -> tuple[str, ...]:
    alerts = [context.clean(alert) for alert in alert_texts(patient)]
    if patient.has_difficult_veins:
        alerts.append("Difficult veins")
    return tuple({alert.casefold(): alert for alert in alerts if alert}.values())


def _is_usual(needle: Needle) -> bool:
    return (needle.gauge, needle.device) == (_USUAL_GAUGE, _USUAL_DEVICE)


def _do(context: ViewContext, visit: Visit, orders: Sequence[Order]) -> tuple[str, ...]:
    """Return what the puncture needs; the tubes are named where it is not all of them."""
    tubes = [planned.tube for planned in visit.tubes if not planned.tube.is_discard]
    lines = [FROM_SKIN] if visit.needle.device == Device.LANCET else []
    for handling, words in EMPTY_HANDLING.items():
        if positions := sorted(t.draw_position for t in tubes if handling in t.handling):
            lines.append(f"Tube {ranges_words(positions)}: {words}")
    without_alcohol = (o for o in orders if Handling.NO_ALCOHOL_PREP in context.problem.test_of(o).handling)
    if skin := skin_words(tubes, context.called(without_alcohol)):
        lines.append(skin)
    for handling in DRAW_HANDLING:
        if skin and handling in (Handling.ASEPSIS, Handling.NO_ALCOHOL_PREP):
            continue
        positions = sorted(t.draw_position for t in tubes if handling in t.handling)
        if positions:
            which = "" if len(positions) == len(tubes) else f" (tube {ranges_words(positions)})"
            lines.append(handling_words()[handling] + which)
    return tuple(lines)


def _goes_to(context: ViewContext, route: Route, visit: Visit) -> tuple[GoesTo, ...]:
    """Return which hand-over each tube is to catch, and the latest receipt where the specimen does not keep long."""
    by_stop: dict[int, list[Tube]] = {}
    for planned in visit.tubes:
        if planned.handover is not None:
            by_stop.setdefault(planned.handover, []).append(planned.tube)
    lines = []
    for index in sorted(by_stop):
        stop = route.stops[index]
        assert isinstance(stop, Handover)
        tubes = sorted(by_stop[index], key=lambda tube: tube.draw_position)
        leaves_s = stop.departs_s if stop.departs_s is not None else stop.start_s
        courier = "courier " if stop.kind is PickupKind.COURIER else ""
        lines.append(
            GoesTo(
                which="" if len(by_stop) == 1 else f"tube {ranges_words([t.draw_position for t in tubes])}",
                where=handover_words(context, stop),
                stop=f"stop {index + 1}, {courier}{context.clock(leaves_s)}",
                limit=limit_words(context, visit, tubes),
            )
        )
    return tuple(lines)


def handover_words(context: ViewContext, stop: Handover) -> str:
    """Return where specimens leave: 'courier 06:15 at Nurses' station', '05:33 at Tube station'."""
    place = context.place(stop.place)
    if stop.kind is PickupKind.CARRIED:
        return f"carry to {place} yourself, {context.clock(stop.start_s)}"
    time_s = stop.departs_s if stop.departs_s is not None else stop.start_s
    return f"{'courier ' if stop.kind is PickupKind.COURIER else ''}{context.clock(time_s)} at {place}"


def containers(context: ViewContext, tubes: Sequence[Tube]) -> str:
    """Return containers by kind: '2 x EDTA tube, 1 x Citrate tube', in the order of draw."""
    kinds = context.problem.catalogue.tubes
    counts: dict[str, int] = {}
    for tube in sorted(tubes, key=lambda t: (kinds[t.tube].rank, kinds[t.tube].rank_within, t.tube)):
        name = context.clean(kinds[tube.tube].name_of(tube.size_ul))
        counts[name] = counts.get(name, 0) + 1
    return ", ".join(f"{number} x {name}" for name, number in counts.items())


def special_words(context: ViewContext, tubes: Sequence[tuple[PlaceId, Tube]]) -> str:
    """Return what must be kept on ice, warm, dark or out of the pneumatic tube, with the beds."""
    groups = (
        ("on ice", [b for b, t in tubes if t.mode is TransportMode.ICE]),
        ("at 37 C", [b for b, t in tubes if t.mode is TransportMode.WARM]),
        ("dark", [b for b, t in tubes if Handling.LIGHT in t.handling]),
        ("by hand", [b for b, t in tubes if t.by_hand]),
    )
    parts = []
    for name, beds in groups:
        if beds:
            parts.append(f"{count_words(len(beds), 'tube')} {name} ({context.beds(beds)})")
    return "; ".join(parts)
