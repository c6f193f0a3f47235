"""Every number that a site may set, with the default and where it comes from.

Sources: [P19] Calgary phlebotomy cycle time, Lab Med 2016; [L53] Saskatoon and [L55] a children's hospital, daily
limit 1.7 mL/kg; [L54] Phlebotomy Handbook 8th ed. 2010, cap per draw under 14 years; [L62] two identifiers;
"engineering choice" where nothing is published. Full keys: planner/laboratory/SOURCES.md.
In a policy file a field ``x_s`` is written ``x_minutes``, ``x_ul`` is written ``x_ml``, ``x_at_s`` is ``x_at``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import Enum

from planner.domain.orders import Precaution, Priority, TimeWindow
from planner.units import hours_to_s, minutes_to_s

EVERYBODY = "*"
"""Name under which a policy file keeps a single value where values may be named: every ward, or whoever answers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundPolicy:
    """The round when no staff table says otherwise, and what happens at given clock times of its day."""

    start_at_s: int = hours_to_s(5)
    end_at_s: int = hours_to_s(9)
    phlebotomists: int = 1
    breakfast_at_s: int = hours_to_s(8)
    quiet_hours: Mapping[str, tuple[TimeWindow, ...]] = field(default_factory=dict)
    """By ward: draw times at which only stat, timed and dose-ruled orders are drawn. Ward ``*``: every ward."""
    needed_by_s: Mapping[str, int] = field(default_factory=dict)
    """By ward: when specimens should have reached the laboratory. Ward ``*``: every ward."""
    day: date | None = None
    """The round's date, where the command does not say it; it goes before the dates of the orders."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowPolicy:
    """Widths of time windows. Targets and tolerances: trade-wide minutes, from memory; local policy decides."""

    stat_target_s: int = minutes_to_s(15)
    asap_target_s: int = minutes_to_s(60)
    urgent_target_s: int = minutes_to_s(60)
    timed_tolerance_s: int = minutes_to_s(30)
    drug_tolerance_s: int = minutes_to_s(15)
    """Tolerance of timed draws of drug levels and of series."""
    timed_give_up_s: int = minutes_to_s(60)
    """So long after its tolerance a timed draw is no longer made without asking (engineering choice)."""
    default_fast_s: int = hours_to_s(8)
    """Fast asked for by an order whose test states none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ServicePolicy:
    """Time at the bed. The five parts add up to the 5 minutes of an adult's bed (mean 259 s, SD 52 s [P19])."""

    identify_s: int = 75
    prepare_s: int = 60
    draw_s: int = 75
    label_s: int = 60
    tidy_s: int = 30
    child_extra_s: int = minutes_to_s(2)
    tubes_included: int = 4
    extra_tube_s: int = minutes_to_s(1)
    extra_culture_site_s: int = minutes_to_s(2)
    difficult_veins_extra_s: int = minutes_to_s(2)
    gown_s: Mapping[Precaution, int] = field(
        default_factory=lambda: {
            Precaution.PROTECTIVE: minutes_to_s(4),
            Precaution.CONTACT: minutes_to_s(3),
            Precaution.DROPLET: minutes_to_s(3),
            Precaution.AIRBORNE: minutes_to_s(5),
        }
    )
    """Putting on and taking off; half of it (rounded down) comes before the draw."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WalkingPolicy:
    """Walking when the map states metres, and the assumed corridor when there is no map (engineering choices)."""

    speed_m_per_s: float = 1.2
    bed_spacing_m: float = 4.0
    ward_gap_m: float = 40.0
    laboratory_walk_s: int = minutes_to_s(5)
    """From the base to the laboratory, when no map says otherwise."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HandoverPolicy:
    """Giving specimens away."""

    handover_s: int = minutes_to_s(1)
    max_sends: int = 6
    """Most times that one collector uses one tube station, or carries to one place, in a round."""
    tube_takes_ice: bool = False
    """Whether specimens on ice may go by pneumatic tube, in a sealed bag with a cold pack; else by hand, courier."""
    tube_takes_glass: bool = False
    """Whether culture bottles, which may be glass, may go by pneumatic tube, bagged and padded."""
    tray_limit: int | None = None
    """Most tubes that one collector carries at a time; None: no limit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReplanPolicy:
    """Replanning a round that has begun (engineering choices)."""

    change_s: int = minutes_to_s(10)
    """A visit that comes later than the last sheet said by more than this counts as changed."""
    retry_after_s: int = minutes_to_s(20)
    """A patient who was away is tried again after so long, unless the ward says when."""
    moved_stop_price_s: int = minutes_to_s(10)
    """Weighted lateness that every moved stop must save: a minute of a stat draw (weight 10), ten of a routine one."""
    assumed_done_limit: int = 12
    """More visits than this that count as done although nobody reported them need a decision.

    Twelve visits are about an hour of one phlebotomist's work: as many as a lead can ask about on the phone before the
    next stat arrives.
    """


@dataclass(frozen=True, slots=True, kw_only=True)
class WeightPolicy:
    """Relative weight of orders within one goal, by priority; whole numbers. Goals are never mixed."""

    uncollected: Mapping[Priority, int] = field(
        default_factory=lambda: {
            Priority.STAT: 100,
            Priority.ASAP: 30,
            Priority.URGENT: 20,
            Priority.ROUTINE: 1,
        }
    )
    uncollected_timed: int = 10
    """The least weight of an order with a stated time or a dose rule."""
    late: Mapping[Priority, int] = field(
        default_factory=lambda: {Priority.STAT: 10, Priority.ASAP: 4, Priority.URGENT: 3, Priority.ROUTINE: 1}
    )
    late_timed: int = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class TubePolicy:
    """Choosing tubes and needles."""

    discard_adult_ul: int = 1000
    discard_child_ul: int = 500
    routine_device: str = "straight"
    """``straight`` or ``winged``: what a plain adult draw is made with."""
    max_tubes_per_draw: int = 10
    """Common practice, no source: up to 10 tubes in one draw; more is planned, and said."""
    weight_table_cultures: str = "a"
    """Which published table of children's culture volumes is used: ``a`` [L5] or ``b`` [L4]."""
    spare_one_in: int = 5
    """One spare for so many of a thing on the supplies page, begun ones counted (engineering choice)."""


