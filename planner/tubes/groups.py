"""From named demands to sharing problems in bare numbers, and back."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass

from planner.domain.catalogue import Catalogue, TubeCode
from planner.tubes.demands import Demand
from planner.tubes.kinds import Uses, allowed_sizes
from planner.tubes.options import Container
from planner.tubes.sharing import Bin, ItemClass, Kind, SharingProblem, preference


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """A container and the demands in it; ``preference`` is their sum of places in the preference order."""

    container: Container
    demands: tuple[Demand, ...]
    preference: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Demands that may share tubes with one another and with no other demand.

    ``codes`` names the kinds of the problem, ``members`` the demands of each of its classes, in fixed order.
    """

    problem: SharingProblem
    codes: tuple[TubeCode, ...]
    members: tuple[tuple[Demand, ...], ...]

    def named(self, bins: Sequence[Bin], left_out: Sequence[int] = ()) -> tuple[Filled, ...]:
        """Return the tubes with names: the members of each class go into the tubes in fixed order.

        ``left_out`` says how many of the last members of each class are in no tube.
        """
        waiting = [list(members) for members in self.members]
        for members, number in zip(waiting, left_out, strict=False):
            del members[len(members) - number :]
        ordered = sorted(bins, key=lambda b: (b.kind, -b.size_ul, [-count for count in b.counts]))
        filled = [self._filled(tube, waiting) for tube in ordered]
        if any(waiting):
            raise ValueError("a demand is in no tube")
        return tuple(filled)

    def _filled(self, tube: Bin, waiting: list[list[Demand]]) -> Filled:
        held = [members.pop(0) for members, number in zip(waiting, tube.counts, strict=True) for _ in range(number)]
        return Filled(
            container=Container(kind=self.codes[tube.kind], size_ul=tube.size_ul, volume_ul=tube.volume_ul),
            demands=tuple(sorted(held, key=lambda d: d.key)),
            preference=preference(self.problem, tube),
        )


def groups_of(
    catalogue: Catalogue,
    demands: Iterable[Demand],
    uses: Uses,
    *,
    told_apart_by: Callable[[Demand], Hashable] = lambda demand: None,
) -> tuple[Group, ...]:
    """Return the independent sharing problems of the demands that share (rule ``share-group``).

    ``told_apart_by`` splits classes further, for demands that are alike in tubes but not otherwise.
    """
    by_rule: dict[tuple[str, str], list[Demand]] = defaultdict(list)
    for demand in demands:
        if demand.kinds:
            by_rule[str(demand.test.share_group), demand.test.mode.value].append(demand)
    return tuple(
        _group(catalogue, part, uses, told_apart_by) for key in sorted(by_rule) for part in _connected(by_rule[key])
    )


def _connected(demands: Sequence[Demand]) -> list[list[Demand]]:
    """Return the demands in parts that have no kind in common: their tubes never mix."""
    parts: list[tuple[set[TubeCode], list[Demand]]] = []
    for demand in demands:
        kinds, held = {code for code, _ in demand.kinds}, [demand]
        apart = []
        for other_kinds, other_held in parts:
            if kinds & other_kinds:
                kinds, held = kinds | other_kinds, other_held + held
            else:
                apart.append((other_kinds, other_held))
        parts = [*apart, (kinds, held)]
    return [sorted(held, key=lambda d: d.key) for _, held in parts]


def _group(
    catalogue: Catalogue,
    demands: Sequence[Demand],
    uses: Uses,
    told_apart_by: Callable[[Demand], Hashable],
) -> Group:
    codes = tuple(sorted({code for demand in demands for code, _ in demand.kinds}))
    classes: dict[tuple[tuple[int | None, ...], int, int, str], list[Demand]] = defaultdict(list)
    for demand in demands:
        ranks = dict(demand.kinds)
        alike = (
            tuple(ranks.get(code) for code in codes),
            demand.need_ul,
            demand.add_ul,
            repr(told_apart_by(demand)),
        )
        classes[alike].append(demand)
    keys = sorted(classes, key=lambda key: ([-1 if r is None else r for r in key[0]], *key[1:]))
    kinds = tuple(
        Kind(sizes=allowed_sizes(catalogue.tubes[code], uses), to_need=catalogue.tubes[code].filled_to_need)
        for code in codes
    )
    problem = SharingProblem(
        kinds=kinds,
        classes=tuple(ItemClass(ranks=key[0], min_ul=key[1], add_ul=key[2], count=len(classes[key])) for key in keys),
    )
    return Group(problem=problem, codes=codes, members=tuple(tuple(classes[key]) for key in keys))
