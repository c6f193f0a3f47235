"""Containers of a test's own, never shared: every way to fill what it asks for (rule ``volume``)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from planner.domain.catalogue import Catalogue, LabTest, TubeCode
from planner.tubes.kinds import Uses, allowed_sizes


@dataclass(frozen=True, slots=True, kw_only=True)
class Container:
    """One container: its kind, its size, and what it takes from the patient, in microlitres."""

    kind: TubeCode
    size_ul: int
    volume_ul: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """All containers of one alternative; ``rank`` is its place in the preference order, from 0."""

    containers: tuple[Container, ...]
    rank: int

    @property
    def volume_ul(self) -> int:
        """Blood that it takes."""
        return sum(container.volume_ul for container in self.containers)

    @property
    def cost(self) -> tuple[int, int, int]:
        """Containers, blood, preference: compared in this order."""
        return len(self.containers), self.volume_ul, self.rank


def own_options(catalogue: Catalogue, test: LabTest, need_ul: int, uses: Uses) -> tuple[Option, ...]:
    """Return one option for each alternative that can be filled, in preference order.

    Each has the containers that the test states (for its first alternative), or as few as hold the need, all of
    one kind of equal size, the smallest that does. Where a single tube serves a test that states no number,
    alternatives of several tubes are left out.
    Example: 5.4 mL in two stated citrate tubes of 1.8 or 2.7 mL: 2 x 2.7. A child's 3 mL culture: 1.5 + 1.5 in an
    aerobic and an anaerobic bottle, or 3 in one paediatric bottle.
    """
    options = []
    for rank, accepted in enumerate(test.accepts):
        stated = max(1, test.containers // len(accepted)) if rank == 0 else 1
        containers = tuple(_filled(catalogue, accepted, need_ul, stated, uses))
        if containers:
            options.append(Option(containers=containers, rank=rank))
    if test.containers == 1 and any(len(option.containers) == 1 for option in options):
        return tuple(option for option in options if len(option.containers) == 1)
    return tuple(options)


def _filled(
    catalogue: Catalogue, accepted: tuple[TubeCode, ...], need_ul: int, stated: int, uses: Uses
) -> Iterator[Container]:
    """Yield the containers of one alternative, filled evenly (rounded up); none where the patient may have no size."""
    kinds = [catalogue.tubes[code] for code in accepted]
    sizes = [allowed_sizes(kind, uses) for kind in kinds]
    if not all(sizes):
        return
    share_ul = -(-need_ul // len(kinds))
    for kind, allowed in zip(kinds, sizes, strict=True):
        count = max(stated, -(-share_ul // allowed[-1]))
        part_ul = -(-share_ul // count)
        size_ul = next(size for size in allowed if size >= part_ul)
        for _ in range(count):
            yield Container(kind=kind.code, size_ul=size_ul, volume_ul=part_ul if kind.filled_to_need else size_ul)
