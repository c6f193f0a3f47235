"""How much blood may be drawn: children's limits by weight, what was drawn already, anaemia."""

from __future__ import annotations

from dataclasses import dataclass

from planner.domain.orders import Patient
from planner.domain.patients.ages import is_child
from planner.domain.patients.weights import CAP_PER_DRAW
from planner.domain.problem import Problem
from planner.units import format_ml


@dataclass(frozen=True, slots=True, kw_only=True)
class BloodLimits:
    """What may still be drawn from a child, in microlitres: at one time (None: no cap) and in this round.

    ``day_ul`` and ``month_ul`` are the whole limits of 24 hours and 30 days, nothing taken off for what was drawn or is
    not known. ``total_ul`` is the total blood volume that the limits were reckoned with; ``because`` says in words what
    the limits are.
    """

    draw_ul: int | None
    round_ul: int
    total_ul: int
    because: str
    day_ul: int
    month_ul: int


def cap_per_draw_ul(weight_g: int) -> int:
    """Return the handbook's cap at any one time for a child of this weight [L54]."""
    return next((cap for from_g, cap in reversed(CAP_PER_DRAW) if weight_g >= from_g), CAP_PER_DRAW[0][1])


def blood_limits(problem: Problem, patient: Patient, weight_g: int) -> BloodLimits:
    """Return what may still be drawn from a child.

    Limits: 1.7 mL/kg in 24 h [L53, L55], 5 % of total blood volume (80 mL/kg) in 30 days, both less what was
    drawn already (the 30 days hold at least the last 24 h; where the last 24 h are not known, only a part of the
    day's limit is used), and the cap at one time under 14 years [L54]. Anaemia lowers each in proportion: limit x
    haemoglobin / reference, when haemoglobin is below the reference (P32 scales total blood volume so; the reference
    of 110 g/L is an engineering choice).
    Example: 10 kg, nothing drawn, 88 g/L: day 17 mL x 88 / 110 = 13.6 mL, 30 days 40 x 0.8 = 32 mL, cap 8 mL.
    """
    policy = problem.policy.blood
    total_ul = policy.child_ml_per_kg_tbv * weight_g
    day_ul = policy.child_day_ul_per_kg * weight_g // 1000
    month_ul = int(total_ul * round(policy.child_30d_tbv_pct * 100) // 10_000)
    cap_ul = cap_per_draw_ul(weight_g) if is_child(problem, patient) else None
    drawn_24h_ul = problem.drawn_24h_ul(patient) or 0
    in_round_ul = drawn_24h_ul - (patient.drawn_24h_ul or 0)
    drawn_30d_ul = max(patient.drawn_24h_ul or 0, patient.drawn_30d_ul or 0) + in_round_ul
    day_ul, month_ul = _lowered(problem, patient, day_ul), _lowered(problem, patient, month_ul)
    day = f"{format_ml(day_ul)} mL in 24 h, {format_ml(drawn_24h_ul)} mL of it drawn before"
    whole_ul = day_ul
    if patient.drawn_24h_ul is None:
        day_ul = int(day_ul * round(policy.unknown_drawn_pct * 100) // 10_000)
        day = (
            f"{format_ml(day_ul)} mL, which is {policy.unknown_drawn_pct:g} % of the {format_ml(whole_ul)} mL in 24 h, "
            "because nobody knows what was drawn before: ask the ward, state it and plan again"
        )
    day_left_ul, month_left_ul = max(0, day_ul - drawn_24h_ul), max(0, month_ul - drawn_30d_ul)
    month = f"{format_ml(month_ul)} mL in 30 days, {format_ml(drawn_30d_ul)} mL of it drawn before"
    cap_ul = None if cap_ul is None else _lowered(problem, patient, cap_ul)
    cap = "" if cap_ul is None else f"; {format_ml(cap_ul)} mL at one time"
    return BloodLimits(
        draw_ul=cap_ul,
        round_ul=min(day_left_ul, month_left_ul),
        total_ul=_lowered(problem, patient, total_ul),
        because=(day if day_left_ul <= month_left_ul else month) + cap,
        day_ul=whole_ul,
        month_ul=month_ul,
    )


def _lowered(problem: Problem, patient: Patient, limit_ul: int) -> int:
    """Return a limit lowered in proportion to haemoglobin below the reference, rounded down."""
    reference = problem.policy.blood.anaemia_reference_g_l
    haemoglobin = patient.haemoglobin_g_l
    if haemoglobin is None or haemoglobin >= reference:
        return limit_ul
    return limit_ul * haemoglobin // reference
