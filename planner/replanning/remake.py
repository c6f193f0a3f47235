"""Makes the revisions of a round again, from the first plan and the log of events, and compares them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, fields

from planner.domain.plan import Plan
from planner.domain.prices import tried_values, with_prices
from planner.domain.problem import Problem
from planner.domain.revisions.events import Event
from planner.finding_codes import Code
from planner.findings import Finding, Severity
from planner.replanning.next_problem import remade_problem
from planner.replanning.past.taken_back import TakenBack

CODE: Code = "revision-differs"


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A revision as it was written: its round and plan."""

    problem: Problem
    plan: Plan


def remade_faults(
    revisions: Mapping[int, Made],
    replanned: Callable[[int, Problem], Plan | None],
    read_again: Callable[[Problem], Problem] = lambda problem: problem,
) -> Iterator[Finding]:
    """Yield a finding for each revision that its parent and its events do not make again.

    Parameters
    ----------
    revisions
        All revisions by their number, planned afresh or replanned.
    replanned
        Plans the round of a revision as it was planned; None: that cannot be repeated (another version, stopped by
        the clock).
    read_again
        Reads the texts of a round once its events are applied, as the replan did.
    """
    for number, made in sorted(revisions.items()):
        replan = made.problem.replan
        if replan is None or replan.notes or replan.parent not in revisions:
            continue
        base = replan.parent if replan.goes_on_from is None else replan.goes_on_from
        if base not in revisions:
            continue
        before = revisions[base]
        again = read_again(
            remade_problem(
                before.problem,
                before.plan,
                parent=replan.parent,
                now_s=replan.now_s,
                events=replan.events,
                taken_back=None if replan.goes_on_from is None else taken_back(revisions, replan.parent, base),
            )
        )
        again = with_prices(again, tried_values(made.problem))  # of one command, and no event
        if again != made.problem:
            parts = [f.name for f in fields(Problem) if getattr(again, f.name) != getattr(made.problem, f.name)]
            yield _finding(number, f"its events make another round of revision {base}: {', '.join(parts)} differ")
            continue
        plan = replanned(number, again)
        if plan is not None and (plan.routes, plan.unplanned) != (made.plan.routes, made.plan.unplanned):
            yield _finding(number, "its round, planned again, gives other routes")


def taken_back(revisions: Mapping[int, Made], last: int, base: int) -> TakenBack:
    """Return what is taken back when a revision goes on from an earlier one than the last."""
    newest = revisions[last]
    assert newest.problem.replan is not None  # only a replan can be taken back
    kept = {event.id for event in _log(revisions[base].problem)}
    events = tuple(event for event in _log(newest.problem) if event.id not in kept)
    return TakenBack(goes_on_from=base, plan=newest.plan, replan=newest.problem.replan, events=events)


def before_the_last_command(revisions: Mapping[int, Made], last: int) -> int | None:
    """Return the revision that stands when the last command in force is taken back; None: there is no command."""
    number = last
    while (replan := revisions[number].problem.replan) is not None:
        if replan.goes_on_from is None:
            return replan.parent
        if replan.events:
            return replan.goes_on_from
        number = replan.goes_on_from  # it only took something back
    return None


def _log(problem: Problem) -> tuple[Event, ...]:
    return problem.replan.log if problem.replan else ()


def _finding(number: int, what: str) -> Finding:
    message = f"revision {number}: {what}; the file was changed by hand, or by another version"
    return Finding(code=CODE, severity=Severity.ERROR, message=message)
