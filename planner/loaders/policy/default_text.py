"""Writes the default policy as a commented TOML file, ready to be changed by a site."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import is_dataclass
from enum import Enum
from typing import Any

from planner.domain.policy import Policy
from planner.loaders.policy.fields import SECONDS_BY_UNIT, keys_of, section_fields
from planner.units import MICROLITRES_PER_ML, SECONDS_PER_HOUR, SECONDS_PER_MINUTE

HEAD = """\
# Policy of the site. Every key stands here with its default, switched off by the leading "# ".
# Take the sign away from a line to set it. A key that is not known is an error, so that a slip is seen.
# Spans may be written in _minutes, _seconds or _hours; clock times are "HH:MM"; volumes are mL.
"""

SECTIONS = {
    "round": "The round when no staff table says otherwise, and clock times of its day.",
    "windows": "Widths of time windows.",
    "service": "Time at the bed; the five parts add up to one adult's visit.",
    "walking": "Walking when the map states metres, and the assumed corridor when there is no map.",
    "handover": "Giving specimens away.",
    "replan": "Replanning a round that has begun.",
    "weights": "Relative weight of orders within one goal; whole numbers. Goals are never mixed.",
    "tubes": "Choosing tubes and needles.",
    "blood": "Limits on blood drawn.",
    "sheet": "What the printed sheet says beside the plan.",
}

NOTES = {
    "time_zone": "Time zone of all clock times, as in the tz database, for example Europe/Vienna.",
    "site_folder": "Folder with the site's tables names, tests and tubes, from the round's folder, such as ../site.",
    "round.start_at_s": "First minute of work.",
    "round.end_at_s": "Last minute of work.",
    "round.phlebotomists": "People on the round.",
    "round.breakfast_at_s": "Latest fasting draw, where the patient's next meal is not known.",
    "round.quiet_hours": 'By ward ("*": every ward): only stat, timed and dose-ruled draws are made then.',
    "round.needed_by_s": 'By ward ("*": every ward): when specimens should have reached the laboratory.',
    "round.day": "Date of the round, where the command does not say it; goes before the dates of the orders.",
    "windows.stat_target_s": "From the order (or the start of the round) to a stat draw.",
    "windows.asap_target_s": "The same for asap.",
    "windows.urgent_target_s": "The same for urgent.",
    "windows.timed_tolerance_s": "Early or late by which a timed draw is still on time.",
    "windows.drug_tolerance_s": "The same for drug levels and series.",
    "windows.timed_give_up_s": "So long after its tolerance a timed draw is no longer made without asking.",
    "windows.default_fast_s": "Fast for an order that asks for one when its test states none.",
    "service.identify_s": "Greeting and two identifiers.",
    "service.prepare_s": "Tourniquet, vein, skin.",
    "service.draw_s": "Filling the tubes.",
    "service.label_s": "Labelling beside the patient.",
    "service.tidy_s": "Dressing, waste, hands.",
    "service.child_extra_s": "More for a child under 14.",
    "service.tubes_included": "Containers covered by the time above.",
    "service.extra_tube_s": "More for each further container.",
    "service.extra_culture_site_s": "More for each further culture site.",
    "service.difficult_veins_extra_s": "More where veins are noted as difficult.",
    "service.gown_s": "Putting on and taking off, by precaution.",
    "walking.speed_m_per_s": "Walking speed in metres per second.",
    "walking.bed_spacing_m": "Without a map: metres from bed to bed.",
    "walking.ward_gap_m": "Without a map: metres from ward to ward.",
    "walking.laboratory_walk_s": "Without a map: from the base to the laboratory.",
    "handover.handover_s": "Time that a hand-over takes.",
    "handover.max_sends": "Most times that one collector uses one tube station, or carries to one place, in a round.",
    "handover.tube_takes_ice": "Ice may go by pneumatic tube (sealed bag, cold pack); no: by hand or courier.",
    "handover.tube_takes_glass": "Culture bottles may go by pneumatic tube (bagged, padded); no: by hand or courier.",
    "handover.tray_limit": "Most tubes that one collector carries at a time; no limit when it is not set.",
    "replan.change_s": "A visit that comes later than the last sheet said by more than this counts as changed.",
    "replan.retry_after_s": "A patient who was away is tried again after so long, unless the ward says when.",
    "replan.moved_stop_price_s": "Weighted lateness that every moved stop must save: below it, nothing moves.",
    "replan.assumed_done_limit": "More unreported visits than this that count as done need a decision (exit 3).",
    "weights.uncollected": "Weight of an order that is not planned, by priority.",
    "weights.uncollected_timed": "Least weight of an order with a stated time or a dose rule.",
    "weights.late": "Weight of lateness, by priority.",
    "weights.late_timed": "Least weight of the lateness of a timed order.",
    "tubes.discard_adult_ul": "Volume of a discard tube, adults.",
    "tubes.discard_child_ul": "Volume of a discard tube, children.",
    "tubes.routine_device": "What a plain adult draw is made with: straight or winged.",
    "tubes.max_tubes_per_draw": "More tubes than this are planned, and said.",
    "tubes.weight_table_cultures": "Children's culture volumes by weight: a [L5] or b [L4].",
    "tubes.spare_one_in": "One spare on the supplies page for so many of a thing, begun ones counted.",
    "blood.child_under_years": "Below this age the limits by weight apply.",
    "blood.child_wards": 'Wards of children ("*": every ward): who has no birth date there is taken for a child.',
    "blood.adult_wards": 'Wards without children ("*": every ward): who has no birth date there is taken for an adult.',
    "blood.child_ml_per_kg_tbv": "Total blood volume of a child, mL per kg.",
    "blood.adult_ml_per_kg_tbv": "Total blood volume of an adult, mL per kg.",
    "blood.child_day_ul_per_kg": "Most that is drawn from a child in 24 hours, mL per kg.",
    "blood.child_30d_tbv_pct": "Most in 30 days, percent of the total blood volume.",
    "blood.neonate_method": "Under 28 days, where the list does not say: decision, venous, capillary or ward.",
    "blood.unknown_drawn_pct": "Percent of a child's day limit that is drawn where earlier blood is not known.",
    "blood.child_visit_warn_tbv_pct": "Warn above this in one visit, percent of the total blood volume.",
    "blood.anaemia_reference_g_l": "Haemoglobin in g/L below which a child's limits are lowered in proportion.",
    "blood.adult_flag_24h_ul": "Say so when an adult gives more in 24 hours.",
    "blood.adult_flag_7d_ul": "Say so when an adult gives more in 7 days.",
    "sheet.phones": "Whom a collector phones, and the number; none: the sheet leaves room to write them.",
}
"""What each field means, in one line. A test keeps this complete; a field without one is still written."""


def default_policy_text() -> str:
    """Return the text of a policy file that holds every key with its default, each explained and commented out."""
    policy = Policy()
    lines = [HEAD, *_lines("", "time_zone", str, policy.time_zone), *_lines("", "site_folder", str, policy.site_folder)]
    for field, kind in section_fields(Policy):
        if not is_dataclass(kind):
            continue
        section = getattr(policy, field.name)
        lines += ["", f"# {SECTIONS[field.name]}", f"[{field.name}]"]
        for part, part_kind in section_fields(type(section)):
            lines += _lines(f"{field.name}.", part.name, part_kind, getattr(section, part.name))
    return "\n".join(lines) + "\n"


def _lines(prefix: str, name: str, kind: Any, value: Any) -> list[str]:
    keys = [k.key for k in keys_of(name, kind)]
    key = next((k for k in keys if _is_exact(k, value)), keys[0])
    note = NOTES.get(prefix + name)
    return [*([f"# {note}"] if note else []), f"# {key} = {_example(name) or _toml(key, value)}"]


def _is_exact(key: str, value: Any) -> bool:
    """Return whether a span is a whole number of the key's unit, so that it reads without a fraction."""
    unit = key.rpartition("_")[2]
    spans = value.values() if isinstance(value, Mapping) else [value]
    return unit not in SECONDS_BY_UNIT or all(span % SECONDS_BY_UNIT[unit] == 0 for span in spans)


