"""The laboratory catalogue: tests, tube types and the order of draw. The data lie in ``planner/laboratory``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum, StrEnum
from typing import NewType

TestCode = NewType("TestCode", str)
TubeCode = NewType("TubeCode", str)

DISCARD_TUBE = TubeCode("DIS")
"""The tube type that is filled first and thrown away; it carries no test."""


class Handling(Enum):
    """What a specimen needs beyond being drawn; the value is the code used in the catalogue files."""

    PRECHILL = "prechill"
    ICE = "ice"
    NO_ICE = "no_ice"
    PREWARM = "prewarm"
    WARM_37C = "warm37"
    LIGHT = "light"
    ANAEROBIC = "anaerobic"
    HAND_DELIVER = "hand_deliver"
    TRACE_CLEAN = "trace_clean"
    FULL_FILL = "full_fill"
    DISCARD_FIRST = "discard_first"
    NO_TOURNIQUET = "no_tourniquet"
    NO_FIST = "no_fist"
    NO_HEPARIN_LINE = "no_heparin_line"
    NO_ALCOHOL_PREP = "no_alcohol_prep"
    NOT_LITHIUM_HEPARIN = "not_li_heparin"
    NO_GEL = "no_gel"
    ASEPSIS = "asepsis"
    BEFORE_ANTIBIOTICS = "before_antibiotics"
    STRICT_LABEL = "strict_label"
    SECOND_SAMPLE = "second_sample"
    RECORD_TIME = "record_time"
    RECORD_DOSE = "record_dose"
    SUPINE = "supine"
    UPRIGHT_2H = "upright_2h"
    WEEKDAY_ONLY = "weekday_only"
    HEEL_ONLY = "heel_only"


class TransportMode(Enum):
    """The temperature at which a tube travels. Tests share a tube only when they travel the same way."""

    ROOM = "room"
    ICE = "ice"
    WARM = "warm"


class Importance(Enum):
    """How soon a result is acted on, the most important first: over a child's blood limit the last waits first."""

    VITAL = "vital"
    ACUTE = "acute"
    USUAL = "usual"
    LATER = "later"


class SizeUse(Enum):
    """Whom a tube size is for. Adults get adult and small-volume sizes, children children's sizes too.

    Capillary sizes are those of small open tubes, for draws from the skin alone.
    """

    ADULT = "adult"
    SMALL = "small"
    CHILD = "child"
    CAPILLARY = "capillary"


@dataclass(frozen=True, slots=True, kw_only=True)
class TubeSize:
    """One size of a tube type: what its vacuum pulls, or what a bottle or kit tube is to be filled with."""

    draw_ul: int
    use: SizeUse

    def __post_init__(self) -> None:
        if self.draw_ul <= 0:
            raise ValueError(f"a tube draws more than nothing, not {self.draw_ul} uL")


@dataclass(frozen=True, slots=True, kw_only=True)
class TubeType:
    """A kind of tube, bottle or syringe. The additive is its key; the closure colour is the site's word for it.

    ``rank`` is its place in the order of draw (1 first); tubes of equal rank go by ``rank_within``, then code.
    ``sizes`` are in ascending order of draw volume. ``min_fill_pct`` is the least share of the draw volume that
    the laboratory accepts; 100 means never partly filled. ``filled_to_need`` marks culture bottles and tubes
    issued for one test: they are filled with what the test asks for, not with what a vacuum pulls.
    """

    code: TubeCode
    name: str
    additive: str
    iso_code: str
    closure: str
    rank: int
    rank_within: int
    inversions: str
    sizes: tuple[TubeSize, ...]
    min_fill_pct: int
    filled_to_need: bool = False
    is_culture: bool = False
    has_gel: bool = False
    has_lithium_heparin: bool = False
    clot_minutes: int | None = None
    used_for: str = ""
    source: str = ""
    capillary_rank: int | None = None
    """Place in the order of draw from the skin (1 first); None: no such container."""
    capillary_name: str = ""
    """What the small open container is called; empty: as the tube."""
    bedside: str = ""
    """Words that the collector needs at a bed at which this container is filled."""

    def name_of(self, size_ul: int) -> str:
        """Return what a container of this size is called: a size for draws from the skin alone has its own name."""
        uses = {size.use for size in self.sizes if size.draw_ul == size_ul}
        return self.capillary_name or self.name if uses == {SizeUse.CAPILLARY} else self.name

    @property
    def has_additive(self) -> bool:
        """True when the tube must be inverted after filling."""
        return self.inversions not in ("", "0")


