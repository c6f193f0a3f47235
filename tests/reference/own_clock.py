"""A round as an opponent sees it: visits of any grouping of a patient's orders, and its own clock, from the rule book.

What a visit needs (its draw times, tubes and time at the bed) is the planner's, each held to a reference of its own.
The clock, what the tiers count, and what binds visits to one another are written anew.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from planner.domain.draws import Draw, DrawId, OrderWindow, Strength
from planner.domain.orders import Order, OrderId, Priority
from planner.domain.places import PickupKind
from planner.domain.problem import Problem
from planner.prepared import OrderWindows, with_tubes
from planner.solving.params import SolveParams
from planner.visits.grouping import request_of
from planner.visits.posture import posture_gaps
from planner.visits.series import draw_gaps
from planner.visits.together import must_part

Group = frozenset[OrderId]
Stop = Group | int
"""A visit by its orders; `REST`; or the number of a pickup."""
REST = -1
OWN = ("requested", "clock", "fasting", "dose")
PARAMS = SolveParams(effort="quick", proves=False)


@dataclass(frozen=True, slots=True)
class Kind:
    """Tubes of a visit that travel alike: by hand only, or by any way."""

    by_hand: bool
    keeps_s: int
    """From the start of the visit to the laboratory."""
    tubes: int
    dues: tuple[tuple[int, int], ...]
    """(second in the laboratory, weighted seconds a second past it)"""


@dataclass(frozen=True, slots=True)
class Bed:
    """A visit in numbers; starts, not draw times."""

    draw: Draw
    place: str
    ward: str
    spans: tuple[tuple[int, int], ...]
    stay_s: int
    late: tuple[tuple[int, int], ...]
    kinds: tuple[Kind, ...]
    able: frozenset[int]
    strange: frozenset[int]
    weight: int
    pulls: tuple[tuple[int, int, int], ...]
    """(start, what a second later, what a second sooner counts in the third tier)"""


@dataclass(slots=True)
class Timed:
    """A route by the clock."""

    starts: list[int]
    taken: list[list[int]]
    """For each stop, of each kind of tubes the position of the stop that takes it."""
    over_s: int
    service: int
    effort: int
    bed_s: int
    weight: int
    begun: dict[Group, int] = field(default_factory=dict)


class OwnRound:
    """A problem's beds, by grouping, and the clock of its routes."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.windows = OrderWindows.of_round(problem)
        self.walk = {(str(a), str(b)): s for (a, b), s in problem.walking.seconds.items()}
        self._beds: dict[Group, Bed | None] = {}
        policy = problem.policy
        self.hand_s, self.sends, self.tray = (
            policy.handover.handover_s,
            policy.handover.max_sends,
            policy.handover.tray_limit or 10**9,
        )

    def bed(self, group: Group) -> Bed | None:
        """Return the visit of some orders of a patient; None where no stay, no tubes or no puncture holds them all."""
        if group not in self._beds:
            self._beds[group] = self._bed(group)
        return self._beds[group]

    def _bed(self, group: Group) -> Bed | None:
        problem, policy = self.problem, self.problem.policy
        orders = [problem.order(order_id) for order_id in sorted(group)]
        if any(must_part(problem, order, orders[:n]) for n, order in enumerate(orders)):
            return None
        request = request_of(problem, orders, self.windows.of, DrawId(f"{orders[0].patient_id}#1"))
        if not request.windows:
            return None
        made = with_tubes(problem, self.windows, (request,), PARAMS).draws
        if not made or {order.id for order in made[0].request.orders} != group:
            return None
        (draw,), patient = made, problem.patients[orders[0].patient_id]
        way = [(n, self.between(str(who.starts_at), str(draw.request.bed))) for n, who in enumerate(problem.staff)]
        there_s = min(problem.staff[n].from_s + s for n, s in way)
        weights = policy.weights
        timed = {o.id: o.is_timed for o in orders}
        dosed = {o.id: problem.test_of(o).dose_rule is not None for o in orders}
        return Bed(
            draw=draw,
            place=str(draw.request.bed),
            ward=patient.ward,
            spans=tuple((w.earliest_s, w.latest_s) for w in draw.start_windows),
            stay_s=draw.service_s,
            late=tuple(
                (
                    window.target_s - draw.lead_s,
                    max(weights.late[order.priority], weights.late_timed if timed[order.id] else 0),
                )
                for order, window in zip(orders, draw.request.order_windows, strict=True)
                if window.target_s is not None
            ),
            kinds=tuple(_kinds(problem, draw, orders, there_s)),
            able=frozenset(
                n
                for n, who in enumerate(problem.staff)
                if patient.needs <= who.skills and (not who.wards or patient.ward in who.wards)
            ),
            strange=frozenset(
                n for n, who in enumerate(problem.staff) if who.prefers and patient.ward not in who.prefers
            ),
            weight=sum(
                max(weights.uncollected[o.priority], weights.uncollected_timed if timed[o.id] or dosed[o.id] else 0)
                for o in orders
            ),
            pulls=tuple(_pulls(problem, draw, orders, there_s)),
        )

    def between(self, a: str, b: str) -> int:
        """Return the seconds of the way."""
        return 0 if a == b else self.walk[a, b]

    def bonds(self, groups: Iterable[Group]) -> list[tuple[Group, Group, int, int]]:
        """Return (first, second, least, most seconds between their starts) of all that gaps bind."""
        numbered = [(group, bed) for group in groups if (bed := self.bed(group)) is not None]
        draws = [_renamed(bed.draw, f"{bed.draw.request.patient_id}#{n}") for n, (_, bed) in enumerate(numbered, 1)]
        back = {draw.id: one for draw, one in zip(draws, numbered, strict=True)}
        found = []
        for gap in (*draw_gaps(self.problem, draws), *posture_gaps(self.problem, draws)):
            (first, a), (second, b) = back[gap.first], back[gap.second]
            lead_s = a.draw.lead_s - b.draw.lead_s
            found.append((first, second, gap.least_s + lead_s, gap.most_s + lead_s))
        return found

    def time(self, person: int, stops: Sequence[Stop], floors: Mapping[Group, int]) -> Timed | None:
        """Return the earliest schedule of a route, None where it breaks a rule."""
        who = self.problem.staff[person]
        if not stops:
            return Timed([], [], 0, 0, 0, 0, 0)
        beds = [self._beds[s] if isinstance(s, frozenset) else None for s in stops]
        least = [floors.get(s, 0) if isinstance(s, frozenset) else 0 for s in stops]
        uses = [s for s in stops if isinstance(s, int) and s >= 0]
        for n in set(uses):
            if not self.problem.pickups[n].departures_s and uses.count(n) > self.sends:
                return None
        for takes_next in (False, True):
            timed = self._least(person, stops, beds, list(least), takes_next)
            if timed is None:
                return None
            if self._fits_tray(stops, beds, timed[1]):
                return self._counted(person, who.from_s, stops, beds, *timed)
        return None

    def _least(
        self, person: int, stops: Sequence[Stop], beds: Sequence[Bed | None], least: list[int], takes_next: bool
    ) -> tuple[list[int], list[list[int]], list[int], int] | None:
        who, pickups = self.problem.staff[person], self.problem.pickups
        while True:
            clock_s, place = who.from_s, str(who.starts_at)
            starts, arrivals = [0] * len(stops), [0] * len(stops)
            for p, stop in enumerate(stops):
                bed = beds[p]
                if bed is not None:
                    if person not in bed.able:
                        return None
                    at_s = max(clock_s + self.between(place, bed.place), least[p])
                    start_s = next((max(at_s, a) for a, b in bed.spans if at_s <= b), -1)
                    if start_s < 0:
                        return None
                    clock_s, place = start_s + bed.stay_s, bed.place
                elif stop == REST:
                    window = who.break_window
                    if window is None:
                        return None
                    start_s = max(clock_s, window.earliest_s)
                    clock_s = start_s + who.break_s
                    if clock_s > window.latest_s:
                        return None
                else:
                    assert isinstance(stop, int)
                    pickup = pickups[stop]
                    start_s = clock_s + self.between(place, str(pickup.place))
                    clock_s, place = start_s + self.hand_s, str(pickup.place)
                    leaves = clock_s
                    if pickup.departures_s:
                        leaves = next((d for d in pickup.departures_s if d >= clock_s), -1)
                        if leaves < 0:
                            return None
                    arrivals[p] = leaves + pickup.transit_s
                if clock_s > who.until_s:
                    return None
                starts[p] = start_s
            rests_by_s = min(who.break_window.latest_s, who.until_s) - who.break_s if who.break_window else clock_s
            if clock_s > rests_by_s and REST not in stops:
                return None
            taken, moved = self._taken(stops, beds, starts, arrivals, least, takes_next)
            if taken is None:
                return None
            if not moved:
                return starts, taken, arrivals, clock_s

    def _taken(
        self,
        stops: Sequence[Stop],
        beds: Sequence[Bed | None],
        starts: list[int],
        arrivals: list[int],
        least: list[int],
        takes_next: bool,
    ) -> tuple[list[list[int]] | None, bool]:
        """Let each kind go with the stop that brings it in first, or the next; raise draws that would be too old."""
        any_way, by_hand, moved = -1, -1, False
        taken: list[list[int]] = [[] for _ in stops]
        for p in range(len(stops) - 1, -1, -1):
            stop, bed = stops[p], beds[p]
            if bed is None:
                if isinstance(stop, int) and stop >= 0:
                    if any_way < 0 or takes_next or arrivals[p] <= arrivals[any_way]:
                        any_way = p
                    is_tube = self.problem.pickups[stop].kind is PickupKind.TUBE
                    if not is_tube and (by_hand < 0 or takes_next or arrivals[p] <= arrivals[by_hand]):
                        by_hand = p
                continue
            for kind in bed.kinds:
                taker = by_hand if kind.by_hand else any_way
                if taker < 0:
                    return None, False
                taken[p].append(taker)
                if arrivals[taker] - starts[p] > kind.keeps_s:
                    least[p], moved = arrivals[taker] - kind.keeps_s, True
        return taken, moved

    def _fits_tray(self, stops: Sequence[Stop], beds: Sequence[Bed | None], taken: list[list[int]]) -> bool:
        change = [0] * (len(stops) + 1)
        for p, bed in enumerate(beds):
            for kind, taker in zip(bed.kinds if bed else (), taken[p], strict=True):
                change[p] += kind.tubes
                change[taker] -= kind.tubes
        held = 0
        for step in change:
            held += step
            if held > self.tray:
                return False
        return True

    def _counted(
        self,
        person: int,
        from_s: int,
        stops: Sequence[Stop],
        beds: Sequence[Bed | None],
        starts: list[int],
        taken: list[list[int]],
        arrivals: list[int],
        over_s: int,
    ) -> Timed:
        prices, begin_s = self.problem.policy.prices, self.problem.start_s
        timed = Timed(starts, taken, over_s, 0, 0, 0, 0)
        ward = ""
        for p, bed in enumerate(beds):
            if bed is None:
                continue
            start_s, stop = starts[p], stops[p]
            assert isinstance(stop, frozenset)
            timed.begun[stop] = start_s
            timed.bed_s += bed.stay_s
            timed.weight += bed.weight
            for target_s, weight in bed.late:
                timed.service += weight * max(0, start_s - target_s)
            brought_s = [arrivals[taker] for taker in taken[p]]
            for kind, arrival_s in zip(bed.kinds, brought_s, strict=True):
                for due_s, weight in kind.dues:
                    timed.service += weight * max(0, arrival_s - due_s)
            timed.effort += prices.arrival_pct * (max(brought_s) - begin_s)
            timed.effort += sum(a * max(0, start_s - s) + b * max(0, s - start_s) for s, a, b in bed.pulls)
            timed.effort += 100 * prices.other_ward_s * (person in bed.strange)
            timed.effort += 100 * prices.ward_change_s * (ward not in ("", bed.ward))
            ward = bed.ward
        timed.effort += 100 * (over_s - from_s - timed.bed_s)
        return timed


