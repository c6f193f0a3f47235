"""Says in words when a visit's draw may be made, and marks what is urgent, tight or late."""

from __future__ import annotations

from collections.abc import Sequence, Set
from dataclasses import dataclass
from enum import Enum

from planner.domain.draws import Bound, Ends, OrderWindow, Strength
from planner.domain.orders import Order, Priority, TimeWindow
from planner.domain.plan import Visit
from planner.exporters.view.words import LATE_URGENT, RULE, time_words
from planner.units import SECONDS_PER_MINUTE, RoundClock

_SHOWN_TOGETHER = ("requested", "clock", "fasting", "dose")
"""Rules of which each is shown, not only the narrowest: whoever runs late must know what else ends when."""

TIGHT_S = 10 * SECONDS_PER_MINUTE
"""A draw planned so close to the end of its window is marked TIGHT (our choice)."""


class MarkKind(Enum):
    """What a mark says of a visit."""

    PRIORITY = "priority"
    LATE = "late"
    TIGHT = "tight"
    TIMED = "timed"


@dataclass(frozen=True, slots=True)
class Mark:
    """A word that must catch the eye: what it says, and how: STAT, TIGHT, LATE 12 MIN."""

    kind: MarkKind
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitWindow:
    """The window that the orders of one visit have in common. Ends set by the round's own hours are None."""

    earliest: Bound | None
    latest: Bound | None
    target: Bound | None
    late_s: int
    """Seconds by which the planned draw is past the target; 0 when it is not."""
    is_tight: bool
    also: tuple[Ends, ...] = ()
    """Further rules that bind the draw (time asked for, clock, fasting, dose): what all orders leave of each."""

    @property
    def wish(self) -> Bound | None:
        """The target where it says something beside the hard ends: one before the earliest time cannot be met."""
        early, late, soft = self.earliest, self.latest, self.target
        if soft is not None and ((late and soft.at_s >= late.at_s) or (early and soft.at_s <= early.at_s)):
            return None
        return soft

    @classmethod
    def of(cls, visit: Visit, windows: Sequence[OrderWindow]) -> VisitWindow:
        """Return what the windows of the visit's orders leave in common."""
        earliest = max((w.earliest for w in windows), key=_at, default=None)
        latest = min((w.latest for w in windows), key=_at, default=None)
        target = min((w.target for w in windows if w.target is not None), key=_at, default=None)
        late_s = 0 if target is None else max(0, visit.draw_s - target.at_s)
        latest = _stated(latest)
        ends = [b.at_s for b in (latest, target if late_s == 0 else None) if b is not None]
        return cls(
            earliest=_stated(earliest),
            latest=latest,
            target=target,
            late_s=late_s,
            is_tight=bool(ends) and min(ends) - visit.draw_s < TIGHT_S,
            also=_also(windows, {b.rule for b in (_stated(earliest), latest, target) if b is not None}),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """An end of the times at which a draw counts: HH:MM:SS, and as it is said: '05:30 (timed)'."""

    at: str
    said: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawLimits:
    """Between which times the specimens of a visit count, and past which an urgent draw is late; None: no such end.

    ``planned`` is the planned draw, HH:MM:SS: the ends are on the day that lies nearest to it.
    """

    planned: str
    earliest: Limit | None = None
    latest: Limit | None = None
    wish: Limit | None = None


def draw_limits(visit: Visit, windows: Sequence[OrderWindow], priority: Priority, clock: RoundClock) -> DrawLimits:
    """Return by what the page judges the time of a draw: what all orders of the visit leave (`specimen_ends`)."""
    ends = [ends for window in windows for ends in window.specimen_ends]
    earliest = max(((e.earliest_s, e.rule) for e in ends if e.earliest_s is not None), default=None)
    latest = min(((e.latest_s, e.rule) for e in ends if e.latest_s is not None), default=None)
    wish = VisitWindow.of(visit, windows).wish if priority is not Priority.ROUTINE else None

    def limit(end: tuple[int, str], *, is_first: bool) -> Limit:
        at_s, rule = end
        said = _ceil(clock, at_s) if is_first else _floor(clock, at_s)
        return Limit(
            at=_to_the_second(clock, at_s), said=f"{said} ({_rule_word(Bound(at_s=at_s, rule=rule), priority)})"
        )

    return DrawLimits(
        planned=_to_the_second(clock, visit.draw_s),
        earliest=None if earliest is None else limit(earliest, is_first=True),
        latest=None if latest is None else limit(latest, is_first=False),
        wish=None if wish is None else limit((wish.at_s, wish.rule), is_first=False),
    )


def _to_the_second(clock: RoundClock, seconds: int) -> str:
    return clock.to_local(seconds).strftime("%H:%M:%S")


def _also(windows: Sequence[OrderWindow], named: Set[str]) -> tuple[Ends, ...]:
    """Return what each rule that is not named already leaves of the draw time, over all orders of a visit."""
    hard = [ends for window in windows for ends in window.ends if ends.strength is Strength.HARD]
    found = []
    for rule in _SHOWN_TOGETHER:
        own = [ends for ends in hard if ends.rule == rule]
        earliest_s = max((e.earliest_s for e in own if e.earliest_s is not None), default=None)
        latest_s = min((e.latest_s for e in own if e.latest_s is not None), default=None)
        if rule not in named and (earliest_s, latest_s) != (None, None):
            found.append(Ends(rule=rule, earliest_s=earliest_s, latest_s=latest_s))
    return tuple(found)


def late_words(window: VisitWindow, priority: Priority) -> str:
    """Return what to do past the end of a window; empty where the rule of every sheet is enough."""
    if window.wish is not None:
        return LATE_URGENT if window.wish.rule == "priority" and priority is not Priority.ROUTINE else ""
    return ""


def window_words(window: VisitWindow, priority: Priority, clock: RoundClock, ordered: str = "") -> str:
    """Return the window as it is said: '05:30 to 06:00, not before (timed)'; empty when any time will do.

    ``ordered`` is what the orders state (`ordered_words`). It stands beside the span that counts as it, so that a draw
    planned some minutes before or after it is no riddle.
    """
    counts = f"counts as {ordered}" if ordered else ""
    also = "".join(
        f"; {RULE[ends.rule]} {_span(ends, clock)}{f', {counts}' if counts and ends.rule == _STATED else ''}"
        for ends in window.also
    )
    if counts and _STATED not in {ends.rule for ends in window.also}:
        return _with(_main_words(window, priority, clock, counts), also) or ordered
    return _with(_main_words(window, priority, clock, ""), also)


_STATED = "requested"
"""The rule of a time that an order states."""


def _with(main: str, also: str) -> str:
    return main + also if main else also.removeprefix("; ")


def _main_words(window: VisitWindow, priority: Priority, clock: RoundClock, counts: str) -> str:
    early, late, soft = window.earliest, window.latest, window.wish
    end = soft or late
    if early is None and end is None:
        return ""
    if early is None:
        assert end is not None
        span = f"by {_floor(clock, end.at_s)}" + ("" if soft else ", not after")
    elif end is None:
        span = f"from {_ceil(clock, early.at_s)}, not before"
    else:
        span = f"{_ceil(clock, early.at_s)} to {_floor(clock, end.at_s)}" + (", not before" if soft else " only")
    rules = list(dict.fromkeys(_rule_word(b, priority) for b in (early, end) if b is not None))
    text = f"{span} ({', '.join(rules)}{f': {counts}' if counts else ''})"
    if soft is not None and late is not None:
        text += f"; never after {_floor(clock, late.at_s)}"
        if late.rule != soft.rule:
            text += f" ({RULE[late.rule]})"
    return text


def absence_words(away: Sequence[TimeWindow], clock: RoundClock) -> tuple[str, ...]:
    """Return when a patient is not to be found in bed: 'not 06:40 to 07:15 (patient away)'."""
    return tuple(f"not {_floor(clock, a.earliest_s)} to {_ceil(clock, a.latest_s)} ({RULE['absence']})" for a in away)


def hurry_words(window: VisitWindow, clock: RoundClock) -> str:
    """Return the next end of a window that is close to the planned draw: 'not after 06:30'; empty where none is."""
    if not window.is_tight:
        return ""
    ends = [(b.at_s, said) for b, said in ((window.latest, "not after"), (window.target, "by")) if b is not None]
    at_s, said = min(ends[:1] if window.late_s else ends)
    return f"{said} {_floor(clock, at_s)}"


def ordered_words(orders: Sequence[Order], clock: RoundClock) -> str:
    """Return the instants that the orders themselves state: 'ordered 06:40'; with the tests where they differ."""
    tests: dict[int, list[str]] = {}
    for order in orders:
        if order.collect_at_s is not None:
            tests.setdefault(order.collect_at_s, []).append(order.called)
    if len(tests) == 1:
        return f"ordered {time_words(clock, *tests)}"
    named = (f"{' '.join(dict.fromkeys(tests[at_s]))} {time_words(clock, at_s)}" for at_s in sorted(tests))
    return f"ordered {', '.join(named)}" if tests else ""


def _span(ends: Ends, clock: RoundClock) -> str:
    if ends.earliest_s is None:
        return f"until {_floor(clock, ends.latest_s or 0)}"
    if ends.latest_s is None:
        return f"from {_ceil(clock, ends.earliest_s)}"
    return f"{_ceil(clock, ends.earliest_s)} to {_floor(clock, ends.latest_s)}"


def marks(
    window: VisitWindow, orders: Sequence[Order], priority: Priority, *, is_tight: bool = False
) -> tuple[Mark, ...]:
    """Return the words that must catch the eye, most important first; ``is_tight`` for a reason beside the window."""
    result = [] if priority is Priority.ROUTINE else [Mark(MarkKind.PRIORITY, priority.value.upper())]
    if window.late_s:
        result.append(Mark(MarkKind.LATE, f"LATE {late_minutes(window.late_s).upper()} MIN"))
    if window.is_tight or is_tight:
        result.append(Mark(MarkKind.TIGHT, "TIGHT"))
    if any(order.is_timed for order in orders):
        result.append(Mark(MarkKind.TIMED, "TIMED"))
    return tuple(result)


def minutes_up(seconds: int) -> int:
    """Return whole minutes, begun ones counted: a wait of 10 s is 1 minute."""
    return -(-seconds // SECONDS_PER_MINUTE)


def late_minutes(seconds: int) -> str:
    """Return how many minutes somebody or something is late, begun ones counted.

    Clock times are printed without their seconds: what is less late than a minute may have the same one as its target.
    """
    return "under 1" if 0 < seconds < SECONDS_PER_MINUTE else str(minutes_up(seconds))


def _at(bound: Bound) -> int:
    return bound.at_s


def _stated(bound: Bound | None) -> Bound | None:
    return None if bound is None or bound.rule == "round" else bound


def _rule_word(bound: Bound, priority: Priority) -> str:
    return priority.value if bound.rule == "priority" else RULE[bound.rule]


def _floor(clock: RoundClock, seconds: int) -> str:
    return time_words(clock, seconds)


def _ceil(clock: RoundClock, seconds: int) -> str:
    """Return the first whole minute that is not before the second: a start must never print too early."""
    return time_words(clock, seconds + (SECONDS_PER_MINUTE - 1))
