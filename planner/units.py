"""Seconds and microlitres: the only place that converts, parses or formats them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from zoneinfo import ZoneInfo

SECONDS_PER_MINUTE = 60
SECONDS_PER_HOUR = 3600
SECONDS_PER_DAY = 86_400
MICROLITRES_PER_ML = 1000

# Years in which a round may be: those of which every time can be reckoned in every zone.
FIRST_YEAR, LAST_YEAR = 1971, 2199


def minutes_to_s(minutes: float) -> int:
    """Return whole seconds for a number of minutes, rounded to the nearest second."""
    return round(minutes * SECONDS_PER_MINUTE)


def hours_to_s(hours: float) -> int:
    """Return whole seconds for a number of hours, rounded to the nearest second."""
    return round(hours * SECONDS_PER_HOUR)


def ml_to_ul(millilitres: float) -> int:
    """Return whole microlitres for a number of millilitres, rounded to the nearest microlitre."""
    return round(millilitres * MICROLITRES_PER_ML)


def format_ml(microlitres: int) -> str:
    """Return millilitres as people write them: at most two decimals, no idle zeros (2700 -> '2.7')."""
    text = f"{microlitres / MICROLITRES_PER_ML:.2f}".rstrip("0").rstrip(".")
    return text or "0"


def format_minutes(seconds: int) -> str:
    """Return a span as minutes with at most one decimal (90 -> '1.5')."""
    return f"{seconds / SECONDS_PER_MINUTE:.1f}".removesuffix(".0")


@dataclass(frozen=True, slots=True)
class RoundClock:
    """Turns the wall clock of the round's day into elapsed seconds since its midnight, and back.

    Seconds are elapsed time, so that a gap of 60 minutes is 60 minutes also in the two nights a year in which
    the clocks change. A wall time that exists twice means the first of the two; one that does not exist means
    the same number of minutes after the jump.
    """

    day: date
    zone_name: str = "UTC"

    @property
    def midnight(self) -> datetime:
        """Midnight at the start of the round's day, as an aware instant."""
        return datetime.combine(self.day, time(0), ZoneInfo(self.zone_name)).astimezone(UTC)

    def to_s(self, wall: datetime) -> int:
        """Return elapsed seconds since midnight of the round's day for a local or an aware date and time."""
        aware = wall if wall.tzinfo is not None else wall.replace(tzinfo=ZoneInfo(self.zone_name))
        return round((aware.astimezone(UTC) - self.midnight).total_seconds())

    def clock_to_s(self, clock: time, day_offset: int = 0) -> int:
        """Return elapsed seconds for a wall-clock time on the round's day, or some days before or after it."""
        return self.to_s(datetime.combine(self.day + timedelta(days=day_offset), clock))

    def wall_to_s(self, wall_s: int) -> int:
        """Return elapsed seconds for seconds on the wall's clock: hour 29 is 05:00 of the next day."""
        days, rest = divmod(wall_s, SECONDS_PER_DAY)
        return self.clock_to_s(time(rest // SECONDS_PER_HOUR, rest // 60 % 60, rest % 60), days)

    def near(self, wall_s: int, at_s: int) -> int:
        """Return elapsed seconds of a clock time (seconds on the wall's clock) on the day that brings it nearest.

        A replan tells clock times of the hours around an instant: 23:50 said at 00:10 was on the evening before.
        """
        on_days = (self.wall_to_s(wall_s + days * SECONDS_PER_DAY) for days in (0, 1, -1))
        return min(on_days, key=lambda seconds: abs(seconds - at_s))

    def day_after(self, seconds: int) -> int:
        """Return elapsed seconds of the same clock time one day later."""
        return self.to_s(self.to_local(seconds).replace(tzinfo=None, fold=0) + timedelta(days=1))

    def to_local(self, seconds: int) -> datetime:
        """Return the aware local date and time that lies this many elapsed seconds after midnight."""
        return (self.midnight + timedelta(seconds=seconds)).astimezone(ZoneInfo(self.zone_name))

    def iso(self, seconds: int) -> str:
        """Return ISO 8601 with the offset of the zone, to the second."""
        return self.to_local(seconds).isoformat(timespec="seconds")

    def from_iso(self, text: str) -> int:
        """Return elapsed seconds for an ISO 8601 date and time.

        Raises
        ------
        ValueError
            If the text is not ISO 8601.
        """
        return self.to_s(datetime.fromisoformat(text))

    def format_clock(self, seconds: int) -> str:
        """Return HH:MM as the wall shows it (whole minute reached), with the day where it is another one."""
        local = self.to_local(seconds)
        text = local.strftime("%H:%M")
        return text if local.date() == self.day else f"{local.date().isoformat()} {text}"


@dataclass(frozen=True, slots=True)
class Moment:
    """A date, a clock time (whole seconds, 86,400 for 24:00), or both, with an offset from UTC where one is given."""

    day: date | None
    clock_s: int | None
    offset: tzinfo | None = None

    def on(self, day: date, clock: RoundClock) -> int:
        """Return elapsed seconds after midnight of the round's day, the clock time lying on the given day."""
        seconds = self.clock_s or 0
        days, rest = divmod(seconds, SECONDS_PER_DAY)
        wall = datetime.combine(day + timedelta(days=days), time(rest // 3600, rest // 60 % 60, rest % 60))
        return clock.to_s(wall.replace(tzinfo=self.offset) if self.offset else wall)
