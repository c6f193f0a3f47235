"""The goals of a plan by name: three tiers, compared strictly, and in each the parts that its prices add up."""

from __future__ import annotations

from enum import Enum

EFFORT_PER_S = 100
"""Tier ``effort`` is counted in hundredths of a second, so that a price in percent of a second is a whole number."""


class Tier(Enum):
    """What is compared first, second, third. The value is the name in plans, findings and the rule book."""

    LEFT_OUT = "left-out"
    """Orders that no visit serves, by weight."""
    SERVICE = "service"
    """What the round owes patients and wards, in weighted seconds."""
    EFFORT = "effort"
    """What the round costs the people who walk it, in hundredths of a second."""

    @property
    def unit(self) -> str:
        """The unit in which its parts are added up."""
        return {Tier.LEFT_OUT: "weight", Tier.SERVICE: "weighted s"}.get(self, "s/100")


class Part(Enum):
    """What one tier adds up, each part at its price. The value is its stable name."""

    UNCOLLECTED = "uncollected"
    LATE = "late"
    DELIVERY = "delivery"
    STAT_TO_LAB = "stat-to-lab"
    SECOND_PUNCTURES = "second-punctures"
    CHANGES = "changes"
    TIME = "time"
    STAT_WAIT = "stat-wait"
    LAST_MINUTES = "last-minutes"
    OFF_TIME = "off-time"
    ARRIVAL = "arrival"
    FINISH = "finish"
    SHARE = "share"
    WARD_CHANGES = "ward-changes"
    OTHER_WARDS = "other-wards"
    PRECAUTIONS = "precautions"
    PROTECTIVE_AFTER_AIRBORNE = "protective-after-airborne"

    @property
    def unit(self) -> str:
        """The unit of its own value, before the price."""
        return _UNITS[self]


_UNITS = {
    Part.UNCOLLECTED: "weight",
    Part.LATE: "weighted s",
    Part.DELIVERY: "weighted s",
    Part.STAT_TO_LAB: "weighted s",
    Part.SECOND_PUNCTURES: "draws",
    Part.CHANGES: "visits",
    Part.TIME: "s",
    Part.STAT_WAIT: "s",
    Part.LAST_MINUTES: "s",
    Part.OFF_TIME: "s",
    Part.ARRIVAL: "s",
    Part.FINISH: "s",
    Part.SHARE: "s/100",
    Part.WARD_CHANGES: "changes",
    Part.OTHER_WARDS: "visits",
    Part.PRECAUTIONS: "pairs",
    Part.PROTECTIVE_AFTER_AIRBORNE: "pairs",
}

PARTS: dict[Tier, tuple[Part, ...]] = {
    Tier.LEFT_OUT: (Part.UNCOLLECTED,),
    Tier.SERVICE: (Part.LATE, Part.DELIVERY, Part.STAT_TO_LAB, Part.SECOND_PUNCTURES, Part.CHANGES),
    Tier.EFFORT: (
        Part.TIME,
        Part.STAT_WAIT,
        Part.LAST_MINUTES,
        Part.OFF_TIME,
        Part.ARRIVAL,
        Part.FINISH,
        Part.SHARE,
        Part.WARD_CHANGES,
        Part.OTHER_WARDS,
        Part.PRECAUTIONS,
        Part.PROTECTIVE_AFTER_AIRBORNE,
    ),
}
"""The parts of each tier, in the order in which they are shown."""
