"""The plan: routes with their stops, what is not planned and why, and the goals with their bounds."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum
from typing import NamedTuple

from planner.domain.draws import DrawId, Needle, Tube
from planner.domain.goals import Part
from planner.domain.orders import Order, OrderId, PatientId, Priority
from planner.domain.patients.births import BirthDate
from planner.domain.places import PickupKind, PlaceId
from planner.findings import Source


class Reason(Enum):
    """Why an order is not planned. The value is its stable code."""

    CANCELLED = "cancelled"
    ON_HOLD = "on-hold"
    REPLACED = "replaced"
    """Another order stands in its place."""
    NOT_AN_ORDER = "not-an-order"
    """A proposal, an answer, a state or a prohibition: nobody asks for a draw."""
    NOT_LABORATORY = "not-laboratory"
    """Pharmacy, imaging and the like."""
    TOTALS_ROW = "totals-row"
    """A row that sums up the list: no order."""
    PRIOR_RESULT = "prior-result"
    """A copy of an old result that travels with an order."""
    ADD_ON = "add-on"
    """To be made from a specimen that is there, or by the laboratory itself: no puncture."""
    PATIENT_GONE = "patient-gone"
    """The patient has left or has died."""
    ALREADY_DRAWN = "already-drawn"
    DRAWN_BY_OTHERS = "drawn-by-others"
    NOT_BLOOD = "not-blood"
    ARTERIAL = "arterial"
    OTHER_ROUND = "other-round"
    """Timed for before or after this round."""
    DUPLICATE_NUMBER = "duplicate-number"
    UNREADABLE = "unreadable"
    """A value in its row could not be read; the finding says which."""
    UNKNOWN_TEST = "unknown-test"
    UNKNOWN_PATIENT = "unknown-patient"
    NO_BED = "no-bed"
    UNREACHABLE = "unreachable"
    """No way on the map leads to the bed."""
    IDENTITY_CONFLICT = "identity-conflict"
    BED_CONFLICT = "bed-conflict"
    DOSE_TIME_MISSING = "dose-time-missing"
    TIME_MISSING = "time-missing"
    NO_COMMON_WINDOW = "no-common-window"
    """Two rules leave no instant at which it could be drawn."""
    WINDOW_PASSED = "window-passed"
    LAB_CLOSED = "lab-closed"
    """The laboratory does not take the test at any time at which it could be drawn."""
    NO_TUBE = "no-tube"
    BLOOD_LIMIT = "blood-limit"
    NEONATE = "neonate"
    """Under 28 days old, and nobody has said how such a patient is drawn."""
    NOT_CAPILLARY = "not-capillary"
    """The patient is drawn from the skin, and this test is not."""
    HEEL_TEST = "heel-test"
    """A card that is filled from the heel, by ward staff or a trained person."""
    WARD_DRAWS = "ward-draws"
    """Ordered during the round for a patient whom the ward draws."""
    AGE_UNKNOWN = "age-unknown"
    """Nothing tells whether the patient is a child."""
    WEIGHT_MISSING = "weight-missing"
    WEIGHT_IMPLAUSIBLE = "weight-implausible"
    """The weight cannot be at that age: one of the two is wrong."""
    NO_ARM = "no-arm"
    """Neither arm may be used."""
    NO_SKILL = "no-skill"
    NO_WARD = "no-ward"
    """Nobody on the round goes to the patient's ward."""
    TRAY_TOO_SMALL = "tray-too-small"
    """It takes more tubes at once than a tray holds."""
    NO_HANDOVER = "no-handover"
    """Whenever it is drawn, no hand-over brings it to the laboratory within its stability."""
    NO_TIME = "no-time"
    """The round has no room for it beside what matters more."""
    CHECK_REFUSED = "check-refused"
    """The independent checker refused a plan that drew it."""
    REFUSED = "refused"
    """The patient refused the draw: why an order is not planned again. The report itself is an `Outcome`."""
    NOT_IDENTIFIED = "not-identified"
    """Nobody could say at the bed who the patient is."""
    PARTLY_DRAWN = "partly-drawn"
    """Some of its blood was drawn, and nobody said whether that suffices."""
    SECOND_PERSON = "second-person"
    """An attempt failed, and nobody else on this round may try."""
    SERIES_GAP = "series-gap"
    """The gap that its series asks for cannot be kept."""
    DRAWN_IN_VAIN = "drawn-in-vain"
    """Drawn, but its specimen cannot reach the laboratory while it is good."""
    ADD_ON_LOST = "add-on-lost"
    """It was to be added to a tube that was not drawn after all, or is drawn again."""

    @property
    def needs_decision(self) -> bool:
        """True when a person must do something about the order; False when it only needs to be known."""
        return self not in _FOR_INFORMATION


_FOR_INFORMATION = frozenset(
    {
        Reason.CANCELLED,
        Reason.ON_HOLD,
        Reason.REPLACED,
        Reason.NOT_AN_ORDER,
        Reason.NOT_LABORATORY,
        Reason.TOTALS_ROW,
        Reason.PRIOR_RESULT,
        Reason.ADD_ON,
        Reason.ALREADY_DRAWN,
        Reason.DRAWN_BY_OTHERS,
        Reason.NOT_BLOOD,
        Reason.ARTERIAL,
        Reason.OTHER_ROUND,
    }
)


