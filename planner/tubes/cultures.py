"""How much blood a culture set takes from a child, by weight: two published tables, chosen by policy.

Children are those to whom the limits by weight apply (policy ``child_under_years``). Weights are grams, volumes
microlitres for one set.
"""

from __future__ import annotations

from planner.domain.policy import CultureTable

ADULT_SET_UL = 20_000
"""One aerobic and one anaerobic bottle of 10 mL [L5, L6]."""

TABLE_A: tuple[tuple[int, int], ...] = ((1_000, 1_000), (5_000, 2_000), (15_000, 3_000), (40_001, 6_000))
"""(weight below which, mL a set) [L5]: under 1 kg 1 mL, 1-5 kg 2, 5-15 kg 3, 15-40 kg 6."""

TABLE_A_ABOVE_UL = 10_000
"""Over 40 kg [L5]."""

TABLE_A_NEWBORN_UL = 500
"""Under 1 kg and under 72 h old [L5]."""

TABLE_B: tuple[tuple[int, int], ...] = ((1_001, 2_000), (2_001, 4_500), (12_701, 6_000))
"""(weight below which, mL a septic episode) [L4]: up to 1.0 kg 2 mL, to 2.0 kg 4.5, to 12.7 kg 6."""

TABLE_B_GAP_UL = 6_000
"""From 12.8 to 36.3 kg the published table could not be read; the row below it stands in (engineering choice)."""

TABLE_B_ADULT_ABOVE_G = 36_300
TABLE_B_ABOVE_UL = 40_000
"""Over 36.3 kg a septic episode takes 40 mL, the adults' two sets [L4]."""


def is_in_gap(table: CultureTable, weight_g: int) -> bool:
    """Return whether the table has no readable row for this weight."""
    return table == CultureTable.B and TABLE_B[-1][0] <= weight_g <= TABLE_B_ADULT_ABOVE_G


def child_set_ul(table: CultureTable, weight_g: int, age_days: int | None, num_sets: int) -> int:
    """Return the volume of one set in microlitres.

    Table ``a`` states it for a set. Table ``b`` states it for an episode: it is shared by the sets of the visit
    (rounded down), and no set takes more than an adult's. A child of 5 kg: ``a`` 3 mL a set; ``b`` 6 mL for a
    single set, 3 mL each for two.
    """
    if table == CultureTable.A:
        if weight_g < TABLE_A[0][0] and age_days is not None and age_days < 3:
            return TABLE_A_NEWBORN_UL
        return next((ul for below_g, ul in TABLE_A if weight_g < below_g), TABLE_A_ABOVE_UL)
    above_ul = TABLE_B_GAP_UL if weight_g <= TABLE_B_ADULT_ABOVE_G else TABLE_B_ABOVE_UL
    episode_ul = next((ul for below_g, ul in TABLE_B if weight_g < below_g), above_ul)
    return min(ADULT_SET_UL, episode_ul // max(1, num_sets))
