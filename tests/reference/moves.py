"""The moves of `exhaust`: a route with a bed, a break or a hand-over more, its curve with it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from tests.reference.curves import along, beside, compress, finer_guesses, least, pair, spread, without_needless_waits
from tests.reference.label import DEAR, Label, Part, Values
from tests.reference.person import Person
from tests.reference.tables import KINDS, NEVER, Numbers, takes


def to_bed(person: Person, label: Label, i: int) -> Label | None:
    """Return the route with a bed more; None when no guess can be kept."""
    visit, sink = person.tiny.visits[i], person.clock.sink
    rows, guesses = label.rows, list(label.guesses)
    way = person.walk(label.place, visit.bed)
    for axis in (0, 1):
        if person.limits[i][axis] is not None:
            finer = finer_guesses(person, label, i, axis, int(rows[0].min()) + way)
            if not len(finer):
                return None
            rows, guesses[axis] = spread(rows, axis, label.guesses[axis], finer), finer
    ready = rows[0] + way
    for axis in (0, 1):
        limit, found = person.limits[i][axis], guesses[axis]
        if limit is not None and found is not None:
            ready = np.maximum(ready, along(np.minimum(found - limit, sink), axis))
    bed, worth = person.beds[i], person.worth
    turns, is_moved = _order(person, label, i)
    grown = np.empty((len(rows), *ready.shape), dtype=np.int64)
    grown[0] = bed.end.many[ready]
    grown[1] = rows[1] + bed.late.many[ready] + turns * worth.turns
    grown[1] += worth.changes if is_moved else bed.too_late.many[ready]
    grown[2:] = rows[2:]
    held = label.held | {(i, by_hand) for by_hand in person.parts[i]}
    seen = label.seen | 1 << i
    return _kept(person, Label(seen, held, visit.bed, label.rested, label.left, grown, pair(guesses), label.begun))


def _order(person: Person, label: Label, i: int) -> tuple[int, bool]:
    """Return of a bed behind those seen the pairs out of turn, and if it is not where it was promised in the order."""
    visits = person.tiny.visits
    before = [v for k, v in enumerate(visits) if label.seen >> k & 1 and v.tray_of is None]
    turns = 0 if visits[i].tray_of is not None else sum(v.turn > visits[i].turn for v in before)
    promise = visits[i].promise
    if promise is None:
        return turns, False
    overtaken = any(v.promise and v.promise[0] == person.who and v.promise[1] > promise[1] for v in before)
    return turns, promise[0] != person.who or overtaken


def pauses(person: Person, label: Label) -> Iterator[Label]:
    """Return the route with the break, or with a hand-over, more."""
    if person.me.rest is not None and not label.rested:
        rows = label.rows.copy()
        rows[0] = person.end_rest.many[rows[0]]
        rested = Label(label.seen, label.held, label.place, True, label.left, rows, label.guesses, label.begun)
        kept = _kept(person, rested)
        if kept is not None:
            yield kept
    holds = {by_hand for _i, by_hand in label.held}
    for n, outlet in enumerate(person.tiny.outlets):
        if label.left[n] == 0 and outlet.kind != "courier":
            continue
        may = [by_hand for by_hand in KINDS if by_hand in holds and takes(outlet, by_hand)]
        for given in [[kind] for kind in may] + ([may] if len(may) == 2 else []):
            kept = _to_outlet(person, label, n, given)
            if kept is not None:
                yield kept


def _to_outlet(person: Person, label: Label, n: int, given: list[bool]) -> Label | None:
    """Return the route with a hand-over more, at the least guesses that it keeps; None when it keeps none."""
    outlet, sink = person.tiny.outlets[n], person.clock.sink
    ready = label.rows[0] + person.walk(label.place, outlet.place)
    brought = person.brought[n].many[ready]
    rows = label.rows.copy()
    rows[0] = person.end_out.many[ready]
    rows[0][brought == NEVER] = sink
    axes = [axis for axis in (0, 1) if KINDS[axis] in given and label.guesses[axis] is not None]
    for axis in axes:
        rows[0][brought > beside(label, axis)] = sink
    if axes:
        rows, brought = least(rows, brought, axes, sink)
    rows = _with_arrivals(person, label, rows, brought, given)
    held = frozenset(part for part in label.held if part[1] not in given)
    begun = _begun(person, held)
    guesses = [None if axis in axes else label.guesses[axis] for axis in (0, 1)]
    left = tuple(num - (k == n and outlet.kind != "courier") for k, num in enumerate(label.left))
    grown = Label(label.seen, held, outlet.place, label.rested, left, rows, pair(guesses), begun)
    return _kept(person, grown)


def _begun(person: Person, held: frozenset[Part]) -> Values:
    """Return the beds of which one kind is given away and another still held."""
    still = [i for i, _by_hand in held]
    return tuple(sorted(i for i in set(still) if still.count(i) < len(person.parts[i])))


def _with_arrivals(person: Person, label: Label, rows: Numbers, brought: Numbers, given: list[bool]) -> Numbers:
    """Return the rows with the costs of what is brought, and with the rows of the beds that are then begun."""
    held = frozenset(part for part in label.held if part[1] not in given)
    known = {i: rows[2 + n] for n, i in enumerate(label.begun)}
    costs = rows[1].copy()
    arrived = np.where(rows[0] < person.clock.sink, brought, 0)
    for i, by_hand in label.held - held:
        weight, need_by = person.delivery(i, by_hand)
        if weight:
            costs += person.worth.delivery * weight * np.maximum(0, arrived - need_by)
    for i in {i for i, _by_hand in label.held - held}:
        last = np.maximum(known[i], arrived) if i in known else arrived
        known[i] = last
        if not any(k == i for k, _by_hand in held):
            costs += person.worth.arrival * last
    return np.array([rows[0], costs, *(known[i] for i in _begun(person, held))])


def _kept(person: Person, label: Label) -> Label | None:
    """Return the route without the guesses that cannot be kept any more, None when there are no others."""
    sink, over = person.clock.sink, label.rows[0]
    holds = {by_hand for _i, by_hand in label.held}
    if all(found is None for found in label.guesses):
        step = int(over[0, 0])
        is_in_time = step < sink and all(person.soonest(label.place, hand).one[step] < NEVER for hand in holds)
        return label if is_in_time else None
    for axis, by_hand in enumerate(KINDS):
        if by_hand in holds:
            soonest = person.soonest(label.place, by_hand).many[over]
            last = NEVER - 1 if label.guesses[axis] is None else beside(label, axis)
            over = np.where(soonest > last, sink, over)
    if over.size > 1:
        over = without_needless_waits(person, label, over)
    alive = over < sink
    if not alive.any():
        return None
    label.rows[0] = over
    label.rows[1:, ~alive] = DEAR
    for axis in (0, 1):
        if label.guesses[axis] is not None and label.rows.shape[axis + 1] > 1:
            compress(label, axis, label.rows[0] < sink)
    return label
