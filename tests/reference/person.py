"""One person's moves in a tiny round, as tables: what each stop does to her clock and to the goals."""

from __future__ import annotations

from functools import partial
from typing import NamedTuple

import numpy as np

from tests.reference.tables import (
    KINDS,
    NEVER,
    Clock,
    Table,
    arrival_s,
    late,
    limit_s,
    past_need,
    possible_arrivals,
    start_s,
    takes,
)
from tests.reference.tiers import draw_cost, dues, pair_cost, past_dues
from tests.reference.tiny import TinyRound


def bits(mask: int) -> list[int]:
    """Return the places of the bits of a number that are set."""
    return [i for i in range(mask.bit_length()) if mask >> i & 1]


class Worth(NamedTuple):
    """What one (a step, a change, a hundredth of a second of turns) of each counts in the number of the costs."""

    late: int
    delivery: int
    changes: int
    turns: int
    arrival: int


class Bed(NamedTuple):
    """By the step at which a visit could begin: its end, what it costs if late, and if drawn after its promise.

    ``late`` holds what it costs that its stat waits, too.
    """

    end: Table
    late: Table
    too_late: Table


class Person:
    """The tables of one person; steps as in `Clock`, costs as one number in the order of the tiers.

    What adds up along a route in the second tier and in the third (but for its end) are two digits of one number, the
    second with room for its greatest sum, so that comparing the numbers compares the tiers in their order.
    """

    def __init__(self, tiny: TinyRound, who: int, clock: Clock) -> None:
        self.tiny, self.who, self.clock = tiny, who, clock
        self.me = tiny.people[who]
        self.until = clock.at(self.me.until_s)
        self.arrivals = [possible_arrivals(tiny, clock, hand) for hand in KINDS]
        self.most_effort = self._most_effort()
        unit_s, service = clock.unit_s, self.most_effort + 1
        self.worth = Worth(
            late=unit_s * service,
            delivery=unit_s * service,
            changes=tiny.prices.moved_stop_s * service,
            turns=1,
            arrival=unit_s * tiny.prices.arrival_pct,
        )
        self.parts = tuple(
            sum(1 << i for i, visit in enumerate(tiny.visits) if any(o.by_hand == hand for o in visit.orders))
            for hand in KINDS
        )
        """The beds with tubes of each kind, as bits."""
        self.delivery = [[self._delivery(i, hand) for hand in KINDS] for i in range(len(tiny.visits))]
        """(Weight, step in the laboratory) of all that hurries, by visit and kind."""
        self.limits = [
            [None if (s := limit_s(visit, hand)) is None else clock.steps(s + visit.lead_s) for hand in KINDS]
            for visit in tiny.visits
        ]
        """Longest steps from the start of a visit to the arrival of its tubes of a kind."""
        self.beds = [self._bed_tables(i) for i in range(len(tiny.visits))]
        self.end_out = clock.table(lambda t: self._by_until(clock.at(t) + clock.steps(tiny.handover_s)))
        self.brought = [clock.table(partial(self._brought, n)) for n in range(len(tiny.outlets))]
        self.end_rest = clock.table(self._rest)
        self.latest = [clock.at(max(b for _a, b in visit.starts)) for visit in tiny.visits]
        self._last_wait: dict[tuple[int, bool], int] = {}
        self._order: dict[tuple[int, int], tuple[int, bool]] = {}
        self._soonest: dict[tuple[str, bool], Table] = {}

    def walk(self, here: str, there: str) -> int:
        """Return the steps of a way."""
        return 0 if here == there else self.clock.steps(self.tiny.walk_s[here, there])

    def soonest(self, place: str, by_hand: bool) -> Table:
        """Return when tubes of a kind can be in the laboratory if they are brought to the best way out now."""
        if (place, by_hand) not in self._soonest:
            steps = np.arange(self.clock.size)
            ways = [
                self.brought[n].many[np.minimum(steps + self.walk(place, outlet.place), self.clock.sink)]
                for n, outlet in enumerate(self.tiny.outlets)
                if takes(outlet, by_hand)
            ]
            soonest = np.minimum.reduce(ways) if ways else np.full(self.clock.size, NEVER)
            self._soonest[place, by_hand] = Table.of(soonest.tolist())
        return self._soonest[place, by_hand]

    def start(self, i: int, ready: int) -> int:
        """Return the first allowed start of a visit from a step on; the last one if there is none."""
        begin_s = start_s(self.tiny.visits[i], self.clock.begin_s + ready * self.clock.unit_s)
        return self.latest[i] if begin_s is None else self.clock.at(begin_s)

    def last_wait(self, seen: int, rested: bool) -> int:
        """Return the last step that anything still to come may wait for."""
        if (seen, rested) not in self._last_wait:
            tiny = self.tiny
            found = [d for outlet in tiny.outlets for d in outlet.departures_s]
            found += [a for i, v in enumerate(tiny.visits) if not seen >> i & 1 for a, _b in v.starts]
            if self.me.rest is not None and not rested:
                found.append(self.me.rest[0])
            self._last_wait[seen, rested] = self.clock.at(max(found, default=self.clock.begin_s))
        return self._last_wait[seen, rested]

    def unpack(self, number: int) -> tuple[int, int]:
        """Return what a number of costs counts in the second and in the third tier."""
        return divmod(number, self.most_effort + 1)

    def begun(self, held: tuple[int, int]) -> list[int]:
        """Return the beds of which one kind is given away and another still held."""
        return bits(self.parts[0] & self.parts[1] & (held[0] ^ held[1]))

    def order(self, seen: int, i: int) -> tuple[int, bool]:
        """Return of a bed behind others what pairs out of turn cost, and if it is not where promised in the order."""
        if (seen, i) not in self._order:
            self._order[seen, i] = self._in_order(seen, i)
        return self._order[seen, i]

    def _in_order(self, seen: int, i: int) -> tuple[int, bool]:
        visit = self.tiny.visits[i]
        before = [v for v in (self.tiny.visits[k] for k in bits(seen)) if v.tray_of is None]
        turns = sum(pair_cost(self.tiny, k, i) for k in bits(seen))
        if visit.promise is None:
            return turns, False
        who, place, _draw_s = visit.promise
        overtaken = any(v.promise and v.promise[0] == self.who and v.promise[1] > place for v in before)
        return turns, who != self.who or overtaken

    def _delivery(self, visit: int, by_hand: bool) -> list[tuple[int, int]]:
        weight = past_need(self.tiny, self.tiny.visits[visit], by_hand, (self.tiny.need_by_s or 0) + 1)
        urgent = [(w, self.clock.at(s)) for w, s in dues(self.tiny, self.tiny.visits[visit], by_hand) if w]
        return urgent if self.tiny.need_by_s is None else [(weight, self.clock.at(self.tiny.need_by_s)), *urgent]

    def _most_effort(self) -> int:
        tiny, clock = self.tiny, self.clock
        last = max([0, *(int(a[-1]) for a in self.arrivals if len(a))])
        num = len(tiny.visits)
        turns = sum(pair_cost(tiny, i, j) for i in range(num) for j in range(num) if i != j)
        end_s = clock.begin_s + clock.sink * clock.unit_s
        turns += 100 * num * tiny.prices.ward_change_s
        most = turns + num * last * clock.unit_s * tiny.prices.arrival_pct
        most += sum(draw_cost(tiny, v, end_s) for v in tiny.visits)
        last_s = clock.begin_s + last * clock.unit_s
        service = sum(late(v, end_s) for v in tiny.visits) + num * tiny.prices.moved_stop_s
        service += sum(past_need(tiny, v, hand, last_s) for v in tiny.visits for hand in KINDS)
        service += sum(past_dues(tiny, v, hand, last_s) for v in tiny.visits for hand in KINDS)
        assert (service + 1) * (most + 1) < 1 << 62
        return most

    def _by_until(self, end: int) -> int:
        return end if end <= self.until else self.clock.sink

    def _bed_tables(self, i: int) -> Bed:
        visit, clock = self.tiny.visits[i], self.clock
        begins = [start_s(visit, clock.begin_s + step * clock.unit_s) for step in range(clock.size)]
        last_s = self.me.until_s - visit.service_s
        made = [begin_s if begin_s is not None and begin_s <= last_s else None for begin_s in begins]
        promised_s = None if visit.promise is None else visit.promise[2] + self.tiny.change_s - visit.lead_s
        return Bed(
            end=Table.of([clock.sink if t is None else clock.at(t + visit.service_s) for t in made]),
            late=Table.of(
                [
                    0
                    if t is None
                    else late(visit, t) // clock.unit_s * self.worth.late + draw_cost(self.tiny, visit, t)
                    for t in made
                ]
            ),
            too_late=Table.of(
                [0 if t is None or promised_s is None else (t > promised_s) * self.worth.changes for t in made]
            ),
        )

    def _brought(self, n: int, ready_s: int) -> int:
        end_s = ready_s + self.tiny.handover_s
        brought_s = arrival_s(self.tiny.outlets[n], end_s) if end_s <= self.me.until_s else None
        return NEVER if brought_s is None else self.clock.at(brought_s)

    def _rest(self, ready_s: int) -> int:
        if self.me.rest is None:
            return self.clock.sink
        end_s = max(ready_s, self.me.rest[0]) + self.me.rest_s
        return self.clock.at(end_s) if end_s <= min(self.me.rest[1], self.me.until_s) else self.clock.sink
