"""What is done to the curves of a route in `exhaust`: guesses made finer, given up, or found the least."""

from __future__ import annotations

import numpy as np

from tests.reference.label import Guesses, Label
from tests.reference.person import Person
from tests.reference.tables import Numbers


def finer_guesses(person: Person, label: Label, i: int, axis: int, ready: int) -> Numbers:
    """Return the guesses of an axis with all those between that might move the start of a bed."""
    limit, known = person.limits[i][axis], label.guesses[axis]
    assert limit is not None
    unmoved = person.start(i, ready) + limit
    every = person.arrivals[axis]
    first, last = np.searchsorted(every, [unmoved, person.latest[i] + limit], side="right")
    moving = every[max(0, first - 1) : last]  # the last that moves nothing stands for all before it
    if known is None:
        return moving
    moving = moving[moving < known[-1]]
    return np.unique(np.concatenate([known, moving]))


def spread(rows: Numbers, axis: int, known: Numbers | None, finer: Numbers) -> Numbers:
    """Return the rows at finer guesses of an axis, each as the next known guess has it."""
    at = np.zeros(len(finer), dtype=np.int64) if known is None else np.searchsorted(known, finer)
    return np.take(rows, at, axis + 1)


def along(numbers: Numbers, axis: int) -> Numbers:
    """Return numbers of one axis, shaped to stand beside the rows."""
    return numbers[:, None] if axis == 0 else numbers[None, :]


def beside(label: Label, axis: int) -> Numbers:
    """Return the guesses of an axis, shaped to stand beside the rows."""
    found = label.guesses[axis]
    assert found is not None
    return along(found, axis)


def least(rows: Numbers, brought: Numbers, axes: list[int], sink: int) -> tuple[Numbers, Numbers]:
    """Return the rows at the least guesses of some axes that are kept, for each guess of the other axis."""
    is_kept = rows[0] < sink
    if len(axes) == 2:
        first = int(np.argmax(is_kept))  # row by row: the least of one, with it the least of the other
        one, two = np.unravel_index(first, is_kept.shape)
        return rows[:, one : one + 1, two : two + 1], brought[one : one + 1, two : two + 1]
    at = np.expand_dims(np.argmax(is_kept, axis=axes[0]), axes[0])
    return np.take_along_axis(rows, at[None], axes[0] + 1), np.take_along_axis(brought, at, axes[0])


def without_needless_waits(person: Person, label: Label, over: Numbers) -> Numbers:
    """Return the clock with the sink where a guess less by a step is as good (see the module's text)."""
    last_wait = person.last_wait(label.seen, label.rested)
    index = []
    for axis in (0, 1):
        found = label.guesses[axis]
        index.append(np.zeros(1, dtype=np.int64) if found is None else np.searchsorted(found, found - 1))
    sooner = over[np.ix_(index[0], index[1])]
    return np.where((sooner <= over - 1) & (over - 1 >= last_wait), person.clock.sink, over)


def compress(label: Label, axis: int, alive: Numbers) -> None:
    """Leave out guesses that none can keep, and those for which the next guess stands."""
    guesses = label.guesses[axis]
    assert guesses is not None
    rows, alive = (label.rows, alive) if axis == 0 else (label.rows.swapaxes(1, 2), alive.T)
    is_as_next = ((rows[:, :-1] == rows[:, 1:]).all(0) | ~alive[:-1]).all(1)
    wanted = np.append(~is_as_next, True) & alive.any(1)
    if wanted.all():
        return
    rows = rows[:, wanted]
    label.rows = rows if axis == 0 else rows.swapaxes(1, 2)
    both = list(label.guesses)
    both[axis] = guesses[wanted]
    label.guesses = pair(both)


def pair(guesses: list[Numbers | None]) -> Guesses:
    """Return the guesses of both axes as a label holds them."""
    return guesses[0], guesses[1]
