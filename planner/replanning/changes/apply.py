"""Applies what a lead tells to a round: stat orders, cancellations, beds, people, couriers.

Changes of one command are applied kind by kind, whatever the order in which they were typed: new beds, who is gone,
who was moved (all at once), new orders, stat orders, doses and times, cancellations, absences, recollections, people,
couriers. So a bed in a change is the one in which the patient lies after all moves. What cannot be applied is a
finding, and the rest goes on.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from typing import TypeVar

from planner.domain.orders import OrderId
from planner.domain.plan import Plan
from planner.domain.problem import Problem
from planner.domain.revisions.changes import (
    Away,
    Cancel,
    Change,
    Courier,
    Dose,
    Gone,
    Join,
    Late,
    Lost,
    Moved,
    NeverCame,
    NewBed,
    NewOrders,
    Recollect,
    StatOrders,
    Timing,
)
from planner.domain.revisions.events import Event
from planner.domain.revisions.replan import Held
from planner.replanning.changes.beds import apply_away, apply_gone, apply_moves, apply_new_bed
from planner.replanning.changes.couriers import apply_courier
from planner.replanning.changes.listed_orders import apply_new_orders
from planner.replanning.changes.order_parts import apply_dose, apply_time
from planner.replanning.changes.orders import apply_cancel, apply_recollect, apply_stat
from planner.replanning.changes.people import apply_join, apply_late, apply_lost, apply_never_came, recall_people
from planner.replanning.changes.perform import do_again
from planner.replanning.changes.working import Changed, PeopleChange, Working, drawn_orders

__all__ = ["Change", "Changed", "PeopleChange", "apply_changes", "apply_events", "drawn_orders"]

C = TypeVar("C", bound=Change)

OPTION_OF: Mapping[type, str] = {
    NewBed: "new-bed",
    Gone: "gone",
    NewOrders: "orders",
    StatOrders: "stat",
    Dose: "dose",
    Timing: "time",
    Cancel: "cancel",
    Away: "away",
    Recollect: "recollect",
    Lost: "lost",
    NeverCame: "never-came",
    Late: "late",
    Join: "join",
    Courier: "courier",
}
"""The option by which a change of a kind is told."""


def apply_changes(
    problem: Problem,
    plan: Plan,
    changes: Iterable[Change],
    now_s: int,
    drawn: Collection[OrderId] | None = None,
    reported: Collection[int] = (),
    assumed: Mapping[OrderId, Held] | None = None,
) -> Changed:
    """Return the round after the changes; the problem given is left as it is.

    Parameters
    ----------
    problem, plan
        The revision that is replanned.
    changes
        What was reported, tests as codes of the catalogue. What happened already (`Replan.log`), or is given twice, is
        recognised by what it says, and not applied again.
    now_s
        When it was told, seconds after midnight of the round's day.
    drawn
        The orders whose blood is drawn by now; None: those that `drawn_orders` takes from the plan.
    reported
        The phlebotomists of whom a visit was reported, now or before.
    assumed
        Of the orders that nobody reported as drawn and that count so, who had them when.
    """
    work = Working(problem, plan, now_s, drawn_orders(plan, now_s) if drawn is None else drawn, reported, assumed)
    recall_people(work)
    told = list(changes)
    different = [change for n, change in enumerate(told) if change not in told[:n]]
    if len(different) < len(told):
        work.say_known("a change is given twice in this command")
    _each(work, different, NewBed, apply_new_bed)
    _each(work, different, Gone, apply_gone)
    work.option, work.typed = "moved", ""
    apply_moves(work, [change for change in different if isinstance(change, Moved)])
    _each(work, different, NewOrders, apply_new_orders)
    _each(work, different, StatOrders, apply_stat)
    _each(work, different, Dose, apply_dose)
    _each(work, different, Timing, apply_time)
    _each(work, different, Cancel, apply_cancel)
    _each(work, different, Away, apply_away)
    _each(work, different, Recollect, apply_recollect)
    _each(work, different, Lost, apply_lost)
    _each(work, different, NeverCame, apply_never_came)
    _each(work, different, Late, apply_late)
    _each(work, different, Join, apply_join)
    _each(work, different, Courier, apply_courier)
    return work.result()


def apply_events(
    problem: Problem, plan: Plan, events: Iterable[Event], now_s: int, drawn: Collection[OrderId]
) -> Changed:
    """Return the round after events of the log, as `apply_changes` left it when they were new."""
    work = Working(problem, plan, now_s, drawn)
    recall_people(work)
    do_again(work, events)
    return work.result()


def _each(work: Working, changes: Iterable[Change], kind: type[C], apply: Callable[[Working, C], None]) -> None:
    """Apply the changes of one kind in the order in which they were told."""
    work.option = OPTION_OF[kind]
    for change in changes:
        if isinstance(change, kind):
            work.typed = change.typed
            apply(work, change)
