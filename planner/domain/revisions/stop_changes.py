"""What a replanned round changes for the people who walk it: stops added, moved, dropped, or with other orders."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import Enum

from planner.domain.orders import OrderId, PatientId
from planner.domain.places import PlaceId
from planner.domain.plan import Plan, Unplanned, Visit
from planner.domain.problem import Problem
from planner.domain.revisions.replan import Promised


class ChangeKind(Enum):
    """What became of a stop. The value is its code in plan.json."""

    ADDED = "added"
    MOVED = "moved"
    DROPPED = "dropped"
    ORDERS = "orders"
    """Same person, place in the order and time, but other orders: other tubes."""


class Move(Enum):
    """In which way a stop moved."""

    PERSON = "person"
    ORDER = "order"
    TIME = "time"
    BED = "bed"
    """The patient lies elsewhere now."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StopChange:
    """One visit to come that is not as the last sheet has it.

    ``before`` is what the last sheet has (None: added); ``visit`` and ``phlebotomist`` (an index into
    ``Problem.staff``) what this plan has (None: dropped). ``moves`` says in which ways it moved, ``new_orders`` and
    ``gone_orders`` what was added to it and taken from it. ``reasons`` say of the orders that are gone why nobody
    draws them; an order that another visit or an add-on serves has none.
    """

    kind: ChangeKind
    patient_id: PatientId
    place: PlaceId
    before: Promised | None = None
    phlebotomist: int | None = None
    visit: Visit | None = None
    moves: tuple[Move, ...] = ()
    new_orders: tuple[OrderId, ...] = ()
    gone_orders: tuple[OrderId, ...] = ()
    reasons: tuple[Unplanned, ...] = ()


def stop_changes(problem: Problem, plan: Plan) -> tuple[StopChange, ...]:
    """Return what changed since the last sheet: visits to come in the order of the routes, then those dropped.

    A visit is the one of the last sheet with which it has most orders in common. It moved when another person makes
    it, when the patient lies in another bed, when it is drawn more than ``policy.replan.change_s`` later than expected
    (`Promised.due_s`: a stop that is late because its phlebotomist is behind was not moved), or when it left the order
    of the stops: of the visits that a person keeps, as many as can be keep their order, and the rest moved. (From
    promised 1 2 3 4 to 1 4 2 3 only 4 moved; a stop added or dropped before them moves none.)
    A promised visit with an outcome was made, and one that no visit to come goes on with is dropped.
    Without ``problem.replan`` nothing changed.
    """
    if problem.replan is None:
        return ()
    promised = problem.replan.promised
    coming = _coming(plan)
    match = _match(promised, coming)
    kept = _in_order(problem, promised, coming, match)
    reasons = {u.order_id: u for u in (*problem.set_aside, *plan.unplanned)}
    changes = [
        _change(problem, visit, person, None if n not in match else promised[match[n]], n in kept, reasons)
        for n, (person, visit) in enumerate(coming)
    ]
    made = {o for route in plan.routes for v in route.visits if v.outcome is not None for o in (*v.order_ids, *v.tried)}
    gone = [p for i, p in enumerate(promised) if i not in match.values() and not made & set(p.order_ids)]
    return (*(c for c in changes if c is not None), *(_dropped(p, reasons) for p in gone))


def _coming(plan: Plan) -> list[tuple[int, Visit]]:
    """Return the visits to come with who makes each, route after route."""
    return [(route.phlebotomist, v) for route in plan.routes for v in route.visits if v.outcome is None]


def _match(promised: Sequence[Promised], coming: Sequence[tuple[int, Visit]]) -> dict[int, int]:
    """Return the index of the promised visit that each visit to come goes on with, most orders in common first."""
    pairs = [
        (-len(common), i, n)
        for n, (_, visit) in enumerate(coming)
        for i, before in enumerate(promised)
        if (common := set(visit.order_ids) & set(before.order_ids))
    ]
    match: dict[int, int] = {}
    for _, i, n in sorted(pairs):
        if n not in match and i not in match.values():
            match[n] = i
    return match


def _in_order(
    problem: Problem,
    promised: Sequence[Promised],
    coming: Sequence[tuple[int, Visit]],
    match: Mapping[int, int],
) -> set[int]:
    """Return the visits to come that keep their person and their order: for each person a longest such run."""
    kept: set[int] = set()
    for person in {person for person, _ in coming}:
        own = [n for n, (p, _) in enumerate(coming) if p == person and n in match]
        own = [n for n in own if promised[match[n]].phlebotomist == person]
        on_time = [_is_on_time(problem, promised[match[n]], coming[n][1]) for n in own]
        run = longest_run([promised[match[n]].position for n in own], on_time)
        kept.update(own[k] for k in run)
    return kept


def longest_run(positions: Sequence[int], preferred: Sequence[bool]) -> list[int]:
    """Return the indices of a longest ascending run of positions; among equals one with most preferred entries."""
    best: list[tuple[int, int, int]] = []  # length, preferred entries, and the entry before
    for k, position in enumerate(positions):
        before = max(
            ((best[j][0], best[j][1], j) for j in range(k) if positions[j] < position),
            default=(0, 0, -1),
            key=lambda entry: entry[:2],
        )
        best.append((before[0] + 1, before[1] + preferred[k], before[2]))
    run: list[int] = []
    k = max(range(len(best)), key=lambda k: best[k][:2], default=-1)
    while k >= 0:
        run.append(k)
        k = best[k][2]
    return run[::-1]


def _is_on_time(problem: Problem, before: Promised, visit: Visit) -> bool:
    return visit.draw_s - before.due_s <= problem.policy.replan.change_s


def _change(
    problem: Problem,
    visit: Visit,
    person: int,
    before: Promised | None,
    is_in_order: bool,
    reasons: Mapping[OrderId, Unplanned],
) -> StopChange | None:
    """Return what changed about a visit to come; None: nothing."""
    if before is None:
        return StopChange(
            kind=ChangeKind.ADDED,
            patient_id=visit.patient_id,
            place=visit.place,
            phlebotomist=person,
            visit=visit,
            new_orders=visit.order_ids,
        )
    is_same_person = person == before.phlebotomist
    moves = {
        Move.PERSON: not is_same_person,
        Move.ORDER: is_same_person and not is_in_order,
        Move.TIME: not _is_on_time(problem, before, visit),
        Move.BED: visit.place != before.place,
    }
    new = tuple(o for o in visit.order_ids if o not in before.order_ids)
    gone = tuple(o for o in before.order_ids if o not in visit.order_ids)
    if not any(moves.values()) and not new and not gone:
        return None
    return StopChange(
        kind=ChangeKind.MOVED if any(moves.values()) else ChangeKind.ORDERS,
        patient_id=visit.patient_id,
        place=visit.place,
        before=before,
        phlebotomist=person,
        visit=visit,
        moves=tuple(move for move, is_so in moves.items() if is_so),
        new_orders=new,
        gone_orders=gone,
        reasons=tuple(reasons[o] for o in gone if o in reasons),
    )


def _dropped(before: Promised, reasons: Mapping[OrderId, Unplanned]) -> StopChange:
    return StopChange(
        kind=ChangeKind.DROPPED,
        patient_id=before.patient_id,
        place=before.place,
        before=before,
        gone_orders=before.order_ids,
        reasons=tuple(reasons[o] for o in before.order_ids if o in reasons),
    )
