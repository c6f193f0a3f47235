"""The best ways to draw one sharing group: more waiting orders, or more tubes, against less blood."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

from ortools.sat.python import cp_model

from planner.solving.params import SolveParams
from planner.solving.stages import StagedOutcome, Term, minimise_in_turn
from planner.tubes.demands import Demand
from planner.tubes.fewer import most_of_each_kind, most_of_each_size
from planner.tubes.greedy import first_fit
from planner.tubes.groups import Group
from planner.tubes.model import WORK_LIMIT, SharingModel, unit_of
from planner.tubes.sharing import best_bin, one_tube
from planner.tubes.ways import First, Way, way_of


@dataclass(slots=True)
class Proof:
    """Whether every search so far was proven, and whether the clock ended one."""

    is_proven: bool = True
    hit_wall_guard: bool = False

    def note(self, outcome: StagedOutcome) -> None:
        """Take note of one search."""
        self.is_proven = self.is_proven and outcome.is_proven
        self.hit_wall_guard = self.hit_wall_guard or outcome.hit_wall_guard


class Frontier:
    """The ways to draw one part that no other beats, found only as far as they are asked for.

    With ``kept`` a set of demand keys, those may not wait and the others may: ways go by the weight that waits,
    and the last is that all others wait. With None nothing waits and ways go by the number of tubes.
    Steps: find the least weight (tubes), and with it the least blood; demand less blood than that; again, until
    nothing is left to find.
    """

    def __init__(self, ways: Sequence[Way], more: Iterator[Way], first: First) -> None:
        self._found = list(ways)
        self._more = more
        self._first = first

    def least(self) -> int | None:
        """Return the least weight (tubes); None when the part cannot be drawn within the limit."""
        ways = self.up_to(0)
        return self._first(ways[0]) if ways else None

    def up_to(self, excess: int) -> list[Way]:
        """Return the ways whose weight (tubes) is at most so much above the least."""
        while not self._found or self._first(self._found[-1]) <= self._first(self._found[0]) + excess:
            way = next(self._more, None)
            if way is None:
                break
            self._found.append(way)
        if not self._found:
            return []
        return [way for way in self._found if self._first(way) <= self._first(self._found[0]) + excess]


def group_ways(
    group: Group, most_ul: int, params: SolveParams, proof: Proof, *, kept: Collection[tuple[str, int]] | None
) -> Iterator[Way]:
    """Yield the unbeaten ways to draw a group with at most ``most_ul``, as `Frontier` says."""
    members = [demand for demands in group.members for demand in demands]
    all_may_wait = kept is not None and not any(demand.key in kept for demand in members)
    if len(members) == 1:
        yield from _ways_of_single(group, most_ul)
    else:
        limit_ul = most_ul
        single = one_tube(group.problem)
        if single is not None and single.bins[0].volume_ul <= most_ul:
            # Nothing waits in it and there is no fewer: the first way, or no worse than the first in blood.
            limit_ul = single.bins[0].volume_ul
            if kept is None:
                yield way_of(group.named(single.bins))
                limit_ul -= 1
        elif kept is not None:
            limit_ul = min(most_ul, sum(tube.volume_ul for tube in first_fit(group.problem)))
        while (way := _search(group, limit_ul, params, proof, kept)) is not None:
            yield way
            limit_ul = way.volume_ul - 1
    if all_may_wait:
        yield way_of((), members)


def _ways_of_single(group: Group, most_ul: int) -> list[Way]:
    """Return the one best tube for a single demand, if it is within the limit."""
    tube = best_bin(group.problem, (1,))
    if tube is None or tube.volume_ul > most_ul:
        return []
    return [way_of(group.named([tube]))]


def _search(
    group: Group, limit_ul: int, params: SolveParams, proof: Proof, kept: Collection[tuple[str, int]] | None
) -> Way | None:
    """Return the best way with at most ``limit_ul``: weight (or tubes), then blood, then preference."""
    problem, unit_ul = group.problem, unit_of(group.problem)
    if limit_ul < unit_ul:
        return None
    model = cp_model.CpModel()
    late = [
        model.new_int_var(0, 0 if kept is None or members[0].key in kept else len(members), "late")
        for members in group.members
    ]
    most = most_of_each_size(problem, limit_ul)
    served = [item.count - waiting for item, waiting in zip(problem.classes, late, strict=True)]
    tubes = SharingModel(model, problem, most_of_each_kind(problem, most), served, unit_ul, most)
    model.add(tubes.volume <= limit_ul // unit_ul)
    weights = [members[0].weight for members in group.members]
    if kept is None:
        first = Term(expression=tubes.num_used, highest=len(tubes.tubes))
    else:
        waiting = sum(weight * number for weight, number in zip(weights, late, strict=True))
        highest = sum(weight * len(members) for weight, members in zip(weights, group.members, strict=True))
        first = Term(expression=waiting, highest=highest)
    ranks = sum(item.count * max(r or 0 for r in item.ranks) for item in problem.classes)
    terms = [
        first,
        Term(expression=tubes.volume, highest=limit_ul // unit_ul),
        Term(expression=tubes.preference, highest=ranks),
    ]
    staged = minimise_in_turn(
        model, terms, params, deterministic_limit=WORK_LIMIT[params.effort], keep=[*late, *tubes.variables]
    )
    proof.note(staged)
    if staged.outcome is None:
        return None
    numbers = [staged.outcome.value(variable) for variable in late]
    waits: list[Demand] = []
    for members, number in zip(group.members, numbers, strict=True):
        waits += members[len(members) - number :]
    return way_of(group.named(tubes.bins(staged.outcome.value), numbers), waits)
