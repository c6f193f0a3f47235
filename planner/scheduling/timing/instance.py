"""The scheduling problem as plain numbers: what the route timing, the search and the solver model all read."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

from planner.domain.goals import EFFORT_PER_S
from planner.domain.orders import Precaution, TimeWindow
from planner.domain.price_policy import PricePolicy
from planner.scheduling.timing.turns import Turns

if TYPE_CHECKING:
    from planner.scheduling.timing.arrays import Rules


@dataclass(frozen=True, slots=True, kw_only=True)
class SpecimenData:
    """The tubes of one visit that travel alike: by any pickup, or by hand only (never by tube station).

    ``limit_s`` is the shortest stability among them, counted from the start of the visit (the lead included);
    ``need_weight`` is what a second past the ward's need-by time costs, over the orders they serve; ``to_lab`` are
    (second at which what is wanted soon should be in the laboratory, weight per second past it), ascending.
    """

    by_hand: bool
    limit_s: int
    need_weight: int
    num_tubes: int = 1
    to_lab: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PromiseData:
    """What the last sheet said of a visit: who makes it, as which of her visits to come, and its start.

    A visit whose phlebotomist is behind is promised for when walking on would bring them to it.
    """

    collector: int
    position: int
    start_s: int


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitData:
    """A draw in numbers: node of its bed, time at the bed, allowed starts, soft ends, what its specimens need.

    ``targets`` are (last start that is not late, weight per second past it), ascending.
    ``wish_s`` is the first start at which its stat could be drawn, ``last_minutes_s`` that from which the last minutes
    before a hard end of its orders count; None: it has none. ``wished`` are the spans of the start (first, last) that
    stated times and preferences wish for.
    ``able`` are the indices of the staff who may make it, ``strange`` of those who prefer other wards.
    ``precaution`` is the place of the patient's precautions in the order of rule ``precautions`` (see
    `PRECAUTION_RANK`); ``first_s`` and ``last_s`` are the first and the last start that the patient's own times allow,
    targets included: they say whether it could stand before another.
    ``ward`` is the number of its patient's ward, read of visits alone.
    ``is_tray``: no visit, but specimens in the tray of the one who is able, which must still be given away; it takes no
    time, at the place and second at which the route goes on.
    """

    node: int
    service_s: int
    windows: tuple[TimeWindow, ...]
    targets: tuple[tuple[int, int], ...]
    weight: int
    specimens: tuple[SpecimenData, ...]
    need_by_s: int | None
    able: frozenset[int]
    precaution: int = 1
    is_protective: bool = False
    first_s: int = 0
    last_s: int = 10**9
    promise: PromiseData | None = None
    wish_s: int | None = None
    last_minutes_s: int | None = None
    wished: tuple[tuple[int | None, int | None], ...] = ()
    is_tray: bool = False
    ward: int = 0
    strange: frozenset[int] = frozenset()


PRECAUTION_RANK: dict[Precaution | None, int] = {
    Precaution.PROTECTIVE: 0,
    None: 1,
    Precaution.CONTACT: 2,
    Precaution.DROPLET: 3,
    Precaution.AIRBORNE: 4,
    Precaution.UNCLEAR: 4,
}
"""Part ``precautions``: on a route the lower come first. Of several precautions of a patient the highest counts."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GapData:
    """Rule ``series-gap``: visit ``second`` starts between ``least_s`` and ``most_s`` after the start of ``first``."""

    first: int
    second: int
    least_s: int
    most_s: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PickupData:
    """A pickup in numbers; ``departures_s`` is empty when specimens leave at once."""

    node: int
    takes_hand: bool
    departures_s: tuple[int, ...]
    transit_s: int

    def lab_arrival_s(self, depart_s: int) -> int | None:
        """Return when specimens given away by then reach the laboratory; None when no courier leaves any more."""
        if not self.departures_s:
            return depart_s + self.transit_s
        index = bisect_left(self.departures_s, depart_s)
        return self.departures_s[index] + self.transit_s if index < len(self.departures_s) else None

    def departs_s(self, depart_s: int) -> int | None:
        """Return the courier's departure that takes what is given away by then; None without a courier."""
        if not self.departures_s:
            return None
        return self.departures_s[bisect_left(self.departures_s, depart_s)]


