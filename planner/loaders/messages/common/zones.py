"""Which time zone the site's clocks keep, when the policy does not say it: the offset that the messages write."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from zoneinfo import ZoneInfo

from planner.domain.policy import Policy
from planner.loaders.messages.common.stamps import Stamp
from planner.units import SECONDS_PER_HOUR

UTC_ZONE = ZoneInfo("UTC")


_NAMED_OFFSETS = range(-12 * SECONDS_PER_HOUR, 14 * SECONDS_PER_HOUR + 1)
"""Offsets for which the tz database has a name Etc/GMT..., in seconds east of UTC."""


def states_zone(policy_text: str | None, policy: Policy) -> bool:
    """Return whether the policy says the zone."""
    return policy.time_zone != "UTC" or "time_zone" in (policy_text or "")


def zone_of_offsets(stamps: Iterable[Stamp]) -> tuple[str, str]:
    """Return a zone for the commonest offset of the times and a sentence about it; empty without any offset.

    Offsets of whole hours have a zone name of their own; others cannot be kept, so UTC stays and a person is told.
    """
    offsets = Counter(
        offset for s in stamps if (offset := s.offset_s if s.offset_s is not None else _sender(s)) is not None
    )
    if not offsets:
        return "", ""
    commonest = max(offsets, key=lambda o: (offsets[o], -abs(o), o))
    sign, (hours, rest) = "-" if commonest < 0 else "+", divmod(abs(commonest), SECONDS_PER_HOUR)
    shown = f"{sign}{hours:02d}:{rest // 60:02d}"
    if rest or commonest not in _NAMED_OFFSETS:
        return "", f"the messages' times are {shown} from UTC, but no time zone is set; all times are shown in UTC"
    if hours == 0:
        return "", ""
    return f"Etc/GMT{'-' if commonest > 0 else '+'}{hours}", (
        f"no time zone is set; clock times are shown {shown} from UTC, as most times of the messages are written"
    )


def _sender(stamp: Stamp) -> int | None:
    return stamp.sender.offset_s if stamp.sender else None
