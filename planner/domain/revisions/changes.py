"""What a lead tells when a round goes otherwise: one value a change, as it was said, not yet looked up in the round.

Clock times are seconds on the wall's clock (05:42 is 20,520); which day is meant depends on when they are given.
``typed`` is the text behind the option. A bed stands for its patient: a patient number or an order number may
stand in its place.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from planner.domain.order_parts import OrderPart
from planner.domain.orders import Order, OrderId, Patient
from planner.domain.plan import Unplanned
from planner.errors import RequestError
from planner.findings import Finding


@dataclass(frozen=True, slots=True, kw_only=True)
class StatOrders:
    """Tests wanted at once at a bed. ``tests`` are codes of the catalogue, a culture as often as sets are wanted.

    ``is_again`` says that tests asked for before are wanted once more.
    """

    bed: str
    tests: tuple[str, ...]
    is_again: bool = False
    typed: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class NewOrders:
    """Orders read from a file: the readable ones, patients who are new with them, and what is set aside.

    The bed of a new patient is as written when the round does not have it. ``cancelled`` are numbers of orders of the
    round that the file says are cancelled. ``stated`` names what the file says of orders: an empty cell says nothing
    where the whole column is empty. ``has_notes``: it has a column for notes, so that an empty cell means none.
    """

    orders: tuple[Order, ...] = ()
    patients: tuple[Patient, ...] = ()
    set_aside: tuple[Unplanned, ...] = ()
    cancelled: tuple[OrderId, ...] = ()
    stated: frozenset[OrderPart] = frozenset()
    has_notes: bool = False
    typed: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Dose:
    """The dose on which an order's time depends is given at another clock time."""

    order_id: str
    at_wall_s: int
    typed: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Timing:
    """An order is to be drawn at another clock time."""

    order_id: str
    at_wall_s: int
    typed: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cancel:
    """An order is no longer wanted."""

    order_id: str
    typed: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Recollect:
    """An order that was drawn must be drawn again."""

    order_id: str
    typed: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Away:
    """The patient in a bed is away between two clock times; ``from_wall_s`` None: from now on."""

    bed: str
    from_wall_s: int | None
    to_wall_s: int
    typed: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """The patient in a bed lies in another one now."""

    bed: str
    to: str
    typed: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class NewBed:
    """There is a bed that no map and no list of the round has: who types it confirms that it is no slip."""

    bed: str
    typed: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Gone:
    """The patient in a bed has left or has died."""

    bed: str
    typed: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Late:
    """Somebody is held up: by so many minutes, or until a clock time. One of the two is given."""

    name: str
    minutes: int | None = None
    until_wall_s: int | None = None
    typed: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lost:
    """Somebody collects no more."""

    name: str
    typed: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class NeverCame:
    """Somebody did not come at all, and has drawn nothing."""

    name: str
    typed: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Join:
    """Somebody more collects from a clock time on, to another one or to the end of the round."""

    name: str
    from_wall_s: int
    until_wall_s: int | None = None
    typed: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Courier:
    """The departures still to come at a place: other ones (none: it comes no more), or the next one later."""

    place: str
    departs_wall_s: tuple[int, ...] = ()
    delay_s: int | None = None
    typed: str = field(default="", compare=False)


Change = (
    StatOrders
    | NewOrders
    | Dose
    | Timing
    | Cancel
    | Recollect
    | Away
    | Moved
    | NewBed
    | Gone
    | Late
    | Lost
    | NeverCame
    | Join
    | Courier
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """A part of a command that was not understood, or cannot be: the option, the text behind it, and why.

    ``instead`` is what alone can have been meant by the part ``wrong`` of that text, such as a misspelt name. It is
    empty where nobody can say, and always for a bed, a patient or an order: a guess would be somebody else's blood.
    """

    option: str
    typed: str
    finding: Finding
    wrong: str = ""
    instead: str = ""


def by_fault(refused: Iterable[Refused]) -> list[str]:
    """Return what was not understood, each fault once behind all that was typed with it: a list is long to read."""
    typed: dict[str, list[str]] = {}
    for part in refused:
        source = part.finding.source
        where = f" [{source}]" if source and source.row else ""
        fault = f"{part.finding.message.removeprefix(f'--{part.option}: ')}{where}"
        typed.setdefault(fault, []).append(f"--{part.option} {part.typed!r}")
    return [f"{', '.join(dict.fromkeys(texts))}: {fault}" for fault, texts in typed.items()]


class NotUnderstoodError(RequestError):
    """Parts of what was reported were not understood, so nothing is changed; ``refused`` are these parts."""

    def __init__(self, refused: tuple[Refused, ...]) -> None:
        number = "1 part" if len(refused) == 1 else f"{len(refused)} parts"
        faults = "; ".join(by_fault(refused))
        super().__init__(f"nothing was changed: {number} cannot be applied: {faults}")
        self.refused = refused
        self.findings = tuple(part.finding for part in refused)