class Outcome(Enum):
    """What came of a visit. The value is what a progress file says."""

    COLLECTED = "collected"
    PARTIAL = "partial"
    REFUSED = "refused"
    AWAY = "away"
    UNIDENTIFIED = "unidentified"
    """Nobody could say who the patient is: nothing was drawn."""
    UNSUCCESSFUL = "unsuccessful"
    """Two attempts failed: somebody else tries."""
    RECOLLECT = "recollect"
    """Drawn, but to be drawn again."""


class SetAside(NamedTuple):
    """Why an order, or what is to become one, is not planned: the reason, and the sentence for a person."""

    reason: Reason
    detail: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedPerson:
    """Who a patient is and on which ward, as the list says it of somebody whom nobody can be sent to."""

    family_name: str = field(default="", repr=False)
    given_name: str = field(default="", repr=False)
    birth_date: BirthDate | None = field(default=None, repr=False)
    ward: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Unplanned:
    """An order that no visit serves, with the reason and what to do about it.

    ``priority`` is None where nothing readable says it (and in plans written before it was kept): it may be a stat.
    ``note`` is the order's; ``alerts`` and ``person`` are of a patient of whom the round keeps nothing else. A number
    under which two people stand has no person. Two entries that differ in these four alone are equal.
    """

    order_id: OrderId
    reason: Reason
    detail: str
    patient_id: PatientId | None = None
    bed: str = ""
    test: str = ""
    source: Source | None = None
    priority: Priority | None = field(default=None, compare=False)
    note: str = field(default="", compare=False, repr=False)
    alerts: tuple[str, ...] = field(default=(), compare=False, repr=False)
    person: ListedPerson | None = field(default=None, compare=False, repr=False)

    @classmethod
    def of(cls, order: Order, reason: Reason, detail: str, *, bed: str) -> Unplanned:
        """Return the entry of an order; ``bed`` is that of its patient, empty where none is known."""
        return cls(
            order_id=order.id,
            reason=reason,
            detail=detail,
            patient_id=order.patient_id,
            bed=bed,
            test=order.test,
            source=order.source,
            priority=order.priority,
            note=order.note,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedTube:
    """A tube of a visit, and the index (from 0) on the same route of the stop that hands it over.

    ``handover`` is None for a discard tube only.
    """

    tube: Tube
    handover: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """A stop at a bed. All times are seconds after midnight; arrive <= start <= draw <= depart.

    ``outcome`` is None for a visit still to come; ``tried`` are orders of a visit past that it did not bring.
    """

    draw_id: DrawId
    patient_id: PatientId
    place: PlaceId
    order_ids: tuple[OrderId, ...]
    arrive_s: int
    start_s: int
    draw_s: int
    depart_s: int
    tubes: tuple[PlannedTube, ...]
    needle: Needle
    outcome: Outcome | None = None
    tried: tuple[OrderId, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Handover:
    """A stop at which specimens leave the phlebotomist. ``departs_s`` is the courier's departure, else None."""

    place: PlaceId
    kind: PickupKind
    arrive_s: int
    start_s: int
    depart_s: int
    departs_s: int | None
    lab_arrival_s: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Break:
    """A break of the phlebotomist, taken where the last stop was."""

    place: PlaceId
    arrive_s: int
    start_s: int
    depart_s: int


Stop = Visit | Handover | Break


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """The stops of one phlebotomist in order; it begins at ``from_s`` at the place where she starts."""

    phlebotomist: int
    """Index into ``Problem.staff``."""
    stops: tuple[Stop, ...]

    @property
    def visits(self) -> tuple[Visit, ...]:
        """The stops at beds."""
        return tuple(s for s in self.stops if isinstance(s, Visit))


@dataclass(frozen=True, slots=True, kw_only=True)
class GoalPart:
    """One thing that a tier counts, with its own value, and what one of it counts in the tier's unit."""

    name: str
    unit: str
    value: int
    price: int

    @property
    def counted(self) -> int:
        """What it adds to the tier, in the tier's unit."""
        return self.price * self.value


@dataclass(frozen=True, slots=True, kw_only=True)
class Goal:
    """One tier: its value, the proven bound (no plan with the same visits can be better), and what adds up to it."""

    name: str
    unit: str
    value: int
    bound: int
    parts: tuple[GoalPart, ...] = ()

    @property
    def is_proven(self) -> bool:
        """True when no plan with the same visits can do better, the tiers before it being what they are."""
        return self.bound >= self.value


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A whole round: one route per phlebotomist (possibly empty), unplanned orders, tiers of goals in strict order."""

    routes: tuple[Route, ...]
    unplanned: tuple[Unplanned, ...]
    goals: tuple[Goal, ...]
    preferences_missed: tuple[tuple[OrderId, str], ...] = ()
    """Orders whose preferred clock time or fasting state the plan does not meet, with the rule's name."""

    def part(self, part: Part) -> GoalPart:
        """Return one part of the plan's goals.

        Raises
        ------
        KeyError
            If the plan does not state it.
        """
        for goal in self.goals:
            for stated in goal.parts:
                if stated.name == part.value:
                    return stated
        raise KeyError(part)