def _kinds(problem: Problem, draw: Draw, orders: Sequence[Order], there_s: int) -> Iterable[Kind]:
    policy = problem.policy
    ward = problem.patients[draw.request.patient_id].ward
    needed_s = policy.round.needed_by_s.get(ward, policy.round.needed_by_s.get("*"))
    for by_hand in (False, True):
        tubes = [t for t in draw.tube_set.tubes if t.tests and t.by_hand == by_hand]
        if not tubes:
            continue
        served = {order_id for tube in tubes for order_id in tube.order_ids}
        dues: list[tuple[int, int]] = []
        for order, window in zip(orders, draw.request.order_windows, strict=True):
            weight = policy.weights.late[order.priority]
            if order.id in served and needed_s is not None:
                dues.append((needed_s, weight))
            if order.id in served and window.target_s is not None:
                if order.priority is Priority.STAT:
                    first_s = _first_draw_s(order, window, there_s + draw.lead_s)
                    dues.append((first_s + policy.windows.stat_to_lab_s, weight * policy.prices.to_lab))
                if order.priority is Priority.ASAP:
                    dues.append((window.target_s + policy.windows.asap_to_lab_s, weight * policy.prices.to_lab))
        keeps = [t.stability_s for t in tubes if t.stability_s is not None]
        yield Kind(by_hand, min(keeps, default=10**6) + draw.lead_s, len(tubes), tuple(dues))