class DoseKind(StrEnum):
    """What a dose rule counts from."""

    TROUGH = "trough"
    """Seconds before the next dose."""
    POST_DOSE = "post_dose"
    POST_START = "post_start"
    """After the start of the last dose."""
    POST_CHANGE = "post_change"
    """After a change of rate."""
    POST_END = "post_end"
    """After the end of the infusion."""
    PROTOCOL = "protocol"
    """The order itself must state the time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DoseRule:
    """When a drug level may be drawn, counted from a dose: both ends included; no ``to_s`` means no upper end.

    ``holds_stat``: a stated dose holds even a stat, because a level before it says nothing (paracetamol before 4 h).
    """

    kind: DoseKind
    from_s: int = 0
    to_s: int | None = None
    holds_stat: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockRule:
    """Clock times between which a test is drawn, seconds after midnight, both ends included."""

    from_s: int
    to_s: int
    is_required: bool


class CountsFrom(Enum):
    """What the later samples of a dynamic test count from. The ward gives it after the first sample, never we."""

    DRINK = "drink"
    INJECTION = "injection"


@dataclass(frozen=True, slots=True, kw_only=True)
class TubeLimit:
    """Longest time from draw to receipt of a test in one tube kind, by mode; None: as the test says by itself."""

    tube: TubeCode
    max_room_s: int | None = None
    max_ice_s: int | None = None
    max_warm_s: int | None = None

    def in_mode(self, mode: TransportMode) -> int | None:
        """Return the limit in a mode; None: none is stated."""
        return {
            TransportMode.ROOM: self.max_room_s,
            TransportMode.ICE: self.max_ice_s,
            TransportMode.WARM: self.max_warm_s,
        }[mode]


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosedSpan:
    """Part of every week in which the laboratory does not take a test: seconds after Monday 00:00 of the wall's clock.

    From ``from_s`` up to, not including, ``to_s``; a span whose end is not after its start passes over Sunday night.
    """

    from_s: int
    to_s: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LabTest:
    """A laboratory test: which tubes serve it, how much blood it needs, and how it must be drawn and carried.

    ``accepts`` lists the alternatives in preference order; an alternative of two codes needs both containers
    (a culture set is one aerobic and one anaerobic bottle). ``min_volume_ul`` of whole blood makes the test
    possible alone (over all its containers); ``add_volume_ul`` is what it adds to a tube that another test of
    the same ``share_group`` already fills. ``share_group`` None: the test never shares. ``containers`` is the
    number of tubes one order needs with the first alternative.
    ``max_room_s``, ``max_ice_s``, ``max_warm_s``: longest time from draw to receipt in that mode; None: that
    mode is not allowed or not used. ``tube_limits`` go before them for the tube kinds that they name.
    ``child_min_volume_ul`` stands for ``min_volume_ul`` under 14 years; None: no other.
    ``first_choice``: whether the first of ``accepts`` that the patient may have is taken, whatever another would
    save; None leaves it to `takes_first_choice`. ``one_kind_in_series``: all draws of a series are made into one
    tube kind. ``counts_from`` is what the ward gives after the first sample of a dynamic test.
    ``closed``: when the laboratory does not take it. ``bedside``: words that the collector needs at the bed.
    """

    code: TestCode
    name: str
    loinc: str
    loinc_name: str
    section: str
    accepts: tuple[tuple[TubeCode, ...], ...]
    min_volume_ul: int
    add_volume_ul: int
    share_group: str | None
    min_fill_pct: int
    containers: int
    handling: frozenset[Handling]
    max_room_s: int | None
    max_ice_s: int | None
    max_warm_s: int | None
    fasting_s: int = 0
    fasting_required: bool = False
    clock_rule: ClockRule | None = None
    dose_rule: DoseRule | None = None
    serial_offsets: tuple[tuple[int, ...], ...] = ()
    serial_tolerance_s: int | None = None
    notes: str = ""
    source: str = ""
    tube_limits: tuple[TubeLimit, ...] = ()
    child_min_volume_ul: int | None = None
    first_choice: bool | None = None
    one_kind_in_series: bool = False
    counts_from: CountsFrom | None = None
    closed: tuple[ClosedSpan, ...] = ()
    bedside: str = ""
    importance: Importance = Importance.USUAL
    capillary_min_volume_ul: int | None = None
    """Least volume drawn from the skin; None: it is not drawn so."""

    @property
    def takes_first_choice(self) -> bool:
        """Whether the first tube kind that the patient may have is taken; transfusion tests do unless a site says no.

        Lavender would often save a millilitre over pink, and a blood bank may refuse it.
        """
        return Handling.STRICT_LABEL in self.handling if self.first_choice is None else self.first_choice

    def volumes_ul(self, *, is_child: bool, is_capillary: bool = False) -> tuple[int, int]:
        """Return what it needs alone and what it adds to a shared tube: no more than a child's least.

        From the skin its own least counts, and it adds no more than that.
        """
        if is_capillary and self.capillary_min_volume_ul is not None:
            return self.capillary_min_volume_ul, min(self.add_volume_ul, self.capillary_min_volume_ul)
        if not is_child or self.child_min_volume_ul is None:
            return self.min_volume_ul, self.add_volume_ul
        return self.child_min_volume_ul, min(self.add_volume_ul, self.child_min_volume_ul)

    @property
    def mode(self) -> TransportMode:
        """How the specimen travels, from its handling codes."""
        if Handling.ICE in self.handling:
            return TransportMode.ICE
        if Handling.WARM_37C in self.handling:
            return TransportMode.WARM
        return TransportMode.ROOM

    def stability_in(self, tube: TubeCode) -> int | None:
        """Return the seconds from draw to receipt that it keeps in a tube kind, as it travels; None: no limit.

        Example: PTH 24 h, in serum gel 120 min: 7 200 s in SERG, 86 400 s in any other kind.
        """
        own = TubeLimit(tube=tube, max_room_s=self.max_room_s, max_ice_s=self.max_ice_s, max_warm_s=self.max_warm_s)
        named = next((limit for limit in self.tube_limits if limit.tube == tube), own)
        stated = named.in_mode(self.mode)
        return own.in_mode(self.mode) if stated is None else stated

    @property
    def is_culture(self) -> bool:
        """True for blood cultures, of which a patient may need several sets: drawn aseptically, never chilled."""
        codes = {Handling.ASEPSIS, Handling.NO_ICE}
        return codes <= self.handling and self.share_group is None


@dataclass(frozen=True, slots=True, kw_only=True)
class Catalogue:
    """All tests and tube types of the site, each under its code."""

    tests: Mapping[TestCode, LabTest]
    tubes: Mapping[TubeCode, TubeType]


@dataclass(frozen=True, slots=True, kw_only=True)
class Confirmation:
    """The laboratory's confirmation of tube and stability values: by whom, and when (ISO 8601).

    ``changed`` are the codes of tests and tube kinds whose values are not, or no longer, those that were confirmed.
    """

    name: str
    when: str
    changed: tuple[str, ...] = ()

    @property
    def is_valid(self) -> bool:
        """True when every value in use was confirmed."""
        return not self.changed
