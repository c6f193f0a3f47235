"""The minimal containers of one visit: independent problems put together, the discard tube included."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

from planner.domain.catalogue import Handling, TubeCode
from planner.domain.orders import Patient
from planner.domain.problem import Problem
from planner.solving.params import SolveParams
from planner.tubes.demands import Demand
from planner.tubes.discard import discard_volume_ul, needs_discard
from planner.tubes.groups import Filled, groups_of
from planner.tubes.kinds import goes_before_citrate, is_citrate, uses_for
from planner.tubes.needle import is_winged
from planner.tubes.sharing import SharingProblem, SharingResult, one_tube


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """What is drawn in one visit. ``discard_ul`` is 0 when there is no discard tube."""

    filled: tuple[Filled, ...]
    discard_ul: int
    is_proven: bool = True
    hit_wall_guard: bool = False

    @property
    def volume_ul(self) -> int:
        """Blood that the visit takes, the discard included."""
        return self.discard_ul + sum(f.container.volume_ul for f in self.filled)

    @property
    def cost(self) -> tuple[int, int, int]:
        """Tubes, blood, preference: compared in this order. The discard counts as blood, not as a tube."""
        return len(self.filled), self.volume_ul, sum(f.preference for f in self.filled)


@dataclass(slots=True)
class Chooser:
    """Solves each sharing problem once, however many patients have it."""

    problem: Problem
    params: SolveParams
    solved: dict[SharingProblem, SharingResult] = field(default_factory=dict)

    def choose(self, patient: Patient, demands: Iterable[Demand]) -> Choice:
        """Return the minimal containers for one visit's demands, all of which can be drawn.

        Problems of different share groups touch only through the discard tube. So the minimum without regard to
        it is taken first; when it brings a discard, the ways to do without (`_without_discard`) are tried too.
        Proof that this is enough: a visit with a discard costs at least the first minimum plus the discard; a
        visit without one is in one of those ways, and each way's minimum is exact.
        """
        needed = tuple(demands)
        best = self._minimum(patient, needed)
        if best.discard_ul:
            for changed in _without_discard(self.problem, needed):
                other = self._minimum(patient, changed)
                better = other if other.cost < best.cost else best
                best = replace(better, is_proven=best.is_proven and other.is_proven)
        return best

    def _minimum(self, patient: Patient, demands: tuple[Demand, ...]) -> Choice:
        filled = [f for demand in demands if not demand.kinds for f in own_containers(demand)]
        results = []
        for group in groups_of(self.problem.catalogue, demands, uses_for(self.problem, patient)):
            result = self._solve(group.problem)
            results.append(result)
            filled += group.named(result.bins)
        winged = is_winged(self.problem, patient)
        discards = needs_discard(self.problem.catalogue, filled, is_winged=winged)
        return Choice(
            filled=tuple(filled),
            discard_ul=discard_volume_ul(self.problem, patient) if discards else 0,
            is_proven=all(result.is_proven for result in results),
            hit_wall_guard=any(result.hit_wall_guard for result in results),
        )

    def _solve(self, problem: SharingProblem) -> SharingResult:
        if problem not in self.solved:
            self.solved[problem] = one_tube(problem) or _searched(problem, self.params)
        return self.solved[problem]


def _searched(problem: SharingProblem, params: SolveParams) -> SharingResult:
    """Ask the solver, which is loaded only now: most rounds need no search for tubes."""
    from planner.tubes.model import solve_sharing

    return solve_sharing(problem, params)


def own_containers(demand: Demand, option: int | None = None) -> list[Filled]:
    """Return the containers of a demand that shares with none: of one option, else of the least."""
    chosen = min(demand.options, key=lambda o: o.cost) if option is None else demand.options[option]
    return [
        Filled(container=container, demands=(demand,), preference=chosen.rank if n == 0 else 0)
        for n, container in enumerate(chosen.containers)
    ]


def _without_discard(problem: Problem, demands: tuple[Demand, ...]) -> Iterator[tuple[Demand, ...]]:
    """Yield the demands with kinds forbidden so that the discard may fall away, in every way that it can.

    Without citrate at all; without citrate for tests that ask for a discard; and, for a winged set, with one of
    the demands forced into a kind that is filled before citrate.
    """
    catalogue = problem.catalogue
    citrate = {code for code, kind in catalogue.tubes.items() if is_citrate(kind)}
    early = {code for code in catalogue.tubes if goes_before_citrate(catalogue, code)}
    none = tuple(limited_to(demand, catalogue.tubes.keys() - citrate) for demand in demands)
    if all(demand.can_be_drawn for demand in none):
        yield none
    unasked = tuple(
        limited_to(demand, catalogue.tubes.keys() - citrate)
        if Handling.DISCARD_FIRST in demand.test.handling
        else demand
        for demand in demands
    )
    if not all(demand.can_be_drawn for demand in unasked):
        return
    if unasked != demands:
        yield unasked
    for index, demand in enumerate(unasked):
        forced = forced_into(demand, early)
        if forced.can_be_drawn and forced != demand:
            yield (*unasked[:index], forced, *unasked[index + 1 :])


def limited_to(demand: Demand, allowed: Iterable[TubeCode]) -> Demand:
    """Return the demand with only the allowed kinds left (for own containers: options of only such)."""
    codes = frozenset(allowed)
    return replace(
        demand,
        kinds=tuple(pair for pair in demand.kinds if pair[0] in codes),
        options=tuple(o for o in demand.options if all(c.kind in codes for c in o.containers)),
    )


def forced_into(demand: Demand, wanted: Iterable[TubeCode]) -> Demand:
    """Return the demand with only what uses a wanted kind left: such kinds, and options that hold one."""
    codes = frozenset(wanted)
    return replace(
        demand,
        kinds=tuple(pair for pair in demand.kinds if pair[0] in codes),
        options=tuple(o for o in demand.options if any(c.kind in codes for c in o.containers)),
    )
