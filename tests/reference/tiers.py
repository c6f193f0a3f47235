"""The three tiers of goals of a tiny round, from the rule book: what a route costs, and what all routes together do."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from tests.reference.tiny import LATE, TinyRound, TinyVisit

Values = tuple[int, ...]

AIRBORNE, PROTECTIVE = 4, 0
"""Places in the order of isolation (`TURNS`)."""


def pair_cost(tiny: TinyRound, first: int, second: int) -> int:
    """Return what it costs, in hundredths of a second, that one person sees two beds in this order.

    Nothing if the order is right, or if the second could not be over, and the way walked, before the first's own times
    run out.
    """
    one, other = tiny.visits[first], tiny.visits[second]
    if one.tray_of is not None or other.tray_of is not None or other.turn >= one.turn:
        return 0
    targets_s = [o.target_s - one.lead_s for o in one.orders if o.target_s is not None]
    last_s = min([max(b for _a, b in one.starts), *targets_s])
    way_s = 0 if one.bed == other.bed else tiny.walk_s[other.bed, one.bed]
    if min(a for a, _b in other.starts) + other.service_s + way_s > last_s:
        return 0
    is_exposed = (one.turn, other.turn) == (AIRBORNE, PROTECTIVE)
    return 100 * (tiny.prices.exposed_s if is_exposed else tiny.prices.isolation_s)


def ward_cost(tiny: TinyRound, before: str | None, visit: TinyVisit) -> int:
    """Return what it costs, in hundredths of a second, that a visit is on another ward than the one before it.

    What is in a tray was drawn at a visit that was made: it is no change, but what follows may be one from there.
    """
    is_change = before is not None and visit.tray_of is None and visit.ward != before
    return 100 * tiny.prices.ward_change_s * is_change


def first_draw_s(tiny: TinyRound, visit: TinyVisit, n: int) -> int | None:
    """Return when a visit's n-th order could first be drawn if it is a stat with a target, else None."""
    order = visit.orders[n]
    if order.priority != "stat" or order.target_s is None or visit.tray_of is not None:
        return None
    there_s = min(p.from_s + (0 if p.place == visit.bed else tiny.walk_s[p.place, visit.bed]) for p in tiny.people)
    own_s = [min(a for a, _b in visit.starts) + visit.lead_s]
    own_s += [] if visit.wanted_s is None or n else [visit.wanted_s]
    return max(there_s + visit.lead_s, *own_s)


def dues(tiny: TinyRound, visit: TinyVisit, by_hand: bool) -> list[tuple[int, int]]:
    """Return (weight with its price, second in the laboratory) of the tubes of one kind of a visit that are urgent."""
    found: list[tuple[int, int]] = []
    for n, order in enumerate(visit.orders):
        since_s = first_draw_s(tiny, visit, n) if order.priority == "stat" else order.target_s
        if visit.tray_of is not None:
            since_s = visit.starts[0][0] + visit.lead_s
        if order.by_hand == by_hand and order.priority in ("stat", "asap") and since_s is not None:
            to_lab_s = tiny.stat_to_lab_s if order.priority == "stat" else tiny.asap_to_lab_s
            found.append((tiny.prices.to_lab * LATE[order.priority], since_s + to_lab_s))
    return found


def past_dues(tiny: TinyRound, visit: TinyVisit, by_hand: bool, brought_s: int) -> int:
    """Return what the tubes of one kind of a visit count that are in the laboratory at a second."""
    return sum(weight * max(0, brought_s - due_s) for weight, due_s in dues(tiny, visit, by_hand))


def draw_cost(tiny: TinyRound, visit: TinyVisit, begin_s: int) -> int:
    """Return what the time of a visit counts in the third tier: its first stat waits, its last minutes have begun."""
    return _stat_wait(tiny, visit, begin_s) + _last_minutes(tiny, visit, begin_s)


def _last_minutes(tiny: TinyRound, visit: TinyVisit, begin_s: int) -> int:
    first_s, last_s = min(a for a, _b in visit.starts), max(b for _a, b in visit.starts)
    past_s = begin_s - max(first_s, last_s - tiny.last_minutes_s)
    return tiny.prices.last_minutes_pct * max(0, past_s) if visit.tray_of is None else 0


def _stat_wait(tiny: TinyRound, visit: TinyVisit, begin_s: int) -> int:
    firsts = [s for n in range(len(visit.orders)) if (s := first_draw_s(tiny, visit, n)) is not None]
    return tiny.prices.stat_wait_pct * max(0, begin_s + visit.lead_s - min(firsts)) if firsts else 0


def second_punctures(tiny: TinyRound, served: Iterable[int]) -> int:
    """Return the number of beds' visits beyond each patient's first; trays are none."""
    patients = [
        i if tiny.visits[i].patient is None else tiny.visits[i].patient
        for i in served
        if tiny.visits[i].tray_of is None
    ]
    return len(patients) - len(set(patients))


def share(tiny: TinyRound, worked_s: Sequence[int]) -> int:
    """Return by how much the busiest works more at beds than a fair share, in hundredths of a second."""
    there_s = [person.until_s - person.from_s for person in tiny.people]
    percent = [100 * there // sum(there_s) if any(there_s) else 0 for there in there_s]
    return max(0, *(100 * w - pct * sum(worked_s) for w, pct in zip(worked_s, percent, strict=True)))


def worked_s(tiny: TinyRound, seen: Iterable[int]) -> int:
    """Return the seconds at beds."""
    return sum(tiny.visits[i].service_s for i in seen)


def other_wards(tiny: TinyRound, seen: Sequence[Sequence[int]]) -> int:
    """Return what it costs that people see beds on other wards than those which they prefer."""
    visits = [(person, tiny.visits[i]) for person, beds in zip(tiny.people, seen, strict=True) for i in beds]
    strange = [bool(p.prefers) and v.tray_of is None and v.ward not in p.prefers for p, v in visits]
    return 100 * tiny.prices.other_ward_s * sum(strange)


def service_of(tiny: TinyRound, late: int, delivery: int, changes: int) -> int:
    """Return what a route counts in the second tier, or all routes but for the punctures."""
    return late + delivery + tiny.prices.moved_stop_s * changes


def effort_of(tiny: TinyRound, time_s: int, arrival_s: int, turns: int) -> int:
    """Return what a route counts in the third tier, or all routes but for the finish and the share."""
    return 100 * time_s + tiny.prices.arrival_pct * arrival_s + turns


def tiers(
    tiny: TinyRound, lost: int, seen: Sequence[Sequence[int]], service: int, effort: int, finish_s: int
) -> Values:
    """Return the tiers of a round from the sums of its routes, and who sees which beds."""
    served = [i for beds in seen for i in beds]
    return (
        lost,
        service + tiny.prices.puncture_s * second_punctures(tiny, served),
        effort
        + other_wards(tiny, seen)
        + tiny.prices.finish_pct * finish_s
        + tiny.prices.share * share(tiny, [worked_s(tiny, beds) for beds in seen]),
    )