def _example(name: str) -> str:
    """Return an example where the default is empty, so that a site sees how such a value is written."""
    return {
        "quiet_hours": '{ "Ward 1" = ["22:00-05:00"] }',
        "needed_by_s": '{ "Ward 1" = "08:30" }',
        "day": "2026-03-10",
        "tray_limit": "40",
        "child_wards": '["Ward 2"]',
        "adult_wards": '["Ward 1"]',
        "phones": '{ "ward nurse" = "2140", "laboratory" = "2200" }',
    }.get(name, "")


def _toml(key: str, value: Any) -> str:
    if isinstance(value, Mapping):
        names = [item.value if isinstance(item, Enum) else f'"{item}"' for item in value]
        pairs = zip(names, value.values(), strict=True)
        return "{ " + ", ".join(f"{name} = {_toml(key, item)}" for name, item in pairs) + " }"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Enum):
        return f'"{value.value}"'
    if isinstance(value, str):
        return f'"{value}"'
    if key.endswith("_at"):
        hours, rest = divmod(value, SECONDS_PER_HOUR)
        return f'"{hours:02d}:{rest // SECONDS_PER_MINUTE:02d}"'
    unit = key.rpartition("_")[2]
    if unit in SECONDS_BY_UNIT:
        return f"{value // SECONDS_BY_UNIT[unit]}"
    if "_ml" in key and isinstance(value, int) and not key.startswith(("child_ml_per", "adult_ml_per")):
        return f"{value / MICROLITRES_PER_ML:g}"
    return str(value)
