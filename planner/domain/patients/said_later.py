"""What a later list adds about a patient whom the round has: texts, isolation and arms, of which none is taken away."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from planner.domain.orders import Patient, Precaution

_TEXTS = ("alerts", "unmapped", "unclear")
_SETS = ("precautions", "arms_barred", "arms_in_words", "infusion_arms", "arms_unexplained")
_CLAIMS = ("has_difficult_veins", "has_sideless_reason")


def with_what_is_said(before: Patient, listed: Patient) -> Patient:
    """Return the patient of the round with what a list adds; bed, name and numbers stay as they are."""
    values: dict[str, Any] = {n: tuple(dict.fromkeys((*getattr(before, n), *getattr(listed, n)))) for n in _TEXTS}
    values |= {name: getattr(before, name) | getattr(listed, name) for name in _SETS}
    if before.precautions and all(values[name] == getattr(before, name) for name in _TEXTS):
        # No new text: what the list leaves open in its own words the round has settled.
        values["precautions"] -= {Precaution.UNCLEAR} - before.precautions
    values |= {name: getattr(before, name) or getattr(listed, name) for name in _CLAIMS}
    return replace(before, **values)
