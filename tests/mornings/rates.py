"""How often what goes wrong in a morning: published shares, and our choices where nothing is published."""

from __future__ import annotations

from dataclasses import dataclass, fields


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """Shares of visits at which something happens, and events an hour.

    P17 is Howanitz and Schifman, Inpatient phlebotomy practices, Arch Pathol Lab Med 1994;118:601-605: 2.35 million
    inpatient requests at 683 sites.
    """

    failed: float = 0.016
    """P17."""
    partial: float = 0.004
    """P17."""
    away: float = 0.014
    """P17: not attempted, the patient was away."""
    moved: float = 0.009
    """P17: not attempted, moved or discharged; half of them move, half leave."""
    drawn_by_others: float = 0.007
    """P17: not attempted, drawn already: its orders are cancelled."""
    refused: float = 0.005
    """Our choice: P17 counts refusals among what was not attempted, without a share of their own."""
    recollect: float = 0.003
    """Our choice."""
    stats_low: float = 0.5
    stats_high: float = 1.5
    """Stat requests in a phlebotomist's hour (our choice; nothing published was found)."""
    ward_news: float = 0.02
    """Our choice, a visit: cancelled single orders, absences told ahead, each."""
    staff_news: float = 0.10
    """Our choice, a morning: held up, lost, joining, courier moved, courier cancelled, each."""

    def times(self, factor: float) -> Rates:
        """Return rates that are higher by a factor, so that few mornings see much; none above 0.3 a visit."""
        mine = {f.name: min(0.3, getattr(self, f.name) * factor) for f in fields(self)}
        return Rates(**(mine | {"stats_low": self.stats_low, "stats_high": self.stats_high * min(factor, 2.0)}))
