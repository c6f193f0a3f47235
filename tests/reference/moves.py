"""The moves of `exhaust`: a route with a bed, a break or a hand-over more, its curve with it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from tests.reference.curves import along, beside, compress, finer_guesses, least, pair, spread, without_needless_waits
from tests.reference.label import DEAR, Held, Label, as_rows
from tests.reference.person import Person, bits
from tests.reference.tables import KINDS, NEVER, Numbers, takes
from tests.reference.tiers import ward_cost


def to_bed(person: Person, label: Label, i: int) -> Label | None:
    """Return the route with a bed more; None when no guess can be kept."""
    bed, sink = person.beds[i], person.clock.sink
    way = person.walk(label.place, person.tiny.visits[i].bed)
    soonest = label.over + way
    if bed.end.one[soonest] == sink:
        return None
    turns, is_moved = person.order(label.seen, i)
    turns += ward_cost(person.tiny, label.ward, person.tiny.visits[i])
    if label.is_point and not any(person.limits[i]):
        costs = int(label.rows[1, 0, 0]) + bed.late.one[soonest] + turns * person.worth.turns
        costs += person.worth.changes if is_moved else bed.too_late.one[soonest]
        begun = [int(row[0, 0]) for row in label.rows[2:]]
        return _at_bed(person, label, i, as_rows(bed.end.one[soonest], costs, *begun), list(label.guesses))
    rows, guesses = label.rows, list(label.guesses)
    for axis in (0, 1):
        if person.limits[i][axis] is not None:
            finer = finer_guesses(person, label, i, axis, soonest)
            if not len(finer):
                return None
            rows, guesses[axis] = spread(rows, axis, label.guesses[axis], finer), finer
    ready = rows[0] + way
    for axis in (0, 1):
        limit, found = person.limits[i][axis], guesses[axis]
        if limit is not None and found is not None:
            ready = np.maximum(ready, along(np.minimum(found - limit, sink), axis))
    grown = np.empty((len(rows), *ready.shape), dtype=np.int64)
    grown[0] = bed.end.many[ready]
    grown[1] = rows[1] + bed.late.many[ready] + turns * person.worth.turns
    grown[1] += person.worth.changes if is_moved else bed.too_late.many[ready]
    grown[2:] = rows[2:]
    return _at_bed(person, label, i, grown, guesses)


def _at_bed(person: Person, label: Label, i: int, rows: Numbers, guesses: list[Numbers | None]) -> Label | None:
    held = label.held[0] | person.parts[0] & 1 << i, label.held[1] | person.parts[1] & 1 << i
    place, ward = person.tiny.visits[i].bed, person.tiny.visits[i].ward
    return _kept(
        person, Label(label.seen | 1 << i, held, place, label.rested, label.left, rows, pair(guesses), ward=ward)
    )


def pauses(person: Person, label: Label) -> Iterator[Label]:
    """Return the route with the break, or with a hand-over, more."""
    if person.me.rest is not None and not label.rested:
        rows = label.rows.copy()
        rows[0] = person.end_rest.many[rows[0]]
        kept = _kept(
            person, Label(label.seen, label.held, label.place, True, label.left, rows, label.guesses, ward=label.ward)
        )
        if kept is not None:
            yield kept
    for n, outlet in enumerate(person.tiny.outlets):
        if label.left[n] == 0 and outlet.kind != "courier":
            continue
        may = [by_hand for by_hand in KINDS if label.held[by_hand] and takes(outlet, by_hand)]
        for given in [[kind] for kind in may] + ([may] if len(may) == 2 else []):
            kept = _to_outlet(person, label, n, given)
            if kept is not None:
                yield kept


def _to_outlet(person: Person, label: Label, n: int, given: list[bool]) -> Label | None:
    """Return the route with a hand-over more, at the least guesses that it keeps; None when it keeps none."""
    outlet, sink = person.tiny.outlets[n], person.clock.sink
    way = person.walk(label.place, outlet.place)
    if person.brought[n].one[label.over + way] == NEVER:
        return None
    ready = label.rows[0] + way
    brought = person.brought[n].many[ready]
    over = person.end_out.many[ready]
    axes = [axis for axis in (0, 1) if KINDS[axis] in given and label.guesses[axis] is not None]
    if not label.is_point:
        over = np.where(brought == NEVER, sink, over)
    for axis in axes:
        over = np.where(brought > beside(label, axis), sink, over)
    if not label.is_point and int(over.min()) == sink:
        return None
    rows = np.concatenate([over[None], label.rows[1:]])
    if axes:
        rows, brought = least(rows, brought, axes, sink)
    held = (0 if False in given else label.held[0]), (0 if True in given else label.held[1])
    rows = _with_arrivals(person, label, rows, np.where(rows[0] < sink, brought, 0), held)
    guesses = [None if axis in axes else label.guesses[axis] for axis in (0, 1)]
    left = label.left
    if outlet.kind != "courier":
        left = (*left[:n], left[n] - 1, *left[n + 1 :])
    return _kept(
        person, Label(label.seen, held, outlet.place, label.rested, left, rows, pair(guesses), ward=label.ward)
    )


def _with_arrivals(person: Person, label: Label, rows: Numbers, brought: Numbers, held: Held) -> Numbers:
    """Return the rows with the costs of what is brought, and with the rows of the beds that are then begun."""
    known = {i: rows[2 + n] for n, i in enumerate(person.begun(label.held))}
    costs = rows[1].copy()
    for by_hand in KINDS:
        for i in bits(label.held[by_hand] & ~held[by_hand]):
            for weight, due in person.delivery[i][by_hand]:
                costs += person.worth.delivery * weight * np.maximum(0, brought - due)
    begun = person.begun(held)
    still: dict[int, Numbers] = {}
    for i in bits(label.held[0] | label.held[1]):
        if i in known and (held[0] | held[1]) >> i & 1:
            still[i] = known[i]
            continue
        last = np.maximum(known[i], brought) if i in known else brought
        if i in begun:
            still[i] = last
        elif not (held[0] | held[1]) >> i & 1:
            costs += person.worth.arrival * last
    return np.stack([rows[0], costs, *(still[i] for i in begun)])


def _kept(person: Person, label: Label) -> Label | None:
    """Return the route without the guesses that cannot be kept any more, None when there are no others."""
    sink, over = person.clock.sink, label.rows[0]
    if label.is_point:
        label.over = int(over[0, 0])
        for by_hand in KINDS:
            if label.held[by_hand] and person.soonest(label.place, by_hand).one[label.over] == NEVER:
                return None
        return label if label.over < sink else None
    for axis, by_hand in enumerate(KINDS):
        if label.held[by_hand]:
            soonest = person.soonest(label.place, by_hand).many[over]
            last = NEVER - 1 if label.guesses[axis] is None else beside(label, axis)
            over = np.where(soonest > last, sink, over)
    label.over = int(over.min())
    if label.over == sink:
        return None
    if over.size > 1:
        over = without_needless_waits(person, label, over)
    label.rows[0] = over
    label.rows[1:, over == sink] = DEAR
    for axis in (0, 1):
        if label.guesses[axis] is not None and label.rows.shape[axis + 1] > 1:
            compress(label, axis, label.rows[0] < sink)
    return label