class NeonateMethod(Enum):
    """How blood is taken from a patient under 28 days whose row does not say it."""

    DECISION = "decision"
    VENOUS = "venous"
    CAPILLARY = "capillary"
    WARD = "ward"


@dataclass(frozen=True, slots=True, kw_only=True)
class BloodPolicy:
    """Limits on blood drawn. Child limits [L53, L55, L54]; adult flags are an engineering choice."""

    child_under_years: int = 18
    """Below this age the daily and 30-day limits by weight apply."""
    child_wards: tuple[str, ...] = ()
    """Wards of children: an unknown age there is a child's. ``*``: every ward."""
    adult_wards: tuple[str, ...] = ()
    """Wards without children: an unknown age there is an adult's, unless the weight is a child's. ``*``: every ward."""
    child_ml_per_kg_tbv: int = 80
    adult_ml_per_kg_tbv: int = 70
    child_day_ul_per_kg: int = 1700
    child_30d_tbv_pct: float = 5.0
    neonate_method: NeonateMethod = NeonateMethod.DECISION
    """How a neonate is drawn whose row does not say it: by default a person decides."""
    unknown_drawn_pct: float = 50.0
    """So much of a child's day limit is drawn where nobody knows what was drawn before (engineering choice)."""
    child_visit_warn_tbv_pct: float = 1.0
    anaemia_reference_g_l: int = 110
    """Haemoglobin below this lowers a child's limits in proportion (engineering choice, after P32)."""
    adult_flag_24h_ul: int = 50_000
    adult_flag_7d_ul: int = 100_000


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetPolicy:
    """What the printed sheet says beside the plan."""

    phones: Mapping[str, str] = field(default_factory=dict)
    """Whom a collector phones, and the number, such as "ward nurse" and "2140"; none: room to write them in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Policy:
    """All that a site may set, by subject."""

    time_zone: str = "UTC"
    site_folder: str = ""
    """Folder with the site's own tables for all its rounds, as found from the round's folder; empty: none."""
    round: RoundPolicy = field(default_factory=RoundPolicy)
    windows: WindowPolicy = field(default_factory=WindowPolicy)
    service: ServicePolicy = field(default_factory=ServicePolicy)
    walking: WalkingPolicy = field(default_factory=WalkingPolicy)
    handover: HandoverPolicy = field(default_factory=HandoverPolicy)
    replan: ReplanPolicy = field(default_factory=ReplanPolicy)
    weights: WeightPolicy = field(default_factory=WeightPolicy)
    tubes: TubePolicy = field(default_factory=TubePolicy)
    blood: BloodPolicy = field(default_factory=BloodPolicy)
    sheet: SheetPolicy = field(default_factory=SheetPolicy)
