"""Builds the lists of the view: what needs a decision, what is late, goals, legend."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from planner.domain.beds import names_listed
from planner.domain.catalogue import TestCode, TubeCode
from planner.domain.derived.merges import merges_of
from planner.domain.derived.metrics import natural_key
from planner.domain.draws import OrderWindow
from planner.domain.orders import OrderId, Patient, Priority
from planner.domain.plan import Reason, Unplanned, Visit
from planner.domain.problem import Problem
from planner.exporters.view.cards.said import alert_texts, note_words
from planner.exporters.view.cards.windows import late_minutes
from planner.exporters.view.context import ViewContext, born_words, name_words
from planner.exporters.view.rows import CheckLine, DecisionLine, LateLine, TestKey, TubeKey
from planner.exporters.view.words import DECISION, IF_DRAWN, NOBODY_DRAWS, NOT_READ, REASON, RULE, birth_words
from planner.finding_codes import DECISION_CODES
from planner.findings import Finding, Severity, to_decide, unread

_PREFERENCE_CODE = "preference-missed"
_FOR_THE_BED = frozenset({"identity-shared", "note-contradicts", "stat-held"})
"""Decisions in which a collector has a part: whom a wristband names, what a note says, whether to draw at once."""
_FOR_THE_LEAD = (DECISION_CODES - _FOR_THE_BED) | {"blood-adult-flag", "many-tubes", "tube-set-not-proven"}
"""Findings about orders of which nothing can be done at the bed: decisions, and advice for another plan."""


def all_unplanned(context: ViewContext) -> tuple[Unplanned, ...]:
    """Return every order that is not drawn, those set aside while reading included, none twice."""
    return tuple(dict.fromkeys((*context.problem.set_aside, *context.plan.unplanned)))


def decision_lines(context: ViewContext, *, needs_decision: bool) -> tuple[DecisionLine, ...]:
    """Return the orders that are not planned, drawn together by patient, priority and reason: urgent ones first."""
    groups: dict[tuple[Priority | None, tuple[str, ...]], list[Unplanned]] = {}
    for item in all_unplanned(context):
        if item.reason.needs_decision is needs_decision:
            key = (item.bed, item.patient_id or "", item.reason.value, item.detail)
            # what is only to be known needs no question about its priority
            priority = item.priority if needs_decision else item.priority or Priority.ROUTINE
            groups.setdefault((priority, key), []).append(item)
    by_bed = sorted(groups, key=lambda group: (natural_key(group[1][0]), *group[1][1:]))
    return urgent_first(_decision(context, groups[key], priority=key[0]) for key in by_bed)


def urgent_first(lines: Iterable[DecisionLine]) -> tuple[DecisionLine, ...]:
    """Return lines with the most urgent first, else in their order."""
    return tuple(sorted(lines, key=lambda line: line.rank))


def planned_decisions(context: ViewContext, findings: Iterable[Finding]) -> tuple[DecisionLine, ...]:
    """Return what a person must decide about orders that are planned, the most urgent first.

    What is asked only of orders that nobody draws is left out: they stand among the decisions already, each once.
    """
    undrawn = {item.order_id for item in all_unplanned(context) if item.reason.needs_decision}
    asked = (f for f in to_decide(findings) if not f.order_ids or not undrawn.issuperset(f.order_ids))
    return urgent_first(_planned_decision(context, finding) for finding in asked)


def list_decisions(context: ViewContext, findings: Iterable[Finding]) -> tuple[DecisionLine, ...]:
    """Return what was given and not read or not used, which a person must decide about before the round."""
    what, action = NOT_READ
    return tuple(
        DecisionLine(
            bed="list",
            patient_number="",
            order_numbers=(),
            test_names=(),
            what=what,
            detail=_with_source(context, finding),
            action=action,
            is_of_list=True,
        )
        for finding in unread(findings)
    )


def _with_source(context: ViewContext, finding: Finding) -> str:
    where = f" [{finding.source}]" if finding.source and str(finding.source) else ""
    return context.clean(finding.message + where)


def _planned_decision(context: ViewContext, finding: Finding) -> DecisionLine:
    wanted = set(finding.order_ids)
    orders = [order for order in context.problem.orders if order.id in wanted]
    patients = {order.patient_id: context.problem.patient_of(order) for order in orders}
    what, action = DECISION[finding.code]
    return DecisionLine(
        bed=names_listed(context.place(patient.bed) for patient in patients.values()) or "?",
        patient="; ".join(_caller_says(context, patient) for patient in patients.values()),
        said=(
            *note_words(context, ((order.called, order.note) for order in orders)),
            *dict.fromkeys(f"alert: {context.clean(text)}" for p in patients.values() for text in alert_texts(p)),
        ),
        patient_number=", ".join(context.clean(number) for number in patients),
        order_numbers=tuple(context.clean(order.id) for order in orders),
        test_names=tuple(dict.fromkeys(context.clean(order.called) for order in orders)),
        what=what,
        detail=context.clean(finding.message) + _owner(context, finding.order_ids),
        action=action,
        priority=min((order.priority for order in orders), key=list(Priority).index, default=Priority.ROUTINE),
        is_planned=True,
    )


def _is_only_assumed(context: ViewContext, order_id: OrderId) -> bool:
    """Return whether nobody has reported the draw of an order that counts as drawn."""
    replan = context.problem.replan
    return replan is not None and any(v.draw_id in replan.assumed and order_id in v.order_ids for v in replan.visits)


def _decision(context: ViewContext, items: Sequence[Unplanned], *, priority: Priority | None) -> DecisionLine:
    first = items[0]
    clean = context.clean
    what, action = REASON[first.reason]
    if first.reason is Reason.DRAWN_IN_VAIN and _is_only_assumed(context, first.order_id):
        what = IF_DRAWN
    patient = context.problem.patients.get(first.patient_id) if first.patient_id else None
    note_of = {order.id: order.note for order in context.problem.orders}
    return DecisionLine(
        bed=clean(context.problem.bed_words(first)),
        patient_number=clean(first.patient_id or ""),
        order_numbers=tuple(dict.fromkeys(clean(item.order_id) for item in items)),
        test_names=tuple(dict.fromkeys(clean(item.test) for item in items if item.test)),
        forbids=first.reason in NOBODY_DRAWS,
        what=what,
        detail=clean(first.detail),
        patient=_caller_says(context, patient) if patient else _listed_as(context, first),
        said=(
            *note_words(context, ((item.test, note_of.get(item.order_id, item.note)) for item in items)),
            *dict.fromkeys(f"alert: {clean(text)}" for text in (alert_texts(patient) if patient else first.alerts)),
        ),
        action=action,
        priority=priority,
    )


def _caller_says(context: ViewContext, patient: Patient) -> str:
    """Return name, birth date and number, as they are said on the phone."""
    return f"{name_words(context, patient)}, born {born_words(context, patient)}, {context.clean(patient.id)}"


def _listed_as(context: ViewContext, item: Unplanned) -> str:
    """Return who the list says a patient is of whom the round has no bed; the number alone where it says nobody."""
    number = f"patient number {context.clean(item.patient_id or '?')}"
    person = item.person
    if person is None:
        return number
    born = birth_words(person.birth_date) if person.birth_date else "not on file"
    return f"{name_words(context, person)}, born {born}, {number}"


def late_lines(context: ViewContext) -> tuple[LateLine, ...]:
    """Return every visit that is planned past the time by which an order of it should be drawn, stats first."""
    lines = []
    for route in context.plan.routes:
        for visit in context.visits_to_come(route):
            window = context.window_of(visit)
            if window.target is None or not window.late_s:
                continue
            late = [order_id for order_id, _ in late_orders(visit, context.windows)]
            lines.append(
                LateLine(
                    priority=min((context.problem.order(o).priority for o in late), key=list(Priority).index),
                    bed=context.place(context.problem.patients[visit.patient_id].bed),
                    phlebotomist=context.person(route.phlebotomist),
                    staff_index=route.phlebotomist,
                    orders=", ".join(context.clean(f"{o} {context.problem.order(o).called}") for o in late),
                    test_names=context.called(map(context.problem.order, late)),
                    planned=context.clock(visit.draw_s),
                    due=f"{context.clock(window.target.at_s)} ({RULE[window.target.rule]})",
                    late=f"{late_minutes(window.late_s)} min",
                )
            )
    lines.sort(key=lambda line: line.rank)
    return tuple(lines)


def late_orders(visit: Visit, windows: Mapping[OrderId, OrderWindow]) -> Iterator[tuple[OrderId, int]]:
    """Yield the orders of a visit that are drawn past their target, each with the seconds that it is late."""
    for order_id in visit.order_ids:
        window = windows.get(order_id)
        if window is not None and window.target_s is not None and visit.draw_s > window.target_s:
            yield order_id, visit.draw_s - window.target_s


def check_lines(context: ViewContext, findings: Iterable[Finding]) -> tuple[CheckLine, ...]:
    """Return what a person should look at: errors that no unplanned order stands for, warnings, missed wishes."""
    listed = {str(item.order_id) for item in all_unplanned(context)}
    findings = tuple(findings)
    not_read = unread(findings)
    told: set[str] = set()
    lines: dict[CheckLine, None] = {}
    for finding in sorted(findings, key=lambda f: f.severity is not Severity.ERROR):
        is_covered = bool(finding.order_ids) and listed.issuperset(finding.order_ids)
        if finding.severity is Severity.NOTE or (finding.severity is Severity.ERROR and is_covered):
            continue
        if finding.code in DECISION_CODES or finding in not_read:
            continue  # it stands in the list of decisions
        if finding.code == _PREFERENCE_CODE:
            told.update(finding.order_ids)
        lines[_check(context, _with_source(context, finding), finding.order_ids)] = None
    for order_id, rule in context.plan.preferences_missed:
        if order_id not in told:
            order = context.problem.order(order_id)
            bed = context.place(context.problem.patient_of(order).bed)
            text = f"Bed {bed}, order {order_id} {order.called}: preferred {RULE[rule]} is not met; draw it"
            lines[_check(context, context.clean(text), (order_id,))] = None
    return tuple(lines)


def merge_lines(context: ViewContext) -> tuple[CheckLine, ...]:
    """Return which draws serve several orders for one test."""
    return tuple(
        _check(
            context,
            context.clean(
                f"Bed {context.place(context.problem.patients[merge.patient_id].bed)}: one draw of "
                f"{', '.join(context.called(map(context.problem.order, merge.order_ids)))} serves "
                f"orders {', '.join(merge.order_ids)}"
            ),
            merge.order_ids,
        )
        for merge in merges_of(context.problem, context.plan)
    )


def _check(context: ViewContext, text: str, order_ids: Sequence[str]) -> CheckLine:
    people = frozenset(person for person, _ in _stops_with(context, order_ids)) if order_ids else None
    return CheckLine(text=text + _owner(context, order_ids), people=people)


def _owner(context: ViewContext, order_ids: Iterable[str]) -> str:
    """Return whose stop has these orders, who therefore checks them: ' (IS, stop 10)'; empty where nobody's has."""
    stops = _stops_with(context, order_ids)
    if len(stops) != 1:
        return ""
    [(person, number)] = stops
    return f" ({context.clean(context.problem.staff[person].initials)}, stop {number})"


