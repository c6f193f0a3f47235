"""Routes under way in `exhaust`: curves of clocks and costs over guessed arrivals, and which make which superfluous."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from tests.reference.person import Person
from tests.reference.tables import Numbers

Values = tuple[int, ...]
Guesses = tuple[Numbers | None, Numbers | None]
Held = tuple[int, int]

DEAR = 1 << 62
"""More than any costs: stands where a guess cannot be kept."""


@dataclass(eq=False)
class Label:
    """A route under way.

    ``held`` are the beds of which tubes are in the tray, those for any way and those by hand, as bits. ``left`` says
    how often each way out may still be used. ``rows`` holds, by guess of the arrival of the tubes for any way (middle
    axis) and of those by hand (last axis), the clock, the costs, and the arrivals of the given parts of the beds of
    which another part is held (`Person.begun`). ``guesses`` ascend, and each stands for those that are less, down to
    the one before it; None where no limited tubes of the kind are held, and the axis has one entry. ``over`` is the
    least clock.
    """

    seen: int
    held: Held
    place: str
    rested: bool
    left: Values
    rows: Numbers
    guesses: Guesses
    over: int = 0
    is_superfluous: bool = field(default=False)
    ward: str | None = None
    """Ward of the last bed."""

    @property
    def is_point(self) -> bool:
        """Return whether nothing limited is held: the curve is one point."""
        return self.guesses[0] is None and self.guesses[1] is None


def as_rows(*numbers: int) -> Numbers:
    """Return the rows of a point."""
    return np.array(numbers, dtype=np.int64).reshape(-1, 1, 1)


def add(person: Person, known: dict[object, list[Label]], label: Label) -> bool:
    """Return whether no known route makes this one superfluous; those that it does are marked and dropped."""
    front = known[key(label)]
    open_parts = sum(
        (mask & ~label.seen).bit_count() + mine.bit_count() for mask, mine in zip(person.parts, label.held, strict=True)
    )
    if any(_no_worse(other, label, open_parts) for other in front):
        return False
    for other in front:
        other.is_superfluous = _no_worse(label, other, open_parts)
    front[:] = [other for other in front if not other.is_superfluous]
    front.append(label)
    return True


def key(label: Label) -> object:
    return label.seen, label.held, label.place, label.ward, label.rested


def _no_worse(one: Label, other: Label, open_parts: int) -> bool:
    """Return whether the first makes the second superfluous; more stops at a way out than parts to give are no gain."""
    if any(a < min(b, open_parts) for a, b in zip(one.left, other.left, strict=True)):
        return False
    if one.over > other.over:
        return False
    rows = one.rows
    for axis, (mine, its) in enumerate(zip(one.guesses, other.guesses, strict=True)):
        if mine is None or its is None:
            continue
        if mine[-1] < its[-1]:
            return False
        if len(mine) > 1:
            rows = np.take(rows, np.searchsorted(mine, its), axis + 1)
    return bool((rows <= other.rows).all())
