"""Sets of whole seconds as ascending, disjoint windows: intersecting them and cutting spans out."""

from __future__ import annotations

from collections.abc import Iterable

from planner.domain.orders import TimeWindow

Windows = tuple[TimeWindow, ...]


def clip(windows: Windows, earliest_s: int, latest_s: int) -> Windows:
    """Return what of the windows lies between two seconds, both included."""
    return tuple(
        TimeWindow(earliest_s=max(w.earliest_s, earliest_s), latest_s=min(w.latest_s, latest_s))
        for w in windows
        if max(w.earliest_s, earliest_s) <= min(w.latest_s, latest_s)
    )


def intersect(first: Windows, second: Windows) -> Windows:
    """Return the seconds that are in both."""
    return tuple(sorted(part for w in second for part in clip(first, w.earliest_s, w.latest_s)))


def cut(windows: Windows, spans: Iterable[tuple[int, int]]) -> Windows:
    """Return the windows without the given spans, whose first second is cut out and whose end is kept.

    >>> cut((TimeWindow(earliest_s=0, latest_s=9),), [(3, 5)])
    (TimeWindow(earliest_s=0, latest_s=2), TimeWindow(earliest_s=5, latest_s=9))
    """
    for begin_s, end_s in spans:
        if end_s <= begin_s:
            continue
        windows = tuple(
            part
            for w in windows
            for part in (
                *clip((w,), w.earliest_s, begin_s - 1),
                *clip((w,), end_s, w.latest_s),
            )
        )
    return windows


def shift(windows: Windows, by_s: int) -> Windows:
    """Return the windows moved by some seconds."""
    return tuple(TimeWindow(earliest_s=w.earliest_s + by_s, latest_s=w.latest_s + by_s) for w in windows)
