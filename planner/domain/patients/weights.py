"""What goes by weight: the weights that are possible at an age, and the cap for one draw from a child."""

from __future__ import annotations

WEIGHT_BOUNDS: tuple[tuple[int, int, int], ...] = (
    (0, 300, 8_400),
    (1, 400, 11_100),
    (3, 1_200, 13_700),
    (6, 2_500, 17_200),
    (12, 4_500, 25_400),
    (24, 5_500, 31_500),
    (36, 7_200, 36_700),
    (48, 7_500, 44_400),
    (60, 8_100, 54_000),
    (72, 8_800, 66_000),
    (84, 9_600, 80_900),
    (96, 10_400, 99_200),
    (108, 11_300, 121_500),
    (120, 12_300, 148_200),
    (132, 13_200, 179_400),
    (144, 14_100, 214_800),
    (156, 15_000, 252_500),
    (168, 16_000, 290_000),
    (180, 17_000, 290_000),
    (192, 20_000, 400_000),
)
"""(completed months of age from which, least g, most g), ascending in all three; the last row holds for all later ages.

Both sexes together: the least at the beginning of a span, the most at its end. Under 24 months the WHO Child Growth
Standards 2006, weight for age, z from -6 to +5, outside which WHO's own software flags a weight as biologically
implausible; from 24 months the CDC growth charts 2000, modified z from -5 to +8, the bounds of the CDC's program. Our
choices: a lower least in the first year, for children born too early, and 20 kg from 16 years on.
"""

NEONATE_WEIGHT_BELOW_G = 5_800
"""Who has no birth date and weighs less may be a newborn: boys of one month at +2 SD (WHO Child Growth Standards 2006,
from memory)."""

CAP_PER_DRAW: tuple[tuple[int, int], ...] = (
    (2_700, 2_500),
    (3_600, 3_500),
    (4_500, 5_000),
    (7_300, 10_000),
    (18_600, 20_000),
    (27_700, 25_000),
    (30_000, 30_000),
)
"""(weight in g from which, cap in uL at one time) under 14 years [L54]; the 4.5 kg row is from memory.

The printed ranges leave gaps (they were converted from pounds): a weight in a gap, and one above the last row
(45.5 kg), keeps the row below it; a weight under 2.7 kg keeps the first row (engineering choices; by weight the
daily limit is the tighter one there).
"""
