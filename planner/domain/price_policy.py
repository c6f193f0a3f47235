"""What one thing is worth in another, within a tier of goals: every price that a site may set, as in `policy`."""

from __future__ import annotations

from dataclasses import dataclass

from planner.domain.settings import MOST_OF_A_PRICE_S, Unit, setting
from planner.units import minutes_to_s


@dataclass(frozen=True, slots=True, kw_only=True)
class PricePolicy:
    """What one thing is worth in another, within a tier of goals; our choice, a site sets its own.

    Tier ``service`` is counted in weighted lateness: a routine draw that is late by a minute counts one minute, a stat
    ten. Tier ``effort`` is counted in walking and waiting.
    """

    # 90 s of a stat, a quarter of an hour of a routine order: a second needle hurts, a short delay mostly does not.
    puncture_s: int = setting(
        minutes_to_s(15),
        "Weighted lateness that every draw beyond a patient's first must save.",
        Unit.SPAN,
        most=MOST_OF_A_PRICE_S,
    )
    # A minute of a stat draw (weight 10), ten of a routine one.
    moved_stop_s: int = setting(
        minutes_to_s(10),
        "Weighted lateness that every moved stop must save: below it, nothing moves.",
        Unit.SPAN,
        most=MOST_OF_A_PRICE_S,
    )
    # A minute too long on the way keeps the ward waiting as a late draw does.
    to_lab: int = setting(1, "Weighted lateness worth a weighted minute past stat_to_lab or asap_to_lab.", most=10)
    # A routine bed before a stat takes some six minutes and saves some seconds of walking.
    stat_wait_pct: int = setting(
        100,
        "Walking worth a stat drawn sooner, within its target too.",
        Unit.PERCENT,
        most=1000,
    )
    # A minute's delay on the way would cost the draw: a minute of walking for each minute nearer to the end.
    last_minutes_pct: int = setting(
        100,
        "Walking worth a draw sooner within the last minutes of a time that cannot be exceeded.",
        Unit.PERCENT,
        most=1000,
    )
    # Ten minutes off a stated time, within its tolerance, are worth four of walking. At 20 % a fast that is whole four
    # minutes later did not move a bed behind the next.
    off_time_pct: int = setting(
        40, "Walking worth a draw nearer to its stated time, or to the span that its test prefers.", Unit.PERCENT
    )
    # A hand-over that takes three minutes pays once it brings ten patients' specimens in three minutes sooner.
    arrival_pct: int = setting(10, "Walking worth the blood of one patient sooner in the laboratory.", Unit.PERCENT)
    finish_pct: int = setting(100, "Walking worth the last person done sooner.", Unit.PERCENT)
    # At 0 one ward was given out as 24 and 8 visits, because whoever is done early does not wait.
    share: int = setting(
        3, "Minutes of walking and waiting worth a minute less of bed work above a fair share.", most=10
    )
    # Who comes to another ward finds its nurse, its charts and its beds anew, and is missed where they were. A return
    # is two changes.
    ward_change_s: int = setting(
        minutes_to_s(5),
        "Walking worth a change of ward on a route less, the way itself apart.",
        Unit.SPAN,
        most=MOST_OF_A_PRICE_S,
    )
    # Ten beds of a ward that somebody else prefers are worth twenty minutes of walking: less than a fair share of them.
    other_ward_s: int = setting(
        minutes_to_s(2),
        "Walking worth a visit by somebody who prefers its ward, not by one who prefers others.",
        Unit.SPAN,
        most=MOST_OF_A_PRICE_S,
    )
    # At 30 s the five-ward example saw 17 pairs out of order for six minutes less of walking, at 90 s two.
    isolation_s: int = setting(
        90,
        "Walking worth two patients in the order of isolation.",
        Unit.SPAN,
        most=MOST_OF_A_PRICE_S,
    )
    protective_after_airborne_s: int = setting(
        minutes_to_s(60),
        "Walking worth no protective bed after an airborne one.",
        Unit.SPAN,
        most=MOST_OF_A_PRICE_S,
    )