def _first_draw_s(order: Order, window: OrderWindow, ready_s: int) -> int:
    own = [e.earliest_s for e in window.ends if e.rule in (*OWN, "retry") and e.strength is Strength.HARD]
    return max([ready_s, *(s for s in (order.collect_at_s, *own) if s is not None)])


def _pulls(problem: Problem, draw: Draw, orders: Sequence[Order], there_s: int) -> Iterable[tuple[int, int, int]]:
    prices, lead_s = problem.policy.prices, draw.lead_s
    pairs = list(zip(orders, draw.request.order_windows, strict=True))
    firsts = [
        _first_draw_s(o, w, there_s + lead_s)
        for o, w in pairs
        if o.priority is Priority.STAT and w.target_s is not None
    ]
    if firsts:
        yield min(firsts) - lead_s, prices.stat_wait_pct, 0
    hard = [e for _, w in pairs for e in w.ends if e.rule in OWN and e.strength is Strength.HARD]
    ends = [e.latest_s for e in hard if e.latest_s is not None]
    if ends:
        begins = [e.earliest_s for e in hard if e.earliest_s is not None]
        from_s = max([min(ends) - problem.policy.windows.last_minutes_s, *begins])
        yield from_s - lead_s, prices.last_minutes_pct, 0
    spans = {(o.collect_at_s, o.collect_at_s) for o, _ in pairs if o.collect_at_s and o.priority is not Priority.STAT}
    spans |= {(w.earliest_s, w.latest_s) for _, window in pairs for w in window.preferences}
    for first_s, last_s in spans:
        if max(problem.start_s, first_s or 0) <= min(problem.end_s, last_s or problem.end_s):
            if first_s is not None:
                yield first_s - lead_s, 0, prices.off_time_pct
            if last_s is not None:
                yield last_s - lead_s, prices.off_time_pct, 0


def _renamed(draw: Draw, number: str) -> Draw:
    return replace(draw, request=replace(draw.request, id=DrawId(number)))
