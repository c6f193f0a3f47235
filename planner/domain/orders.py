"""Patients, what is ordered for them, and the spans of time that both bring along."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date
from enum import Enum
from typing import NewType

from planner.domain.catalogue import TestCode, TubeCode
from planner.domain.patients.births import BirthDate, earliest_birth, latest_birth
from planner.domain.places import PlaceId
from planner.findings import Source

OrderId = NewType("OrderId", str)
PatientId = NewType("PatientId", str)

CHILD_UNDER_YEARS = 14
"""Below this age the child's bed time, sizes and per-draw cap apply (Phlebotomy Handbook 8th ed., 2010)."""

NEONATE_UNDER_DAYS = 28
"""Below this age a patient is a neonate (WHO: the first 28 days of life)."""


class Priority(Enum):
    """How soon an order is to be drawn, as the code system FHIR request-priority has it; most urgent first."""

    STAT = "stat"
    ASAP = "asap"
    URGENT = "urgent"
    ROUTINE = "routine"


class Precaution(Enum):
    """Isolation category of a patient's room."""

    PROTECTIVE = "protective"
    CONTACT = "contact"
    DROPLET = "droplet"
    AIRBORNE = "airborne"
    UNCLEAR = "unclear"
    """Something is said of isolation that is not understood: planned as the strictest, and asked at the door."""


class Method(Enum):
    """How blood is taken from a patient."""

    VENOUS = "venous"
    CAPILLARY = "capillary"
    """From heel or finger, into small open tubes, in an order of its own."""
    WARD = "ward"
    """By the ward's own staff: not on this round."""


class Arm(Enum):
    """An arm of a patient."""

    LEFT = "left"
    RIGHT = "right"


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class TimeWindow:
    """Span in which something may start: whole seconds after midnight of the round's day, both ends included.

    Raises
    ------
    ValueError
        If the window ends before it begins.
    """

    earliest_s: int
    latest_s: int

    def __post_init__(self) -> None:
        if self.latest_s < self.earliest_s:
            raise ValueError(f"window ends before it begins: {self.earliest_s} s to {self.latest_s} s")

    def __contains__(self, second: int) -> bool:
        return self.earliest_s <= second <= self.latest_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Patient:
    """A patient on the ward. Name and birth date stay out of ``repr``, so out of logs and messages.

    ``away`` are spans in which the patient is not at the bed; ``needs`` the skills a collector must have.
    ``drawn_24h_ul`` and ``drawn_30d_ul`` are what others took before this round; None: not known. ``gone_s`` is when
    it was told that the patient has left or died; the bed is free from then on. ``arms_barred`` are arms that must not
    be used. ``unmapped`` is what columns say that nobody has mapped, as 'heading: text', to be printed as it stands.
    """

    id: PatientId
    bed: PlaceId
    ward: str
    family_name: str = field(default="", repr=False)
    given_name: str = field(default="", repr=False)
    birth_date: BirthDate | None = field(default=None, repr=False)
    sex: str = ""
    weight_g: int | None = None
    haemoglobin_g_l: int | None = None
    precautions: frozenset[Precaution] = frozenset()
    alerts: tuple[str, ...] = ()
    has_difficult_veins: bool = False
    last_ate_s: int | None = None
    next_meal_s: int | None = None
    drawn_24h_ul: int | None = None
    drawn_30d_ul: int | None = None
    away: tuple[TimeWindow, ...] = ()
    needs: frozenset[str] = frozenset()
    gone_s: int | None = None
    method: Method | None = None
    """How blood is to be taken, where the patient's row says it (`domain/methods.py` settles the rest)."""
    arms_barred: frozenset[Arm] = frozenset()
    arms_in_words: frozenset[Arm] = frozenset()
    """Arms that alerts and other texts of the patient bar, as far as they are understood."""
    infusion_arms: frozenset[Arm] = frozenset()
    """Arms into which something runs, by the same texts."""
    arms_unexplained: frozenset[Arm] = frozenset()
    """Arms that the same texts name with no reason that is understood."""
    has_sideless_reason: bool = False
    """True when the same texts give a reason against an arm, and no text gives its side."""
    unmapped: tuple[str, ...] = ()
    unclear: tuple[str, ...] = ()
    """Those of ``unmapped`` whose column is nearly named like one of isolation, alerts, arms, allergies or fasting, and
    what is planned by an alert alone: the card asks about each."""

    def age_years(self, on: date) -> int | None:
        """Return completed years of age on a day, the youngest that the birth date allows; None: not known."""
        if self.birth_date is None:
            return None
        born = min(latest_birth(self.birth_date), on)
        had_birthday = (on.month, on.day) >= (born.month, born.day)
        return on.year - born.year - (0 if had_birthday else 1)

    def youngest_days(self, on: date) -> int | None:
        """Return the least age in days that the birth date allows; None when it is not known."""
        return None if self.birth_date is None else (on - min(latest_birth(self.birth_date), on)).days

    def oldest_days(self, on: date) -> int | None:
        """Return the greatest age in days that the birth date allows; None when it is not known."""
        return None if self.birth_date is None else (on - min(earliest_birth(self.birth_date), on)).days