@dataclass(frozen=True, slots=True, kw_only=True)
class CollectorData:
    """A phlebotomist in numbers. ``break_window`` holds the allowed starts of her break; None: she has none.

    ``ward`` is the number of the ward of the last visit that she has made; None: she has made none.
    A break is owed unless the route is over while the whole break still fits behind it.
    """

    node: int
    from_s: int
    until_s: int
    break_s: int = 0
    break_window: TimeWindow | None = None
    ward: int | None = None

    def owes_break(self, finish_s: int) -> bool:
        """Return whether a route without a break that ends at this second owes one."""
        return self.break_window is not None and finish_s > self.break_window.latest_s


TRAY_WEIGHT = 1_000_000
"""Stands in part ``uncollected`` for specimens in a tray: nothing is worth leaving them there."""

BREAK = -1_000_000
"""The stop of a route at which the collector takes her break, where she is."""

NEVER = 10**9
"""Past every second of a round; the price of a place that a visit cannot have."""

NO_LIMIT_S = 7 * 86_400
"""Stands for a specimen that no stated limit hurries: longer than any round."""


@dataclass(frozen=True, kw_only=True)
class Instance:
    """Visits, pickups and collectors over a square matrix of walking seconds, ``walk[from][to]``."""

    start_s: int
    walk: tuple[tuple[int, ...], ...]
    visits: tuple[VisitData, ...]
    pickups: tuple[PickupData, ...]
    collectors: tuple[CollectorData, ...]
    handover_s: int
    max_sends: int
    same_bed: tuple[tuple[int, int], ...] = ()
    """Pairs of visits of one patient whose stays could overlap (rule ``one-at-the-bed``)."""
    gaps: tuple[GapData, ...] = ()
    tray_limit: int | None = None
    """Most tubes that one collector carries at a time."""
    change_s: int = 0
    """A promised visit that comes later by more counts in part ``changes``."""
    prices: PricePolicy = field(default_factory=PricePolicy)
    same_patient: tuple[tuple[int, ...], ...] = ()
    """The visits of each patient who has more than one."""
    turns: Turns = field(default_factory=Turns)
    """Pairs out of the order of isolation."""
    exposures: Turns = field(default_factory=Turns)
    """Pairs of a patient in protective isolation after one in airborne isolation."""

    def dues(self, visit: VisitData, specimens: SpecimenData) -> tuple[tuple[int, int], ...]:
        """Return (second in the laboratory, what a second past it counts in tier ``service``) of specimens."""
        need_by = ((visit.need_by_s, specimens.need_weight),) if visit.need_by_s and specimens.need_weight else ()
        if not specimens.to_lab:
            return need_by
        return (*need_by, *((due_s, self.prices.to_lab * weight) for due_s, weight in specimens.to_lab))

    @cached_property
    def bound(self) -> frozenset[int]:
        """The visits that a rule binds to another, on whatever route it is."""
        pairs = [*self.same_bed, *((gap.first, gap.second) for gap in self.gaps)]
        return frozenset(visit for pair in pairs for visit in pair)

    @cached_property
    def linked(self) -> frozenset[int]:
        """Those, and the visits of the patients who have more than one."""
        return self.bound | {visit for group in self.same_patient for visit in group}

    @cached_property
    def num_specimens(self) -> tuple[int, ...]:
        """How many specimens each visit has."""
        return tuple(len(visit.specimens) for visit in self.visits)

    @cached_property
    def rules(self) -> Rules:
        """All that the timing of a route asks, in arrays."""
        from planner.scheduling.timing.arrays import rules_of

        return rules_of(self)

    def pulls(self, visit: VisitData) -> list[tuple[int, int, int]]:
        """Return what the start of a visit counts in tier ``effort``: (second, price of each later, of each sooner)."""
        found = [(s, self.prices.off_time_pct, 0) for _, s in visit.wished if s is not None]
        found += [(s, 0, self.prices.off_time_pct) for s, _ in visit.wished if s is not None]
        if visit.wish_s is not None:
            found.append((visit.wish_s, self.prices.stat_wait_pct, 0))
        if visit.last_minutes_s is not None:
            found.append((visit.last_minutes_s, self.prices.last_minutes_pct, 0))
        return [pull for pull in found if pull[1] or pull[2]]

    @property
    def shares_pct(self) -> tuple[int, ...]:
        """The fair share of each collector in the work at beds: that of the time there, in whole percent."""
        there_s = [who.until_s - who.from_s for who in self.collectors]
        return tuple(100 * own_s // max(1, sum(there_s)) for own_s in there_s)

    @property
    def effort_of_pairs(self) -> tuple[int, int]:
        """What one of `turns` and one of `exposures` count in tier ``effort``."""
        return EFFORT_PER_S * self.prices.isolation_s, EFFORT_PER_S * self.prices.protective_after_airborne_s
