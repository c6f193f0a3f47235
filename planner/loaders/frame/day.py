"""On which day the round is: as said, else the policy's, else the day on which the orders agree, else today."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from datetime import date, timedelta

from planner.loaders.tables.records import Record
from planner.loaders.values.date_columns import DateColumn, DateColumns
from planner.loaders.values.moments import UnreadableError, parse_moment
from planner.units import FIRST_YEAR, LAST_YEAR, Moment

_COLLECTION = ("collect_at", "collect_date", "collect_from", "collect_to")
_EVENING_S = 12 * 3600
"""Orders entered after noon are for the next early round (engineering choice)."""


def choose_day(
    records: Iterable[Record], columns: DateColumns, option: date | None, policy_day: date | None, today: date
) -> tuple[date, str | None]:
    """Return the round's day and, when nobody said it, a sentence that tells how it was found."""
    if option:
        return option, None
    if policy_day:
        return policy_day, f"The round is on {policy_day.isoformat()}: the policy says so (round.day)."
    listed = list(records)
    days = Counter(m.day for m in _moments(listed, columns, _COLLECTION) if m.day)
    if days:
        day = max(days, key=lambda d: (days[d], d))
        return day, f"The round is on {day.isoformat()}: the day of most collection times in the orders."
    entered = [m for m in _moments(listed, columns, ("ordered_at",)) if m.day]
    if entered:
        last = max(entered, key=lambda m: (m.day or date.min, m.clock_s or 0))
        day = (last.day or date.min) + timedelta(days=1 if (last.clock_s or 0) >= _EVENING_S else 0)
        return day, f"The round is on {day.isoformat()}: the first morning after the last order was entered."
    return today, f"The round is on {today.isoformat()}, today: no order states a date."


def _moments(records: Iterable[Record], columns: DateColumns, names: tuple[str, ...]) -> Iterable[Moment]:
    for record in records:
        for name in names:
            if (moment := record.moments.get(name)) is None and (text := record.text(name)):
                column = columns.get((record.source.file, record.source.sheet, name)) or DateColumn(None, False)
                try:
                    moment = parse_moment(text, column.order, column.uses_1904)
                except UnreadableError:
                    continue  # reported when the order is built
            if moment is not None and moment.day and FIRST_YEAR <= moment.day.year <= LAST_YEAR:
                yield moment
