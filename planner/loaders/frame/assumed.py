"""Sentences on defaults of the policy that stand in where neither the policy file nor the tables say anything."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from planner.domain.catalogue import Catalogue
from planner.domain.orders import Order, Patient, PatientId, Priority
from planner.domain.policy import Policy
from planner.units import SECONDS_PER_MINUTE, RoundClock


def policy_states(policy_text: str | None, key: str) -> bool:
    """Return whether a policy file sets a key, whatever its unit; a line that is switched off does not count."""
    return (
        re.search(rf'^[ \t]*"?(?:\w+\.)?{key}(?:_minutes|_seconds|_hours)?"?[ \t]*=', policy_text or "", re.M)
        is not None
    )


def place_sentence(policy: Policy) -> str:
    """Return how a round without a place table is walked."""
    walking = policy.walking
    return (
        "No places table: beds in natural order along one corridor, ward by ward, from the base; "
        f"{walking.bed_spacing_m:g} m from bed to bed, {walking.ward_gap_m:g} m from ward to ward, "
        f"{minutes(walking.laboratory_walk_s)} on foot from the base to the laboratory."
    )


def target_sentences(
    policy: Policy,
    policy_text: str | None,
    clock: RoundClock,
    orders: Iterable[Order],
    patients: Mapping[PatientId, Patient],
    catalogue: Catalogue,
) -> list[str]:
    """Return the stat target and the breakfast time, if a planned order goes by them and no policy sets them."""
    sentences = []
    orders = list(orders)
    is_stat = any(o.priority is Priority.STAT and not o.is_timed for o in orders)
    if is_stat and not policy_states(policy_text, "stat_target"):
        target = minutes(policy.windows.stat_target_s)
        sentences.append(
            f"Stat orders are late when drawn more than {target} after the order or the start of the round."
        )
    is_fasting = any(
        (o.fasting or catalogue.tests[o.test].fasting_required) and patients[o.patient_id].next_meal_s is None
        for o in orders
    )
    if is_fasting and not policy_states(policy_text, "breakfast_at"):
        at = clock.format_clock(policy.round.breakfast_at_s)
        sentences.append(f"Breakfast is at {at} where the next meal is not known; fasting draws are made before it.")
    return sentences


def minutes(seconds: int) -> str:
    """Return '5 minutes', '1 minute', '7.5 minutes'."""
    number = seconds / SECONDS_PER_MINUTE
    return f"{number:g} minute{'' if number == 1 else 's'}"
