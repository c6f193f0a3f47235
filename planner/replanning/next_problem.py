"""From a plan and what happened since to the problem of the next revision."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from planner.domain.orders import Order, OrderId
from planner.domain.places import PickupKind
from planner.domain.plan import Break, Handover, Plan, Reason, Unplanned, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.changes import Change, Refused
from planner.domain.revisions.event_kinds import Channel
from planner.domain.revisions.events import Event, EventId, PhlebotomistLate, PhlebotomistNeverCame
from planner.domain.revisions.replan import AddOn, Held, Loaded, Past, Promised, PromisedPause, Replan
from planner.domain.revisions.reported import Reported
from planner.findings import Finding, Severity
from planner.replanning.addons.addons import drawn_tubes, find_addons
from planner.replanning.addons.lost import still_added
from planner.replanning.changes.apply import Changed, apply_changes, apply_events
from planner.replanning.past.freeze import collectors, freeze
from planner.replanning.past.outcomes import answers, settle, without_recollected
from planner.replanning.past.outside import drawn_outside
from planner.replanning.past.taken_back import TakenBack, comes_back
from planner.replanning.past.unreported import unreported
from planner.replanning.past.walking_on import walking_on


@dataclass(frozen=True, slots=True, kw_only=True)
class NextProblem:
    """The problem of the next revision, and what is worth saying about what was told."""

    problem: Problem
    findings: tuple[Finding, ...]
    refused: tuple[Refused, ...] = ()
    """What was reported and cannot be applied; its findings are among the others."""


def next_problem(
    problem: Problem,
    plan: Plan,
    *,
    parent: int,
    now_s: int,
    reports: Sequence[Reported] = (),
    changes: Iterable[Change] = (),
    taken_back: TakenBack | None = None,
) -> NextProblem:
    """Return the round as it stands at ``now_s``: what happened stays, what was reported is applied.

    Parameters
    ----------
    problem, plan
        The revision that is gone on with.
    parent
        Number of the last revision: that one, unless something is taken back.
    now_s
        The time it is, seconds after midnight of the round's day; not before the last revision's.
    reports, changes
        What was reported of visits, and of everything else (tests as codes of the catalogue).
    """
    given = tuple(changes)

    known = problem.replan.past if problem.replan else ()
    came = {
        one.phlebotomist
        for one in known
        for n, s in enumerate(one.stops)
        if isinstance(s, Visit) and n not in one.assumed
    }
    came.update(collectors(plan, (report for report in reports if report.was_there)).values())

    def apply(past: Sequence[Past]) -> Changed:
        drawn, assumed = _drawn(past), _assumed(past, now_s)
        return apply_changes(problem, plan, given, now_s, drawn=drawn, reported=came, assumed=assumed)

    return _following(problem, plan, parent, now_s, reports, apply, taken_back)


def remade_problem(
    problem: Problem,
    plan: Plan,
    *,
    parent: int,
    now_s: int,
    events: Sequence[Event],
    taken_back: TakenBack | None = None,
) -> Problem:
    """Return the problem of a revision again: its parent's problem and plan, and the events that made it.

    Parameters
    ----------
    problem, plan, parent, now_s
        As for `next_problem`.
    events
        Those of the revision (`Replan.events`).
    """
    reports = [event.what for event in events if isinstance(event.what, Reported)]

    def apply(past: Sequence[Past]) -> Changed:
        return apply_events(problem, plan, events, now_s, drawn=_drawn(past))

    return _following(problem, plan, parent, now_s, reports, apply, taken_back).problem


def _following(
    problem: Problem,
    plan: Plan,
    parent: int,
    now_s: int,
    reports: Sequence[Reported],
    apply: Callable[[Sequence[Past]], Changed],
    taken_back: TakenBack | None,
) -> NextProblem:
    """Return the next problem; ``apply`` applies all but the reports, given what happened by now."""
    log = problem.replan.log if problem.replan else ()
    absent = _people(log, PhlebotomistNeverCame)
    back = comes_back(problem, plan, taken_back) if taken_back else ()
    left_out = frozenset(visit.draw_id for visit in back)
    made = [report for report in reports if report.was_there]
    frozen = freeze(problem, plan, made, now_s, never_came=absent, left_out=left_out)
    changed = apply(frozen)
    held, gone_missing = _people(changed.events, PhlebotomistLate), _people(changed.events, PhlebotomistNeverCame)
    if held or gone_missing:  # what was assumed of them was not so
        frozen = freeze(problem, plan, made, now_s, held=held, never_came=absent | gone_missing, left_out=left_out)
        changed = apply(frozen)
    past = _with_people(without_recollected(frozen, changed.recollect), changed, now_s)
    answered = answers(plan, reports, now_s)
    settled = settle(changed.problem, past, made, answered)
    addons, listed, notes = _addons(changed, past, plan, now_s)
    old, sheet = problem.replan, taken_back.sheet if taken_back else plan
    older = (replace(taken_back.replan, log=log),) if taken_back else ()
    kept = still_added(changed.problem, past, old.addons if old else ())
    events = _numbered(parent + 1, [*(_reported(report, now_s) for report in reports), *changed.events])
    gone = {item.order_id for item in (*settled.set_aside, *listed)}
    orders = tuple(order for order in changed.problem.orders if order.id not in gone)
    following = replace(
        changed.problem,
        orders=orders,
        set_aside=(*kept.set_aside, *settled.set_aside, *listed),
        replan=Replan(
            parent=parent,
            now_s=now_s,
            events=events,
            log=(*(old.log if old else ()), *events),
            goes_on_from=taken_back.goes_on_from if taken_back else None,
            taken_back=taken_back.events if taken_back else (),
            notes=old.notes if old else (),
            past=past,
            promised=walking_on(replace(changed.problem, orders=orders), sheet, past, older),
            came_back=_walked_to(back, walking_on(replace(changed.problem, orders=orders), plan, past)),
            answered=(*(old.answered if old else ()), *answered),
            pauses=_pauses(sheet, past),
            retries=tuple(retry for retry in settled.retries if retry.order_id in {order.id for order in orders}),
            addons=(*kept.addons, *addons),
            joined=frozenset(range(len(problem.staff), len(changed.problem.staff))),
            loaded=_loaded(problem, plan, taken_back.goes_on_from if taken_back else parent, now_s),
        ),
    )
    asked = (*unreported(problem, plan, frozen, reports, now_s, left_out), *drawn_outside(changed.problem, made))
    replan = following.replan
    if replan is not None and replan.returning:
        own = [pause for pause in _pauses(plan, past) if pause.phlebotomist in replan.returning]
        others = [pause for pause in replan.pauses if pause.phlebotomist not in replan.returning]
        following = replace(following, replan=replace(replan, pauses=(*others, *own)))
    return NextProblem(problem=following, findings=(*changed.findings, *notes, *asked), refused=changed.refused)


def _walked_to(back: Iterable[Promised], walked: Iterable[Promised]) -> tuple[Promised, ...]:
    """Return what comes back and is still to come, with when its phlebotomist comes to it as on their own sheet."""
    on_sheet = {one.draw_id: one for one in walked}
    return tuple(
        replace(visit, position=own.position, walking_on_s=own.walking_on_s)
        for visit in back
        if (own := on_sheet.get(visit.draw_id)) is not None
    )


def _people(events: Iterable[Event], kind: type[PhlebotomistLate | PhlebotomistNeverCame]) -> frozenset[int]:
    """Return the phlebotomists whom events of a kind are about."""
    return frozenset(event.what.phlebotomist for event in events if isinstance(event.what, kind))


def _reported(report: Reported, now_s: int) -> Event:
    """Return the event of a report; one without a file was given by an option."""
    is_file = report.source is not None and not report.source.file.startswith("--")
    channel = Channel.PROGRESS_FILE if is_file else Channel.OPTION
    return Event(id=EventId(""), said_s=now_s, what=report, happened_s=report.at_s, by=report.initials, came_by=channel)


def _numbered(revision: int, events: Sequence[Event]) -> tuple[Event, ...]:
    return tuple(replace(event, id=EventId(f"{revision}-{n}")) for n, event in enumerate(events, start=1))


def _drawn(past: Iterable[Past]) -> frozenset[OrderId]:
    visits = (stop for one in past for stop in one.stops if isinstance(stop, Visit))
    return frozenset(order_id for visit in visits for order_id in visit.order_ids)


def _assumed(past: Iterable[Past], now_s: int) -> dict[OrderId, Held]:
    """Return who counts as having drawn which orders, and when, although nobody reported it."""
    visits = ((one.phlebotomist, one.stops[n]) for one in past for n in one.assumed)
    return {
        order_id: Held(phlebotomist=person, draw_s=visit.draw_s, until_s=now_s)
        for person, visit in visits
        if isinstance(visit, Visit)
        for order_id in visit.order_ids
    }


def _with_people(past: Sequence[Past], changed: Changed, now_s: int) -> tuple[Past, ...]:
    """Return the past with those who join, none of whom has done anything, those held up, and those out.

    Who collects no more is free only when her shift is over: the round's end, and so which orders are its own, stays.
    """
    joined = [
        Past(phlebotomist=person, stops=(), place=who.starts_at, free_s=max(now_s, who.from_s))
        for person, who in enumerate(changed.problem.staff)
        if person >= len(past)
    ]
    ready_s = changed.people.ready_s
    ends_s = {person: changed.problem.staff[person].until_s for person in changed.people.lost}
    return tuple(
        replace(one, free_s=max(one.free_s, ready_s.get(one.phlebotomist, 0), ends_s.get(one.phlebotomist, 0)))
        for one in (*past, *joined)
    )


def _loaded(problem: Problem, plan: Plan, revision: int, now_s: int) -> tuple[Loaded, ...]:
    """Return what those who have set out took along: for the revision that is gone on with, unless they did before."""
    known = {one.phlebotomist: one for one in problem.replan.loaded} if problem.replan else {}
    visits = {route.phlebotomist: route.visits for route in plan.routes}
    return tuple(
        known.get(person)
        or Loaded(
            phlebotomist=person,
            revision=revision,
            visits=tuple(visit for visit in visits.get(person, ()) if visit.outcome is None),
        )
        for person, who in enumerate(problem.staff)
        if person in known or who.from_s <= now_s
    )


def _pauses(plan: Plan, past: Iterable[Past]) -> tuple[PromisedPause, ...]:
    """Return the hand-overs and breaks of a plan that have not been made, those that were due among them."""
    begun = {stop.draw_id for one in past for stop in one.stops if isinstance(stop, Visit)}
    made = Counter(
        (one.phlebotomist, stop.place, _kind(stop)) for one in past for stop in one.stops if not isinstance(stop, Visit)
    )
    found: list[PromisedPause] = []
    for route in plan.routes:
        num_before = 0
        for stop in route.stops:
            if isinstance(stop, Visit):
                num_before += stop.draw_id not in begun
                continue
            key = (route.phlebotomist, stop.place, _kind(stop))
            if made[key]:
                made[key] -= 1
                continue
            found.append(
                PromisedPause(
                    phlebotomist=route.phlebotomist,
                    num_before=num_before,
                    place=stop.place,
                    kind=_kind(stop),
                    departs_s=stop.departs_s if isinstance(stop, Handover) else None,
                )
            )
    return tuple(found)


def _kind(stop: Handover | Break) -> PickupKind | None:
    """Return how specimens leave at a hand-over; None for a break."""
    return stop.kind if isinstance(stop, Handover) else None


def _addons(
    changed: Changed, past: Sequence[Past], plan: Plan, now_s: int
) -> tuple[tuple[AddOn, ...], tuple[Unplanned, ...], tuple[Finding, ...]]:
    """Return the new orders that tubes already drawn can serve, their entries for the list, and why others cannot."""
    problem = changed.problem
    new = [order for order in problem.orders if order.id in set(changed.added)]
    addons, not_served = find_addons(problem, drawn_tubes(problem, past, plan), new, now_s)
    order_of = {order.id: order for order in new}
    listed = tuple(_listed(problem, order_of[addon.order_id], addon) for addon in addons)
    notes = tuple(
        Finding(
            code="no-add-on",
            severity=Severity.NOTE,
            message=f"order {order.id} ({order.test}) is drawn again: {why}",
            order_ids=(order.id,),
        )
        for order, why in not_served
    )
    return addons, listed, notes


def _listed(problem: Problem, order: Order, addon: AddOn) -> Unplanned:
    clock = problem.clock
    limit = "" if addon.limit_s is None else f", to be begun by {clock.format_clock(addon.limit_s)}"
    return Unplanned.of(
        order,
        Reason.ADD_ON,
        f"phone the laboratory: add {order.test} to the {addon.tube} tube drawn at "
        f"{clock.format_clock(addon.drawn_s)} by {addon.collector}{limit}",
        bed=problem.patients[order.patient_id].bed,
    )
