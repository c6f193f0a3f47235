"""A child near the blood limit: which orders wait, and the fewest tubes that stay within it; exact.

Goals strictly in this order: (1) as few waiting orders of the highest rank as can be, then of the next, and so on: rank
goes by the weight of the priority, then by the importance of the test (`precedence.py`); (2) of these ways one that
takes least blood, (3) with those orders waiting: fewest tubes, least blood, preferences. More but smaller tubes are
taken before any order waits. All visits of the child in the round are looked at together.

Steps: a visit falls into parts that share no tube (share groups, and each test of its own). For each part the ways
that no other beats are found: more waiting against less blood. Putting parts together keeps only such ways. The
discard tube ties parts together, so that this is done once for each case in which it is or is not drawn.
Example: 1.1 mL left, a part with ways (nothing waits, 1.0 mL), (1, 0) and another with (0, 0.5), (1, 0): together
(1, 0.5), (2, 0) are within the limit and unbeaten; the first is taken, so the 1.0 mL tube waits.
"""

from __future__ import annotations

from collections.abc import Collection, Hashable, Iterator, Sequence
from dataclasses import dataclass

from planner.domain.catalogue import Handling, TubeCode
from planner.domain.orders import Patient
from planner.domain.patients.blood_limits import BloodLimits
from planner.domain.problem import Problem
from planner.errors import SolverError
from planner.solving.params import SolveParams
from planner.tubes.choice import Choice, forced_into, limited_to, own_containers
from planner.tubes.demands import Demand
from planner.tubes.discard import discard_volume_ul, needs_discard
from planner.tubes.frontier import Frontier, Proof, group_ways
from planner.tubes.groups import Group, groups_of
from planner.tubes.kinds import goes_before_citrate, is_citrate, small_uses_for
from planner.tubes.needle import is_winged
from planner.tubes.precedence import weighed
from planner.tubes.ways import First, Way, best_ways, together, way_of


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitedChoice:
    """What is drawn in each visit (in the order given) and the demands that wait."""

    choices: tuple[Choice, ...]
    postponed: tuple[Demand, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Case:
    """Demands with such kinds as a case about the discard leaves them; ``kept`` are keys that may not wait."""

    demands: tuple[Demand, ...]
    discard_ul: int
    kept: frozenset[tuple[str, int]] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class _Parts:
    """The parts of a visit in one case; ``least`` is the sum of their least weights (tubes)."""

    frontiers: tuple[Frontier, ...]
    discard_ul: int
    least: int


def choose_within(
    problem: Problem,
    patient: Patient,
    visits: Sequence[Sequence[Demand]],
    limits: BloodLimits,
    params: SolveParams,
) -> LimitedChoice:
    """Return what is drawn within the limits, in tubes of every size, and what waits."""
    return _Search(problem, patient, limits, params).run(weighed(problem, visits))


class _Search:
    """The search for one child."""

    def __init__(self, problem: Problem, patient: Patient, limits: BloodLimits, params: SolveParams) -> None:
        self.problem, self.patient, self.limits, self.params = problem, patient, limits, params
        self.uses = small_uses_for(problem, patient)
        self.is_winged = is_winged(problem, patient)
        self.discard_ul = discard_volume_ul(problem, patient)
        self.visit_ul = limits.round_ul if limits.draw_ul is None else min(limits.draw_ul, limits.round_ul)
        self.proof = Proof()
        self.known: dict[Hashable, Frontier] = {}

    def run(self, visits: Sequence[Sequence[Demand]]) -> LimitedChoice:
        """Find what waits, then the fewest tubes for the rest."""
        waiting = self._whole(visits, lambda way: way.weight, may_wait=True)
        if waiting is None:
            raise SolverError("no way was found in which every order of a child waits")
        late = [{demand.key for demand in way.waits} for way in waiting]
        kept = [[d for d in demands if d.key not in keys] for demands, keys in zip(visits, late, strict=True)]
        drawn = self._whole(kept, lambda way: way.num_tubes, may_wait=False)
        if drawn is None:  # a limit stopped the search; what was found above is within the limits
            self.proof.is_proven, drawn = False, waiting
        postponed = tuple(d for demands, keys in zip(visits, late, strict=True) for d in demands if d.key in keys)
        return LimitedChoice(choices=tuple(self._choice(way) for way in drawn), postponed=postponed)

    def _whole(self, visits: Sequence[Sequence[Demand]], first: First, *, may_wait: bool) -> list[Way] | None:
        """Return the best way of each visit: first what matters most over all visits, then the least blood.

        Parts are searched only as far as they can matter: with an excess of ``excess`` over each part's least, a
        whole is found that exceeds the sum of least values by ``gap``; no part of a better whole exceeds its
        least by more than that.
        """
        frontiers = [self._frontiers(tuple(demands), first, may_wait=may_wait) for demands in visits]
        demands = [demand for visit in visits for demand in visit]
        most = sum(d.weight + max((len(o.containers) for o in d.options), default=1) for d in demands)
        excess = 1
        while True:
            found = self._best(frontiers, first, excess)
            if found is None:
                if excess > most:
                    return None
                excess *= 2
                continue
            gap = sum(first(way) for way in found) - sum(min(case.least for case in cases) for cases in frontiers)
            if gap <= excess:
                return found
            excess = gap

    def _best(self, frontiers: Sequence[Sequence[_Parts]], first: First, excess: int) -> list[Way] | None:
        """Return the best way of each visit when no part exceeds its least by more than ``excess``."""
        combined: list[tuple[Way, tuple[Way, ...]]] = [(Way(), ())]
        for cases in frontiers:
            ways: list[Way] = []
            for case in cases:
                parts = [frontier.up_to(excess) for frontier in case.frontiers]
                ways += together(parts, first, self.visit_ul, case.discard_ul)
            longer = [
                (together([[total], [way]], first, self.limits.round_ul), (*chosen, way))
                for total, chosen in combined
                for way in best_ways(ways, first)
            ]
            found = [(totals[0], chosen) for totals, chosen in longer if totals]
            unbeaten = best_ways((total for total, _ in found), first)
            combined = [next(pair for pair in found if pair[0] is total) for total in unbeaten]
        return list(combined[0][1]) if combined else None

    def _frontiers(self, demands: tuple[Demand, ...], first: First, *, may_wait: bool) -> list[_Parts]:
        """Return the parts of one visit in every case about the discard that can be drawn."""
        found = []
        for case in self._cases(demands):
            frontiers = list(self._parts(case, first, case.kept if may_wait else None))
            least = [frontier.least() for frontier in frontiers]
            if None not in least:
                total = sum(value for value in least if value is not None)
                found.append(_Parts(frontiers=tuple(frontiers), discard_ul=case.discard_ul, least=total))
        return found

    def _parts(self, case: _Case, first: First, kept: Collection[tuple[str, int]] | None) -> Iterator[Frontier]:
        """Yield the unbeaten ways of each part of a visit."""
        for demand in case.demands:
            if not demand.kinds:
                waits = [way_of((), [demand])] if kept is not None and demand.key not in kept else []
                options = [way_of(own_containers(demand, n)) for n in range(len(demand.options))]
                within = [way for way in options + waits if way.volume_ul <= self.visit_ul]
                yield Frontier(best_ways(within, first), iter(()), first)
        groups = groups_of(
            self.problem.catalogue,
            case.demands,
            self.uses,
            told_apart_by=lambda d: (d.weight, d.key in (kept or ())),
        )
        for group in groups:
            yield self._frontier(group, first, kept)

    def _frontier(self, group: Group, first: First, kept: Collection[tuple[str, int]] | None) -> Frontier:
        """Return the unbeaten ways of a group, once for all cases in which it is the same."""
        members = tuple((d.key, d.orders, d.kinds) for demands in group.members for d in demands)
        may_wait = None if kept is None else tuple(key not in kept for key, _, _ in members)
        if (members, may_wait) not in self.known:
            ways = group_ways(group, self.visit_ul, self.params, self.proof, kept=kept)
            self.known[members, may_wait] = Frontier((), ways, first)
        return self.known[members, may_wait]

    def _cases(self, demands: tuple[Demand, ...]) -> Iterator[_Case]:
        """Yield every case about the discard: it is drawn; or there is no citrate; or none is needed for it.

        None is needed when no test in a citrate tube asks for one and, for a winged set, some demand is in a kind
        that is filled before citrate.
        """
        catalogue = self.problem.catalogue
        codes = frozenset(catalogue.tubes)
        other = frozenset(code for code, kind in catalogue.tubes.items() if not is_citrate(kind))
        without = tuple(limited_to(demand, other) for demand in demands)
        yield _Case(demands=without, discard_ul=0)
        if without == demands:
            return
        yield _Case(demands=demands, discard_ul=self.discard_ul)
        unasked = tuple(
            limited_to(demand, other if Handling.DISCARD_FIRST in demand.test.handling else codes) for demand in demands
        )
        if not self.is_winged:
            yield _Case(demands=unasked, discard_ul=0)
            return
        early = frozenset(code for code in codes if goes_before_citrate(catalogue, TubeCode(code)))
        for index, demand in enumerate(unasked):
            forced = forced_into(demand, early)
            if forced.can_be_drawn:
                changed = (*unasked[:index], forced, *unasked[index + 1 :])
                yield _Case(demands=changed, discard_ul=0, kept=frozenset({demand.key}))

    def _choice(self, way: Way) -> Choice:
        discards = needs_discard(self.problem.catalogue, way.filled, is_winged=self.is_winged)
        return Choice(
            filled=way.filled,
            discard_ul=self.discard_ul if discards else 0,
            is_proven=self.proof.is_proven,
            hit_wall_guard=self.proof.hit_wall_guard,
        )