def _stops_with(context: ViewContext, order_ids: Iterable[str]) -> list[tuple[int, int]]:
    """Return the visits to come that serve any of these orders, each as whose it is, and its number."""
    wanted = set(order_ids)
    return [
        (route.phlebotomist, number)
        for route in context.plan.routes
        for number, stop in context.coming(route)
        if isinstance(stop, Visit) and wanted.intersection(stop.order_ids)
    ]


def checked_orders(problem: Problem, findings: Iterable[Finding]) -> Mapping[OrderId, tuple[str, ...]]:
    """Return what a person should look at before the draw, by order; what the lead alone can mend is left out."""
    known = {order.id for order in problem.orders}
    left = _FOR_THE_LEAD | {_PREFERENCE_CODE}  # the bed says by itself what to do about a wish that is missed
    said: dict[OrderId, dict[str, None]] = {}
    for finding in findings:
        if finding.severity is not Severity.NOTE and finding.code not in left:
            for order_id in known.intersection(map(OrderId, finding.order_ids)):
                said.setdefault(order_id, {})[finding.message] = None
    return {order_id: tuple(words) for order_id, words in said.items()}


def tube_key(context: ViewContext) -> tuple[TubeKey, ...]:
    """Return a legend entry for each kind of container in the plan, in order of draw."""
    used: set[TubeCode] = {p.tube.tube for r in context.plan.routes for v in r.visits for p in v.tubes}
    kinds = sorted(
        (context.problem.catalogue.tubes[code] for code in used), key=lambda k: (k.rank, k.rank_within, k.code)
    )
    clean = context.clean
    return tuple(
        TubeKey(
            code=kind.code,
            name=clean(kind.name),
            closure=clean(kind.closure),
            additive=clean(kind.additive) + (f" ({clean(kind.iso_code)})" if kind.iso_code else ""),
            inversions=clean(kind.inversions) if kind.has_additive else "none",
            note=clean(kind.used_for),
        )
        for kind in kinds
    )


def test_key(context: ViewContext) -> tuple[TestKey, ...]:
    """Return a legend entry for each test on the sheets as the order list names it, but those that need none."""
    tests = context.problem.catalogue.tests
    named = {order.called: order.test for order in context.problem.orders}
    named = {item.test: TestCode(item.test) for item in all_unplanned(context)} | named
    entries = (
        (context.clean(called), context.clean(tests[code].name)) for called, code in named.items() if code in tests
    )
    return tuple(TestKey(called=called, name=name) for called, name in sorted(set(entries)) if called != name)
