"""The rows of the view's lists: hand-overs, supplies, decisions, late draws, goals, legend."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from planner.domain.orders import Priority
from planner.domain.what_if import WhatIf

_RANK: Mapping[Priority | None, int] = {
    Priority.STAT: 0,
    None: 1,
    Priority.ASAP: 2,
    Priority.URGENT: 3,
    Priority.ROUTINE: 4,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class CollectionLine:
    """What one phlebotomist gives away at one collection, with the count to tick off."""

    place: str
    leaves: str
    phlebotomist: str
    staff_index: int
    """Whose it is: names may be alike."""
    at: str
    num_tubes: int
    contents: str
    beds: str
    special: str
    """What goes on ice, warm, dark or by hand, and who carries it; empty when nothing."""
    missed: str
    """What to do when the courier is gone; empty where none is to be caught."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckLine:
    """A warning that a person should look at."""

    text: str
    people: frozenset[int] | None = None
    """Whose stops it concerns, by index into the staff (none: only who holds the whole round); None: everybody."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyLine:
    """One thing to take along: how many each phlebotomist needs, the spares, and all in all."""

    group: str
    item: str
    needed: tuple[int, ...]
    """One number a route, in the order of the routes."""
    spares: tuple[int, ...]
    """One number a route: each person takes the spares of what that person needs."""

    @property
    def total(self) -> int:
        """What all of them take along."""
        return sum(self.needed) + sum(self.spares)


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatIfLine:
    """A line of the what-if card: an event that may occur on the route, and what to do, to write, whom to phone."""

    event: WhatIf
    title: str
    do: str
    write: str
    phone: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DecisionLine:
    """Orders about which one thing must be decided or known: where, what was found, what to do."""

    bed: str
    patient_number: str
    order_numbers: tuple[str, ...]
    test_names: tuple[str, ...]
    what: str
    detail: str
    action: str
    forbids: bool = False
    """True where nobody may draw before the decision."""
    priority: Priority | None = Priority.ROUTINE
    """Of the most urgent of its orders; None where nobody knows."""
    is_planned: bool = False
    """True for orders that are planned, but on which a person must decide all the same."""
    patient: str = ""
    """Who it is, as a caller says it: name, birth date and number; a sheet has it, the terminal does not."""
    said: tuple[str, ...] = ()
    """The notes of its orders and the alerts of its patient, in full; where the patient is named, and nowhere else."""
    is_of_list: bool = False
    """True for what was given and not read or not used: it is about no order that can be named."""

    @property
    def urgency(self) -> str:
        """'STAT', 'ASAP', 'URGENT'; empty for a routine order; 'priority?' where nobody knows."""
        if self.priority is None:
            return "priority?"
        return "" if self.priority is Priority.ROUTINE else self.priority.value.upper()

    @property
    def rank(self) -> int:
        """Its place among others, from 0, most urgent first: what nobody knows may be a stat, and comes next to it."""
        return _RANK[None if self.is_of_list else self.priority]

    @property
    def where(self) -> str:
        """The bed, after what makes it urgent; who the patient is where no bed is known."""
        bed = self.bed if self.bed != "?" or not self.patient_number else f"? patient {self.patient_number}"
        return f"{self.urgency} {bed}".lstrip()

    @property
    def orders(self) -> str:
        """The numbers of its orders as a list prints them."""
        return ", ".join(self.order_numbers)

    @property
    def tests(self) -> str:
        """Its tests as a list prints them."""
        return ", ".join(self.test_names)

    @property
    def num_orders(self) -> int:
        """How many orders it is about."""
        return len(self.order_numbers)


@dataclass(frozen=True, slots=True, kw_only=True)
class DecisionGroup:
    """Orders that are not planned for the same reason, so that what to do is said once."""

    what: str
    action: str
    lines: tuple[DecisionLine, ...]

    @property
    def title(self) -> str:
        """The reason with the number of orders: 'No time left in the round (16 orders, 1 STAT)'."""
        return self.what if self.lines[0].is_of_list else f"{self.what} ({orders_counted(self.lines)})"

    def rows(self) -> list[tuple[str, str, str, str]]:
        """Return bed, orders, tests and what was found of each line, with the patient and what notes and alerts say.

        A detail is said once, then "as above".
        """
        before = ("", *(line.detail for line in self.lines[:-1]))
        pairs = zip(self.lines, before, strict=True)
        found = ["as above" if line.detail and line.detail == last else line.detail for line, last in pairs]
        return [
            (line.where, line.orders, line.tests, "\n".join(filter(None, (detail, line.patient, *line.said))))
            for line, detail in zip(self.lines, found, strict=True)
        ]


def orders_counted(lines: Sequence[DecisionLine]) -> str:
    """Return how many orders lines are about, and how many of them are stat: '16 orders, 1 STAT'."""
    number = sum(line.num_orders for line in lines)
    stat = sum(line.num_orders for line in lines if line.priority is Priority.STAT)
    return f"{number} {'order' if number == 1 else 'orders'}" + (f", {stat} STAT" if stat else "")


@dataclass(frozen=True, slots=True, kw_only=True)
class LateLine:
    """An order drawn after the time by which it should have been."""

    bed: str
    priority: Priority
    """Of the most urgent of its late orders."""
    phlebotomist: str
    staff_index: int
    orders: str
    test_names: tuple[str, ...]
    planned: str
    due: str
    late: str

    @property
    def where(self) -> str:
        """The bed, after what makes it urgent."""
        return f"{self.priority.value.upper()} {self.bed}" if self.priority is not Priority.ROUTINE else self.bed

    @property
    def rank(self) -> int:
        """Its place among others, from 0, most urgent first."""
        return _RANK[self.priority]


@dataclass(frozen=True, slots=True, kw_only=True)
class PartLine:
    """One thing that a tier of goals counts: its own value, and what it adds to the tier (empty: the same)."""

    name: str
    meaning: str
    value: str
    counted: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GoalLine:
    """A tier of goals: how far this plan gets, what is known of better ones, and what adds up to it."""

    name: str
    meaning: str
    value: str
    proof: str
    parts: tuple[PartLine, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TubeKey:
    """A legend entry for a kind of container that the round uses."""

    code: str
    name: str
    closure: str
    additive: str
    inversions: str
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TestKey:
    """A legend entry for a test that the round uses: what the order list calls it, and the catalogue's name."""

    called: str
    name: str


def alike_together(lines: Sequence[DecisionLine]) -> tuple[DecisionLine, ...]:
    """Return the most urgent lines first, of those lines with the same detail one after the other, else in order."""
    first = {(line.rank, line.detail): n for n, line in reversed(list(enumerate(lines)))}
    return tuple(sorted(lines, key=lambda line: (line.rank, first[line.rank, line.detail])))
