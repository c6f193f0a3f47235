"""Draws: one venipuncture, the orders it serves, when it may be made, and the sequence of tubes within it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, StrEnum
from typing import NewType

from planner.domain.catalogue import Handling, TestCode, TransportMode, TubeCode
from planner.domain.orders import Order, OrderId, PatientId, TimeWindow
from planner.domain.places import PlaceId


class Asked(Enum):
    """The instant that a phlebotomist asks for at the bed before a draw; the sheet has the words.

    The value is its stable name.
    """

    LAST_DOSE = "last-dose"
    DOSE_START = "dose-start"
    """The start of the infusion."""
    RATE_CHANGE = "rate-change"
    """The last change of the infusion's rate."""
    INFUSION_END = "infusion-end"
    NEXT_DOSE = "next-dose"
    PROTOCOL_STEP = "protocol-step"
    """Which sample of its protocol the draw is."""
    LAST_MEAL = "last-meal"
    DRINK_GIVEN = "drink-given"
    INJECTION_GIVEN = "injection-given"
    FIRST_SAMPLE = "first-sample"
    """When the first sample of a series was drawn."""
    DRAWN_BEFORE = "drawn-before"
    """How much blood was drawn in the last 24 hours, in mL."""

    @property
    def is_time(self) -> bool:
        """Whether the answer is a clock time."""
        return self not in (Asked.PROTOCOL_STEP, Asked.DRAWN_BEFORE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One question about one order.

    ``on_file_s`` is the answer on file, in seconds after midnight of the round's day; None: not known. ``decides`` is
    True when the answer may stop the draw of this order. False: it is drawn whatever the answer is, and the answer is
    written down for the laboratory.
    """

    asked: Asked
    order_id: OrderId
    on_file_s: int | None = None
    decides: bool = True


DrawId = NewType("DrawId", str)


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawGap:
    """The draw ``second`` comes between ``least_s`` and ``most_s`` after the draw ``first`` (draw times)."""

    first: DrawId
    second: DrawId
    least_s: int
    most_s: int


class Device(StrEnum):
    """What a vein or the skin is opened with."""

    STRAIGHT = "straight"
    WINGED = "winged"
    """Its tubing holds air."""
    LANCET = "lancet"
    """For a draw from the skin."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """One end of an order's window: the second, and the name of the rule that set it (see planner/RULES.md)."""

    at_s: int
    rule: str


class Strength(Enum):
    """How far a rule binds a draw time."""

    HARD = "hard"
    """No draw outside it is planned."""
    WISHED = "wished"
    """A draw outside it is listed, and pulled nearer by part ``off-time``."""
    ASKED = "asked"
    """It does not hold a stat: the draw is made at once, and the card asks what the rule would have asked for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ends:
    """What one rule says of an order's draw time: seconds, both ends included; None where it says nothing."""

    rule: str
    earliest_s: int | None = None
    latest_s: int | None = None
    target_s: int | None = None
    strength: Strength = Strength.HARD

    def holds(self, draw_s: int) -> bool:
        """Return whether a draw at this second lies within the hard ends."""
        is_late = self.latest_s is not None and draw_s > self.latest_s
        return not is_late and (self.earliest_s is None or draw_s >= self.earliest_s)


_OF_THE_SPECIMEN = frozenset({"requested", "clock", "fasting", "dose", "series-gap", "stated-spacing"})
"""Rules without which a result says something else; the others are about the ward, the patient's day, the laboratory's
hours: who draws at another time has found the way."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Preference:
    """A window that is wished for, not required: missing it is said on the sheet and binds nothing."""

    rule: str
    earliest_s: int | None
    latest_s: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderWindow:
    """When the draw for one order may be made.

    ``windows`` are the allowed spans of the draw time (ascending, disjoint, never empty). ``target_s`` is the
    soft end: seconds past it count as late; None: never late. ``earliest`` and ``latest`` name the rules that
    set the outer hard ends, ``target`` the one that set the soft end. ``ends`` are what every rule says, so that a
    sheet can show all that bind a draw together; ``questions`` what is to be asked at the bed.
    """

    order_id: OrderId
    windows: tuple[TimeWindow, ...]
    earliest: Bound
    latest: Bound
    target: Bound | None = None
    preferences: tuple[Preference, ...] = ()
    ends: tuple[Ends, ...] = ()
    questions: tuple[Question, ...] = ()

    @property
    def specimen_ends(self) -> tuple[Ends, ...]:
        """The hard ends that a specimen must keep to count: a stated time, a fast, a level by its dose and the like."""
        return tuple(e for e in self.ends if e.strength is Strength.HARD and e.rule in _OF_THE_SPECIMEN)

    def missed_by(self, draw_s: int) -> Ends | None:
        """Return the ends that a draw at this second lies outside of, so that its specimen may not count; else None."""
        return next((e for e in self.specimen_ends if not e.holds(draw_s)), None)

    @property
    def target_s(self) -> int | None:
        """Soft end of the window."""
        return None if self.target is None else self.target.at_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Tube:
    """One container to fill.

    ``volume_ul`` is what it takes from the patient. ``draw_position`` counts from 1 over the whole visit, the
    discard tube and culture bottles included. ``stability_s`` is the longest time from draw to receipt (the
    shortest among its tests); None: no limit is stated. A discard tube has no tests and is not handed over.
    ``site`` counts puncture sites from 1: a second culture set comes from another site.
    """

    tube: TubeCode
    size_ul: int
    volume_ul: int
    draw_position: int
    tests: tuple[TestCode, ...]
    order_ids: tuple[OrderId, ...]
    mode: TransportMode = TransportMode.ROOM
    handling: frozenset[Handling] = frozenset()
    stability_s: int | None = None
    site: int = 1

    @property
    def is_discard(self) -> bool:
        """True for a tube that is filled to clear the line and thrown away."""
        return not self.tests

    @property
    def by_hand(self) -> bool:
        """True when the tube must not travel by pneumatic tube."""
        return Handling.HAND_DELIVER in self.handling


@dataclass(frozen=True, slots=True, kw_only=True)
class Needle:
    """A suggested needle, with the reasons; the collector decides at the bedside. A lancet has no gauge."""

    gauge: int | None
    device: Device
    reasons: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """Gauge and device, such as '21G straight'; 'lancet'."""
        return self.device if self.gauge is None else f"{self.gauge}G {self.device}"


@dataclass(frozen=True, slots=True, kw_only=True)
class TubeSet:
    """The containers of one draw in order of draw.

    ``num_separate`` and ``separate_ul`` are what one tube per order (adult or child size that fits) would take:
    the practice against which the saving is shown.
    """

    tubes: tuple[Tube, ...]
    needle: Needle
    num_separate: int
    separate_ul: int
    is_proven: bool = True

    @property
    def volume_ul(self) -> int:
        """Blood taken in all, the discard tube included."""
        return sum(t.volume_ul for t in self.tubes)

    @property
    def num_tubes(self) -> int:
        """Containers that reach the laboratory: the discard tube does not count."""
        return sum(not t.is_discard for t in self.tubes)


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitRequest:
    """Orders of one patient that one puncture is to serve. The id is the patient number and a counter from 1."""

    id: DrawId
    patient_id: PatientId
    bed: PlaceId
    orders: tuple[Order, ...]
    windows: tuple[TimeWindow, ...]
    """Allowed spans of the draw time: those of all its orders in common."""
    order_windows: tuple[OrderWindow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Draw:
    """A visit that can be scheduled: what is drawn, how long it takes, when it may start.

    ``lead_s`` passes between the start at the bed and the first tube, ``service_s`` between start and departure.
    ``start_windows`` are allowed starts (windows of the draw time less the lead, absences cut out).
    ``targets`` are (soft end of the draw time, weight per second late), one an order that has a soft end.
    """

    request: VisitRequest
    tube_set: TubeSet
    lead_s: int
    service_s: int
    start_windows: tuple[TimeWindow, ...]
    targets: tuple[tuple[int, int], ...]
    uncollected_weight: int
    skills: frozenset[str] = frozenset()
    not_by: frozenset[int] = frozenset()
    """Indices of the staff who may not make it: their attempts failed."""

    @property
    def id(self) -> DrawId:
        """The id of the request."""
        return self.request.id