class NoteSays(Enum):
    """A condition that the note of an order, or an alert of its patient, states."""

    OTHERS_DRAW = "others_draw"
    """The ward or a doctor draws, or the specimen comes from a line."""
    HEPARIN = "heparin"
    """The patient is on a heparin infusion, and the test is one for patients without."""
    ANTIBIOTIC = "antibiotic"
    """An antibiotic is due or was given, and the test is one to be drawn before it."""
    ELSEWHERE = "elsewhere"
    """The patient is to be elsewhere, in theatre or at dialysis, from a time on."""
    GONE = "gone"
    """The patient has left or died."""
    FROM_SKIN = "from_skin"
    """The patient is to be drawn from heel or finger, never from a vein."""
    NOT_BY_VEIN = "not_by_vein"
    """No vein is to be punctured; from where instead, a text may say or not."""
    FASTING = "fasting"
    """The patient is to be fasting."""
    CLUMPS = "clumps"
    """Platelets clump in EDTA, and the test counts them in it."""
    HIGH_HAZARD = "high_hazard"
    """A haemorrhagic fever or the like is suspected: who goes, and how, is not for this plan."""
    NOT_WANTED = "not_wanted"
    """The draw is not to be made, or was made."""
    TIED = "tied"
    """The draw comes before or after something of the patient's care, or not before a time."""
    COUNTED = "counted"
    """The draw comes a stated span before or after something, by the order's own note: '4 h after insulin'."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """A request for one test on one patient. Times are seconds after midnight of the round's day; None: not stated.

    ``fasting``: True asks for a fasting draw, False says it need not be, None leaves it to the test.
    ``last_dose_s`` is also the start of the infusion or the change of its rate, where the test's rule counts
    from those. ``series`` names a run of repeated draws; orders of one series are never merged.
    """

    id: OrderId
    patient_id: PatientId
    test: TestCode
    priority: Priority = Priority.ROUTINE
    collect_at_s: int | None = None
    collect_from_s: int | None = None
    collect_to_s: int | None = None
    fasting: bool | None = None
    last_dose_s: int | None = None
    next_dose_s: int | None = None
    infusion_end_s: int | None = None
    series: str | None = None
    ordered_s: int | None = None
    note: str = ""
    note_says: frozenset[NoteSays] = frozenset()
    """Conditions that notes and alerts state. None changes the plan: a person decides where one speaks against it."""
    antibiotic_s: tuple[int, ...] = ()
    """When, by the same texts, an antibiotic was or is to be given, of an order that says `NoteSays.ANTIBIOTIC`."""
    elsewhere_s: tuple[int, ...] = ()
    """From when the patient is elsewhere, by the same texts, of an order that says `NoteSays.ELSEWHERE`."""
    time_in_note: str = ""
    """The words of a note that speaks of a time, a span or a repetition; empty: it does not."""
    source: Source | None = None
    stands_for: TestCode | None = None
    """The test as it was ordered, where what is said of the patient asks for another way of drawing it."""
    arms_in_words: frozenset[Arm] = frozenset()
    """Arms that the note bars, as far as it is understood."""
    infusion_arms: frozenset[Arm] = frozenset()
    """Arms into which something runs, by the note."""
    arms_unexplained: frozenset[Arm] = frozenset()
    """Arms that the note names with no reason that is understood."""
    named: str = ""
    """What the order list calls the test; empty: as the catalogue's code has it."""

    @property
    def called(self) -> str:
        """What the test is called on a card: as the order list names it, which is what the ward and the labels say."""
        return self.named or self.test

    @property
    def is_timed(self) -> bool:
        """True when the order itself states when it is to be drawn."""
        return self.collect_at_s is not None or self.collect_from_s is not None or self.collect_to_s is not None

    def asks_the_same(self, other: Order) -> bool:
        """Return whether two orders agree in all but number, what their notes say, and where they were read."""
        as_other = replace(self, id=other.id, source=other.source, ordered_s=other.ordered_s, named=other.named)
        as_other = replace(as_other, test=self.ordered_test, stands_for=None)
        return as_other.with_note_of(other) == replace(other, test=other.ordered_test, stands_for=None)

    @property
    def ordered_test(self) -> TestCode:
        """The test as it was ordered."""
        return self.stands_for or self.test

    def with_note_of(self, other: Order) -> Order:
        """Return the order with the note of another, and with what that states."""
        return replace(
            self,
            note=other.note,
            note_says=other.note_says,
            time_in_note=other.time_in_note,
            antibiotic_s=other.antibiotic_s,
            elsewhere_s=other.elsewhere_s,
            arms_in_words=other.arms_in_words,
            infusion_arms=other.infusion_arms,
            arms_unexplained=other.arms_unexplained,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierDraw:
    """A draw of a series that was made before the round, by whomever: the next one keeps its gap from it.

    ``tube`` is the tube kind into which it was made; None: not known.
    ``collect_at_s`` is when its order asked for it; None: it states no time.
    """

    patient_id: PatientId
    test: TestCode
    series: str
    draw_s: int
    tube: TubeCode | None = None
    collect_at_s: int | None = None
