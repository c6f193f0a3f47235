"""Builds the one shared view of a round that every sheet, page and list prints."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime

from planner.domain.beds import names_listed
from planner.domain.draws import DrawGap, OrderWindow
from planner.domain.orders import OrderId
from planner.domain.plan import Plan
from planner.domain.policy import EVERYBODY, SheetPolicy
from planner.domain.problem import Problem
from planner.exporters.view.context import ViewContext
from planner.exporters.view.drawn.map import map_view
from planner.exporters.view.drawn.timeline import timeline_view
from planner.exporters.view.goals import goal_lines, price_lines, stat_lines
from planner.exporters.view.lists import (
    check_lines,
    checked_orders,
    decision_lines,
    late_lines,
    list_decisions,
    merge_lines,
    planned_decisions,
    test_key,
    tube_key,
    urgent_first,
)
from planner.exporters.view.marks import CHANGE_MARKS, MARKS
from planner.exporters.view.notes.replan import replan_view
from planner.exporters.view.people import route_words
from planner.exporters.view.round_view import RoundView
from planner.exporters.view.routes import collection_lines, route_view, with_packets
from planner.exporters.view.rows import CheckLine
from planner.exporters.view.supplies import spare_words, supply_lines
from planner.exporters.view.texts import TextCleaner, cautions
from planner.exporters.view.words import CONFIDENTIALITY, PHONES, count_words, day_words
from planner.findings import EDITED, Finding
from planner.units import format_ml

_KEY = re.compile(r" \([a-z_]+\.[a-z_]+\)")
"""A key of the policy file, which says nothing to who reads the sheet."""
_DIALLED = re.compile(r"\+?[\d ()./-]+")


def build_view(
    problem: Problem,
    plan: Plan,
    order_windows: Mapping[OrderId, OrderWindow],
    *,
    gaps: tuple[DrawGap, ...] = (),
    dues_s: Mapping[OrderId, int] | None = None,
    revision: int,
    findings: Iterable[Finding] = (),
    printed_at: datetime | None = None,
    extra_summary: Iterable[str] = (),
) -> RoundView:
    """Return the view of a plan.

    Parameters
    ----------
    problem, plan
        The round and what was planned for it.
    order_windows
        The window of every order that has one (see ``planner.visits.windows``).
    gaps
        What the visits to come keep between one another (see ``planner.visits.linked``): slack ends there too.
    dues_s
        When stat and asap orders should be in the laboratory (see ``planner.visits.to_laboratory``): so does slack.
    revision
        Number of the plan's revision, printed on every page.
    findings
        What loading, planning and checking said; warnings are printed as things to check.
    printed_at
        When the sheet is made; None leaves it out.
    extra_summary
        Further lines of the overview, such as the comparison with the bed-order walk.
    """
    findings = tuple(findings)
    context = ViewContext(
        problem, plan, order_windows, TextCleaner(), checked_orders(problem, findings), gaps, dues_s or {}
    )
    shaped = route_words(context)
    routes = with_packets(
        tuple(replace(route_view(context, route), shaped=shaped.get(route.phlebotomist, "")) for route in plan.routes)
    )
    decisions = urgent_first(
        (
            *planned_decisions(context, findings),
            *list_decisions(context, findings),
            *decision_lines(context, needs_decision=True),
        )
    )
    view = RoundView(
        title=context.clean(problem.round_name),
        date=f"{problem.clock.day.strftime('%A')} {day_words(problem.clock.day)}",
        wards=names_listed(sorted({context.clean(patient.ward) for patient in problem.patients.values()})),
        has_several_wards=context.names.has_several_wards,
        revision=_revision(context, revision) + _by_hand(findings),
        printed="" if printed_at is None else f"printed {printed_at:%Y-%m-%d %H:%M}",
        confidentiality=CONFIDENTIALITY,
        summary=(*_summary(context), *(context.clean(line) for line in extra_summary)),
        decisions=decisions,
        late=late_lines(context),
        checks=(*_old(problem, printed_at), *check_lines(context, findings), *merge_lines(context)),
        for_information=decision_lines(context, needs_decision=False),
        routes=routes,
        collections=collection_lines(context),
        supplies=supply_lines(context),
        spare_rule=spare_words(problem),
        phones=_phones(context),
        numbers=_numbers(problem.policy.sheet),
        ends_at=problem.clock.iso(problem.end_s),
        page_keeps_s=problem.policy.sheet.page_keeps_s,
        goals=goal_lines(context),
        prices=price_lines(problem),
        stats=stat_lines(context),
        assumptions=tuple(context.clean(_KEY.sub("", text)) for text in problem.assumptions),
        tube_key=tube_key(context),
        test_key=test_key(context),
        marks_key=(*MARKS, *(CHANGE_MARKS if problem.replan else ())),
        cautions=cautions(),
        map=map_view(context),
        timeline=timeline_view(context),
        number=revision,
        unconfirmed=context.unconfirmed,
        replan=replan_view(context),
    )
    return _with_cleaning(view, context.clean.removed)


def _old(problem: Problem, printed_at: datetime | None) -> tuple[CheckLine, ...]:
    """Return a warning where the sheet is printed on another day than the round's, the day before excepted."""
    if printed_at is None:
        return ()
    days = (problem.clock.day - printed_at.date()).days
    if days in (0, 1):
        return ()
    printed, day = day_words(printed_at.date()), day_words(problem.clock.day)
    return (CheckLine(text=f"Printed {printed}, but the round is of {day}: is it today's?"),)


