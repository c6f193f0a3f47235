"""Which tests share which tube: solver variables, constraints and the search for one sharing problem."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import gcd
from typing import Any

from ortools.sat.python import cp_model

from planner.solving.params import Effort, SolveParams
from planner.solving.stages import Term, minimise_in_turn
from planner.tubes.greedy import first_fit
from planner.tubes.sharing import Bin, SharingProblem, SharingResult, one_tube, smallest_bin

WORK_LIMIT = {Effort.QUICK: 1.0, Effort.NORMAL: 5.0, Effort.THOROUGH: 60.0}
"""Deterministic seconds for one stage, by effort."""


@dataclass(frozen=True, slots=True)
class TubeVars:
    """One possible tube: is it used, which size, what it takes, how many tests of each class it holds.

    ``holds`` maps a class to (number of its tests in the tube, whether there is any).
    """

    kind: int
    used: cp_model.IntVar
    sizes: tuple[cp_model.IntVar, ...]
    volume: Any
    holds: dict[int, tuple[cp_model.IntVar, cp_model.IntVar]]


class SharingModel:
    """Variables and constraints of one sharing problem, inside a larger model if need be.

    Volumes are in ``unit_ul`` microlitres, so that the numbers stay small. There are ``num_tubes[k]`` possible tubes
    of kind k; ``served`` says how many tests of each class are drawn (all of them, or an expression).
    """

    def __init__(
        self,
        model: cp_model.CpModel,
        problem: SharingProblem,
        num_tubes: Sequence[int],
        served: Sequence[Any],
        unit_ul: int,
        most_of_size: Sequence[Sequence[int]] | None = None,
    ) -> None:
        self.model = model
        self.problem = problem
        self.unit_ul = unit_ul
        self.tubes = [self._tube(kind) for kind in range(len(problem.kinds)) for _ in range(num_tubes[kind])]
        self._every_test_is_held(served)
        self._like_tubes_are_ordered()
        if most_of_size is not None:
            self._sizes_are_few(most_of_size)

    @property
    def num_used(self) -> Any:
        """Number of tubes."""
        return sum(tube.used for tube in self.tubes)

    @property
    def volume(self) -> Any:
        """Blood drawn, in units."""
        return sum(tube.volume for tube in self.tubes)

    @property
    def preference(self) -> Any:
        """Sum of the tests' preferences for the kinds they are in."""
        return sum(
            self.problem.classes[index].rank(tube.kind) * count
            for tube in self.tubes
            for index, (count, _) in tube.holds.items()
        )

    def _tube(self, kind: int) -> TubeVars:
        """Return one possible tube of a kind: one size if used, and room for what it holds."""
        model, problem = self.model, self.problem
        used = model.new_bool_var("used")
        sizes = tuple(model.new_bool_var("size") for _ in problem.kinds[kind].sizes)
        model.add(sum(sizes) == used)
        holds = {}
        for index, item in enumerate(problem.classes):
            if item.accepts(kind):
                count, any_ = model.new_int_var(0, item.count, "count"), model.new_bool_var("any")
                model.add(count <= item.count * any_)
                model.add(any_ <= count)
                model.add_implication(any_, used)
                holds[index] = (count, any_)
        drawn = sum(s * (ul // self.unit_ul) for s, ul in zip(sizes, problem.kinds[kind].sizes, strict=True))
        volume = self._room(kind, drawn, holds)
        return TubeVars(kind=kind, used=used, sizes=sizes, volume=volume, holds=holds)

    def _room(self, kind: int, drawn: Any, holds: dict[int, tuple[cp_model.IntVar, cp_model.IntVar]]) -> Any:
        """Demand that the tube holds additions and the largest extra (rule ``volume``); return what it takes."""
        model, classes = self.model, self.problem.classes
        added = sum(classes[i].add_ul // self.unit_ul * count for i, (count, _) in holds.items())
        for index, (_, any_) in holds.items():
            model.add(added + classes[index].extra_ul // self.unit_ul <= drawn).only_enforce_if(any_)
        if not self.problem.kinds[kind].to_need:
            return drawn
        largest = self.problem.kinds[kind].sizes[-1] // self.unit_ul
        filled = model.new_int_var(0, largest, "filled")
        for index, (_, any_) in holds.items():
            model.add(added + classes[index].extra_ul // self.unit_ul <= filled).only_enforce_if(any_)
        model.add(filled <= drawn)
        return filled

    def _every_test_is_held(self, served: Sequence[Any]) -> None:
        for index, number in enumerate(served):
            held = [tube.holds[index][0] for tube in self.tubes if index in tube.holds]
            self.model.add(sum(held) == number)

    def _like_tubes_are_ordered(self) -> None:
        """Among tubes of one kind the larger come first: equal sets in another order are not searched again."""
        for one, other in pairwise(self.tubes):
            if one.kind == other.kind:
                sizes = self.problem.kinds[one.kind].sizes
                drawn = [
                    sum(s * (ul // self.unit_ul) for s, ul in zip(t.sizes, sizes, strict=True)) for t in (one, other)
                ]
                self.model.add(drawn[0] >= drawn[1])

    def _sizes_are_few(self, most_of_size: Sequence[Sequence[int]]) -> None:
        """Leave out sets in which several tubes of one size could be one (see `most_of_each_size`)."""
        for kind, most in enumerate(most_of_size):
            tubes = [tube for tube in self.tubes if tube.kind == kind]
            for index, number in enumerate(most):
                self.model.add(sum(tube.sizes[index] for tube in tubes) <= number)

    def bins(self, value: Any) -> tuple[Bin, ...]:
        """Return the used tubes, each of the smallest size that holds what the solution put into it."""
        found = []
        for tube in self.tubes:
            counts = [0] * len(self.problem.classes)
            for index, (count, _) in tube.holds.items():
                counts[index] = value(count)
            if any(counts):
                smallest = smallest_bin(self.problem, tube.kind, tuple(counts))
                if smallest is None:
                    raise ValueError("the solver put more into a tube than it holds")
                found.append(smallest)
        return tuple(found)

    def hint(self, bins: Sequence[Bin]) -> None:
        """Tell the solver where to begin."""
        rest = sorted(bins, key=lambda b: (b.kind, -b.size_ul))
        for tube in self.tubes:
            known = next((b for b in rest if b.kind == tube.kind), None)
            if known is not None:
                rest.remove(known)
            self.model.add_hint(tube.used, known is not None)
            for size, ul in zip(tube.sizes, self.problem.kinds[tube.kind].sizes, strict=True):
                self.model.add_hint(size, known is not None and known.size_ul == ul)
            for index, (count, any_) in tube.holds.items():
                number = 0 if known is None else known.counts[index]
                self.model.add_hint(count, number)
                self.model.add_hint(any_, number > 0)

    @property
    def variables(self) -> list[cp_model.IntVar]:
        """The variables that decide everything else."""
        counts = [v for tube in self.tubes for pair in tube.holds.values() for v in pair]
        return counts + [v for tube in self.tubes for v in (tube.used, *tube.sizes)]


def unit_of(problem: SharingProblem) -> int:
    """Return the largest unit in microlitres of which every volume of the problem is a whole multiple."""
    volumes = [size for kind in problem.kinds for size in kind.sizes]
    volumes += [ul for item in problem.classes for ul in (item.min_ul, item.add_ul)]
    return gcd(*volumes)


def solve_sharing(problem: SharingProblem, params: SolveParams) -> SharingResult:
    """Return the fewest tubes, among these the least blood, among these the best preferences."""
    single = one_tube(problem)
    if single is not None:
        return single
    greedy = first_fit(problem)
    unit_ul = unit_of(problem)
    model = cp_model.CpModel()
    sharing = SharingModel(
        model, problem, [len(greedy)] * len(problem.kinds), [item.count for item in problem.classes], unit_ul
    )
    model.add(sharing.num_used >= 2)
    sharing.hint(greedy)
    largest = max(kind.sizes[-1] for kind in problem.kinds) // unit_ul
    worst = sum(item.count * max(r for r in item.ranks if r is not None) for item in problem.classes)
    model.add(sharing.num_used <= len(greedy))
    terms = (
        Term(expression=sharing.num_used, highest=len(greedy)),
        Term(expression=sharing.volume, highest=len(greedy) * largest),
        Term(expression=sharing.preference, highest=worst),
    )
    staged = minimise_in_turn(
        model, terms, params, deterministic_limit=WORK_LIMIT[params.effort], keep=sharing.variables
    )
    if staged.outcome is None:
        return SharingResult(bins=greedy, is_proven=False, hit_wall_guard=staged.hit_wall_guard)
    bins = sharing.bins(staged.outcome.value)
    return SharingResult(bins=bins, is_proven=staged.is_proven, hit_wall_guard=staged.hit_wall_guard)
