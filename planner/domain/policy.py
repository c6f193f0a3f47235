"""Every number that a site may set, with the default, its meaning, its unit and its range.

A field's text is what a site reads (``planner catalogue --policy``); `Unit` says how its name is written in a policy
file (``stat_target_s`` is ``stat_target_minutes``), `_MOST_BY_UNIT` how large it may be. A comment above a field says
where the default comes from. Sources: [P19] Calgary phlebotomy cycle time, Lab Med 2016; [L53] Saskatoon and [L55] a
children's hospital, daily limit 1.7 mL/kg; [L54] Phlebotomy Handbook 8th ed. 2010, cap per draw under 14 years; [L62]
two identifiers; "engineering choice" where nothing is published. Full keys: planner/laboratory/SOURCES.md.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import Enum, StrEnum

from planner.domain.draws import Device
from planner.domain.orders import Precaution, Priority, TimeWindow
from planner.domain.price_policy import PricePolicy
from planner.domain.settings import MOST_OF_A_PRICE_S, Unit, section, setting
from planner.domain.what_if import WhatIf
from planner.units import hours_to_s, minutes_to_s

EVERYBODY = "*"
"""Name under which a policy file keeps a single value where values may be named: every ward, or whoever answers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundPolicy:
    """The round when no staff table says otherwise, and what happens at given clock times of its day."""

    start_at_s: int = setting(hours_to_s(5), "First minute of work.", Unit.CLOCK)
    end_at_s: int = setting(hours_to_s(9), "Last minute of work.", Unit.CLOCK)
    phlebotomists: int = setting(1, "People on the round.", most=40, is_positive=True)
    breakfast_at_s: int = setting(
        hours_to_s(8), "Latest fasting draw, where the patient's next meal is not known.", Unit.CLOCK
    )
    quiet_hours: Mapping[str, tuple[TimeWindow, ...]] = setting(
        {},
        'By ward ("*": every ward): only stat, timed and dose-ruled draws are made then.',
        Unit.CLOCK,
        example='{ "Ward 1" = ["22:00-05:00"] }',
    )
    needed_by_s: Mapping[str, int] = setting(
        {},
        'By ward ("*": every ward): when specimens should have reached the laboratory.',
        Unit.CLOCK,
        example='{ "Ward 1" = "08:30" }',
    )
    day: date | None = setting(
        None,
        "Date of the round, where the command does not say it; goes before the dates of the orders.",
        example="2026-03-10",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowPolicy:
    """Widths of time windows. Targets and tolerances: trade-wide minutes, from memory; local policy decides."""

    stat_target_s: int = setting(
        minutes_to_s(15), "From the order (or the start of the round) to a stat draw.", Unit.SPAN
    )
    asap_target_s: int = setting(minutes_to_s(60), "The same for asap.", Unit.SPAN)
    urgent_target_s: int = setting(minutes_to_s(60), "The same for urgent.", Unit.SPAN)
    # From memory: with the draw's target, and as long again for the analysis, an hour from the order to the result.
    stat_to_lab_s: int = setting(
        minutes_to_s(10), "From when a stat could first be drawn to the laboratory.", Unit.SPAN, most=MOST_OF_A_PRICE_S
    )
    # From memory.
    asap_to_lab_s: int = setting(
        minutes_to_s(30), "From the target of an asap draw to the laboratory.", Unit.SPAN, most=MOST_OF_A_PRICE_S
    )
    timed_tolerance_s: int = setting(
        minutes_to_s(30), "Early or late by which a timed draw is still on time.", Unit.SPAN
    )
    drug_tolerance_s: int = setting(minutes_to_s(15), "The same for drug levels and series.", Unit.SPAN)
    # Engineering choice.
    timed_give_up_s: int = setting(
        minutes_to_s(60), "So long after its tolerance a timed draw is no longer made without asking.", Unit.SPAN
    )
    # Engineering choice.
    stated_spacing_pct: int = setting(
        80,
        "Percent that two timed draws of one test keep of the gap between their stated times.",
        Unit.PERCENT,
        most=100,
    )
    # Our choice: a short question at one bed on the way takes as long.
    last_minutes_s: int = setting(
        minutes_to_s(10),
        "Before the end of a time that cannot be exceeded, so long counts as its last minutes.",
        Unit.SPAN,
    )
    default_fast_s: int = setting(
        hours_to_s(8), "Fast for an order that asks for one when its test states none.", Unit.SPAN
    )

    @property
    def to_lab_s(self) -> Mapping[Priority, int]:
        """The way to the laboratory that may take, by priority; of others nothing is asked."""
        return {Priority.STAT: self.stat_to_lab_s, Priority.ASAP: self.asap_to_lab_s}


@dataclass(frozen=True, slots=True, kw_only=True)
class ServicePolicy:
    """Time at the bed. The five parts add up to the 5 minutes of an adult's bed (mean 259 s, SD 52 s [P19])."""

    identify_s: int = setting(75, "Greeting and two identifiers.", Unit.SPAN)
    prepare_s: int = setting(60, "Tourniquet, vein, skin.", Unit.SPAN)
    draw_s: int = setting(75, "Filling the tubes.", Unit.SPAN)
    label_s: int = setting(60, "Labelling beside the patient.", Unit.SPAN)
    tidy_s: int = setting(30, "Dressing, waste, hands.", Unit.SPAN)
    child_extra_s: int = setting(minutes_to_s(2), "More for a child under 14.", Unit.SPAN)
    tubes_included: int = setting(4, "Containers covered by the time above.")
    extra_tube_s: int = setting(minutes_to_s(1), "More for each further container.", Unit.SPAN)
    extra_culture_site_s: int = setting(minutes_to_s(2), "More for each further culture site.", Unit.SPAN)
    difficult_veins_extra_s: int = setting(minutes_to_s(2), "More where veins are noted as difficult.", Unit.SPAN)
    # Half of it (rounded down) comes before the draw.
    gown_s: Mapping[Precaution, int] = setting(
        {
            Precaution.PROTECTIVE: minutes_to_s(4),
            Precaution.CONTACT: minutes_to_s(3),
            Precaution.DROPLET: minutes_to_s(3),
            Precaution.AIRBORNE: minutes_to_s(5),
            Precaution.UNCLEAR: minutes_to_s(5),
        },
        "Putting on and taking off, by precaution.",
        Unit.SPAN,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class WalkingPolicy:
    """Walking when the map states metres, and the assumed corridor when there is no map (engineering choices)."""

    speed_m_per_s: float = setting(1.2, "Walking speed in metres per second.", is_positive=True)
    bed_spacing_m: float = setting(4.0, "Without a map: metres from bed to bed.", is_positive=True)
    ward_gap_m: float = setting(40.0, "Without a map: metres from ward to ward.")
    laboratory_walk_s: int = setting(minutes_to_s(5), "Without a map: from the base to the laboratory.", Unit.SPAN)
    lift_s: int = setting(60, "From one floor to another by a lift of the map, waiting included.", Unit.SPAN)
    stairs_floor_s: int = setting(45, "From one floor to the next by stairs of the map.", Unit.SPAN)


@dataclass(frozen=True, slots=True, kw_only=True)
class HandoverPolicy:
    """Giving specimens away."""

    handover_s: int = setting(minutes_to_s(1), "Time that a hand-over takes.", Unit.SPAN)
    max_sends: int = setting(
        6, "Most times that one collector uses one tube station, or carries to one place, in a round.", is_positive=True
    )
    tube_takes_ice: bool = setting(
        False, "Ice may go by pneumatic tube (sealed bag, cold pack); no: by hand or courier."
    )
    tube_takes_glass: bool = setting(
        False, "Culture bottles may go by pneumatic tube (bagged, padded); no: by hand or courier."
    )
    tray_limit: int | None = setting(
        None, "Most tubes that one collector carries at a time; no limit when it is not set.", is_positive=True,
        example="40",
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class ReplanPolicy:
    """Replanning a round that has begun (engineering choices)."""

    change_s: int = setting(
        minutes_to_s(10),
        "A visit that comes later than the last sheet said by more than this counts as changed.",
        Unit.SPAN,
    )
    retry_after_s: int = setting(
        minutes_to_s(20), "A patient who was away is tried again after so long, unless the ward says when.", Unit.SPAN
    )
    # Twelve visits are about an hour of one phlebotomist's work: as many as a lead can ask about on the phone before
    # the next stat arrives.
    assumed_done_limit: int = setting(
        12, "More unreported visits than this that count as done need a decision (exit 3)."
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class WeightPolicy:
    """Relative weight of orders within one tier of goals, by priority; whole numbers."""

    uncollected: Mapping[Priority, int] = setting(
        {Priority.STAT: 100, Priority.ASAP: 30, Priority.URGENT: 20, Priority.ROUTINE: 1},
        "Weight of an order that is not planned, by priority.",
    )
    uncollected_timed: int = setting(10, "Least weight of an order with a stated time or a dose rule.")
    late: Mapping[Priority, int] = setting(
        {Priority.STAT: 10, Priority.ASAP: 4, Priority.URGENT: 3, Priority.ROUTINE: 1},
        "Weight of lateness, by priority.",
    )
    late_timed: int = setting(2, "Least weight of the lateness of a timed order.")


class CultureTable(StrEnum):
    """The published tables of children's culture volumes by weight."""

    A = "a"
    """[L5]"""
    B = "b"
    """[L4]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class TubePolicy:
    """Choosing tubes and needles."""

    discard_adult_ul: int = setting(1000, "Volume of a discard tube, adults.", Unit.VOLUME)
    discard_child_ul: int = setting(500, "Volume of a discard tube, children.", Unit.VOLUME)
    routine_device: Device = setting(
        Device.STRAIGHT, "What a plain adult draw is made with: straight or winged.",
        choices=(Device.STRAIGHT, Device.WINGED),
    )  # fmt: skip
    # Common practice, no source: up to 10 tubes in one draw.
    max_tubes_per_draw: int = setting(10, "More tubes than this are planned, and said.", is_positive=True)
    weight_table_cultures: CultureTable = setting(
        CultureTable.A, "Children's culture volumes by weight: a [L5] or b [L4]."
    )
    # Engineering choice.
    spare_one_in: int = setting(
        5, "One spare on the supplies page for so many of a thing, begun ones counted.", is_positive=True
    )


class NeonateMethod(Enum):
    """How blood is taken from a patient under 28 days whose row does not say it."""

    DECISION = "decision"
    VENOUS = "venous"
    CAPILLARY = "capillary"
    WARD = "ward"


@dataclass(frozen=True, slots=True, kw_only=True)
class BloodPolicy:
    """Limits on blood drawn. Child limits [L53, L55, L54]; the adult flag is an engineering choice."""

    child_under_years: int = setting(18, "Below this age the limits by weight apply.")
    child_wards: tuple[str, ...] = setting(
        (),
        'Wards of children ("*": every ward): who has no birth date there is taken for a child.',
        example='["Ward 2"]',
    )
    # Unless the weight is a child's.
    adult_wards: tuple[str, ...] = setting(
        (),
        'Wards without children ("*": every ward): who has no birth date there is taken for an adult.',
        example='["Ward 1"]',
    )
    child_ml_per_kg_tbv: int = setting(80, "Total blood volume of a child, mL per kg.", is_positive=True)
    child_day_ul_per_kg: int = setting(1700, "Most that is drawn from a child in 24 hours, mL per kg.", Unit.VOLUME)
    child_30d_tbv_pct: float = setting(5.0, "Most in 30 days, percent of the total blood volume.", Unit.PERCENT)
    neonate_method: NeonateMethod = setting(
        NeonateMethod.DECISION, "Under 28 days, where the list does not say: decision, venous, capillary or ward."
    )
    # Engineering choice.
    unknown_drawn_pct: float = setting(
        50.0, "Percent of a child's day limit that is drawn where earlier blood is not known.", Unit.PERCENT
    )
    child_visit_warn_tbv_pct: float = setting(
        1.0, "Warn above this in one visit, percent of the total blood volume.", Unit.PERCENT
    )
    # Engineering choice, after P32.
    anaemia_reference_g_l: int = setting(
        110, "Haemoglobin in g/L below which a child's limits are lowered in proportion.", is_positive=True
    )
    adult_flag_24h_ul: int = setting(50_000, "Say so when an adult gives more in 24 hours.", Unit.VOLUME)


@dataclass(frozen=True, slots=True, kw_only=True)
class TransfusionPolicy:
    """Samples for the blood bank."""

    # Many blood banks want another person for the second sample (BSH 2012).
    one_person_may_draw_both: bool = setting(
        False, "One person may draw both samples of a patient; no: a decision (exit 3)."
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetPolicy:
    """What the printed sheet says beside the plan."""

    phones: Mapping[str, str] = setting(
        {},
        "Whom a collector phones, and the number; none: the sheet leaves room to write them.",
        example='{ "ward nurse" = "2140", "laboratory" = "2200" }',
    )
    needlestick_phone: str = setting(
        "", "The number to phone after a needlestick or splash; every sheet says what to do.", example='"2222"'
    )
    page_keeps_s: int = setting(
        hours_to_s(12),
        "How long a browser keeps what is ticked on the page, after the round or the last tick.",
        Unit.SPAN,
        is_positive=True,
    )
    what_if_do: Mapping[WhatIf, str] = setting(
        {},
        "The site's words on the what-if card, by event: what to do; what stands in braces is filled in.",
        example='{ "away" = "Ask the nurse until when; go on." }',
    )
    what_if_write: Mapping[WhatIf, str] = setting(
        {}, "The same: what to write.", example='{ "refused" = "the reason; the nurse\'s name" }'
    )
    what_if_phone: Mapping[WhatIf, str] = setting(
        {}, "The same: whom to phone.", example='{ "faint-or-pain" = "emergency team" }'
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Policy:
    """All that a site may set, by subject."""

    time_zone: str = setting("UTC", "Time zone of all clock times, as in the tz database, for example Europe/Vienna.")
    site_folder: str = setting(
        "", "Folder with the site's tables names, tests and tubes, from the round's folder, such as ../site."
    )
    round: RoundPolicy = section(
        RoundPolicy, "The round when no staff table says otherwise, and clock times of its day."
    )
    windows: WindowPolicy = section(WindowPolicy, "Widths of time windows.")
    service: ServicePolicy = section(ServicePolicy, "Time at the bed; the five parts add up to one adult's visit.")
    walking: WalkingPolicy = section(
        WalkingPolicy, "Walking when the map states metres, and the assumed corridor when there is no map."
    )
    handover: HandoverPolicy = section(HandoverPolicy, "Giving specimens away.")
    replan: ReplanPolicy = section(ReplanPolicy, "Replanning a round that has begun.")
    prices: PricePolicy = section(
        PricePolicy, "What one thing is worth in another within a tier of goals; the tiers are never mixed."
    )
    weights: WeightPolicy = section(WeightPolicy, "Relative weight of orders within one tier of goals; whole numbers.")
    tubes: TubePolicy = section(TubePolicy, "Choosing tubes and needles.")
    blood: BloodPolicy = section(BloodPolicy, "Limits on blood drawn.")
    transfusion: TransfusionPolicy = section(TransfusionPolicy, "Samples for the blood bank.")
    sheet: SheetPolicy = section(SheetPolicy, "What the printed sheet says beside the plan.")