def _with_cleaning(view: RoundView, removed: int) -> RoundView:
    if not removed:
        return view
    line = f"{count_words(removed, 'unprintable character')} removed from names and texts: compare with the wristband"
    return replace(view, checks=(*view.checks, CheckLine(text=line)))


def _phones(context: ViewContext) -> tuple[tuple[str, str], ...]:
    """Return whom to phone: as the site says, else with room to write the numbers in."""
    told = context.problem.policy.sheet.phones
    if not told:
        return tuple((f"{who} _______", when) for who, when in PHONES.items())
    order = list(PHONES)
    known = sorted(told, key=lambda who: (order.index(who) if who in PHONES else len(order), who))
    return tuple(
        (context.clean(f"{'' if who == EVERYBODY else who} {told[who]}"), PHONES.get(who, "")) for who in known
    )


def _numbers(sheet: SheetPolicy) -> tuple[str, ...]:
    """Return what of the site's numbers a telephone can dial: at least three digits, and no words."""
    stated = dict.fromkeys((*sheet.phones.values(), sheet.needlestick_phone))
    return tuple(number for number in stated if _DIALLED.fullmatch(number) and sum(map(str.isdigit, number)) >= 3)


def _by_hand(findings: Iterable[Finding]) -> str:
    """Return what stands behind the revision on every page of a plan that was changed by hand; empty for others."""
    return ", CHANGED BY HAND" if any(finding.code == EDITED for finding in findings) else ""


def _revision(context: ViewContext, number: int) -> str:
    """Return what stands on every page: 'revision 1', 'revision r2, replaces r1, as of 05:42'."""
    replan = context.problem.replan
    if replan is None:
        return f"revision {number}"
    return f"revision r{number}, replaces r{replan.parent}, as of {context.clock(replan.now_s)}"


def _summary(context: ViewContext) -> tuple[str, ...]:
    plan = context.plan
    visits = [visit for route in plan.routes for visit in context.visits_to_come(route)]
    num_past = sum(len(route.visits) for route in plan.routes) - len(visits)
    tubes = [planned.tube for visit in visits for planned in visit.tubes]
    num_orders = sum(len(visit.order_ids) for visit in visits)
    to_come = " to come" if context.problem.replan else ""
    return (
        *((f"{count_words(num_past, 'visit')} done or under way",) if context.problem.replan else ()),
        f"{count_words(len(visits), 'visit')}{to_come} for {count_words(num_orders, 'order')}, "
        f"{count_words(len(plan.routes), 'phlebotomist')}",
        f"{count_words(sum(not tube.is_discard for tube in tubes), 'tube')}, "
        f"{format_ml(sum(tube.volume_ul for tube in tubes))} mL of blood",
    )
