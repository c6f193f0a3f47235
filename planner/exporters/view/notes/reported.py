"""Says to whose stop it was what was reported of it: a stop of the last sheet that is gone because of a report."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from planner.domain.orders import OrderId, Priority
from planner.domain.plan import Outcome, Route, Visit
from planner.domain.revisions.event_kinds import Channel
from planner.domain.revisions.reported import Reported
from planner.exporters.view.context import ViewContext
from planner.exporters.view.notes.change_words import lies_now
from planner.exporters.view.words import OUTCOME_SAID, join_words

_NOT_DRAWN = frozenset({Outcome.REFUSED, Outcome.AWAY, Outcome.UNIDENTIFIED, Outcome.UNSUCCESSFUL})


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportedStop:
    """A visit of which this revision brought a report, and in words what was reported and who goes there again."""

    visit: Visit
    words: str
    is_stat: bool


def reported_stops(context: ViewContext, route: Route) -> Iterator[ReportedStop]:
    """Yield the stops of somebody that are to be left out because of what was reported by option.

    These are visits of which somebody said by itself that they brought nothing, and visits that were still to come by
    the last sheet, whatever was said of them. What somebody lists as done is not said back to them.
    """
    replan = context.problem.replan
    if replan is None:
        return
    reports: dict[str, list[Reported]] = {}
    for event in replan.events:
        if isinstance(event.what, Reported) and event.came_by is Channel.OPTION:
            reports.setdefault(event.what.draw_id, []).append(event.what)
    own = {stop.draw_id for stop in route.stops[: context.num_past(route)] if isinstance(stop, Visit)}
    for visit in replan.visits:
        told = reports.get(visit.draw_id, ())
        had = [r for r in told if (visit.draw_id in own if r.held_by is None else r.held_by == route.phlebotomist)]
        if any(_is_left_out(visit, report, replan.now_s) for report in had):
            words = _words(context, route, visit, had[-1])
            yield ReportedStop(visit=visit, words=words, is_stat=_is_stat(context, visit))


def _is_left_out(visit: Visit, report: Reported, now_s: int) -> bool:
    """Whether a report takes a stop away from somebody who may not know of it: another person made it, say.

    A report without a time is of the time on the last sheet, at the latest of now: one of now was still to come.
    """
    was_to_come = report.held_by is not None or (report.at_s in (None, now_s) and visit.draw_s >= now_s)
    return was_to_come or (report.is_by_itself and report.outcome in _NOT_DRAWN)


def _is_stat(context: ViewContext, visit: Visit) -> bool:
    own = {*visit.order_ids, *visit.tried}
    aside = {item.order_id for item in context.problem.set_aside if item.priority is Priority.STAT}
    return context.problem.has_stat(own) or bool(own & aside)


def _words(context: ViewContext, route: Route, visit: Visit, report: Reported) -> str:
    said = f"reported as {OUTCOME_SAID[visit.outcome or Outcome.COLLECTED]}"
    if report.drawn_by is not None:
        said += f" at {context.clock(visit.draw_s)} by {context.person(report.drawn_by)}"
    now = lies_now(context, visit.patient_id, visit.place)
    there = "to that bed" if now else "there"
    again = [
        _again(context, route, other, coming, there)
        for other, coming in _coming(context, {*visit.order_ids, *visit.tried})
    ]
    more = "; ".join(filter(None, (now, join_words(again) if again else "")))
    return f"{said}. {more[:1].upper()}{more[1:]}" if more else said


def _coming(context: ViewContext, order_ids: set[OrderId]) -> Iterator[tuple[Route, Visit]]:
    """Yield the visits to come that draw any of some orders, with their routes."""
    for route in context.plan.routes:
        for visit in context.visits_to_come(route):
            if order_ids & set(visit.order_ids):
                yield route, visit


def _again(context: ViewContext, route: Route, other: Route, visit: Visit, there: str) -> str:
    at = context.clock(visit.draw_s)
    if other.phlebotomist == route.phlebotomist:
        return f"you go {there} again, to draw at {at}"
    return f"{context.person(other.phlebotomist)} goes {there}, to draw at {at}"
