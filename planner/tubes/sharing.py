"""The sharing problem, in bare numbers: which tests share which tube, and the cases that need no search.

Steps of the whole search: (1) tests of one share group and transport mode that accept a common kind form one
problem; problems are independent, because their tubes never mix. (2) Tests that the problem cannot tell apart
are counted, not named. (3) If one tube can hold all, one tube is the minimum, and the best single tube is found
by looking at every kind and size. (4) Otherwise CP-SAT, with the first-fit set as hint and upper bound.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, order=True)
class Kind:
    """A tube kind: allowed sizes in microlitres, ascending; ``to_need``: filled with what is needed, no more."""

    sizes: tuple[int, ...]
    to_need: bool = False


@dataclass(frozen=True, slots=True)
class ItemClass:
    """``count`` tests that are alike: for each kind the preference from 0 or None, least volume, volume added."""

    ranks: tuple[int | None, ...]
    min_ul: int
    add_ul: int
    count: int = 1

    @property
    def extra_ul(self) -> int:
        """What the first test of a tube needs above what it would add."""
        return self.min_ul - self.add_ul

    def accepts(self, kind: int) -> bool:
        """Return whether a tube of this kind (by index) may hold it."""
        return self.ranks[kind] is not None

    def rank(self, kind: int) -> int:
        """Return the preference for a kind that it accepts."""
        rank = self.ranks[kind]
        if rank is None:
            raise ValueError(f"kind {kind} is not accepted")
        return rank


@dataclass(frozen=True, slots=True)
class SharingProblem:
    """Kinds and classes of tests; hashable, so that equal problems are solved once."""

    kinds: tuple[Kind, ...]
    classes: tuple[ItemClass, ...]


@dataclass(frozen=True, slots=True)
class Bin:
    """One tube: kind by index, size, what it takes, and how many tests of each class it holds."""

    kind: int
    size_ul: int
    volume_ul: int
    counts: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class SharingResult:
    """The tubes, whether they are proven minimal, and whether the clock ended the search."""

    bins: tuple[Bin, ...]
    is_proven: bool
    hit_wall_guard: bool = False


def load_ul(problem: SharingProblem, counts: tuple[int, ...]) -> int:
    """Return what a tube with so many tests of each class needs (rule ``volume``): additions and largest extra."""
    held = [(item, count) for item, count in zip(problem.classes, counts, strict=True) if count]
    if not held:
        return 0
    return sum(item.add_ul * count for item, count in held) + max(item.extra_ul for item, _ in held)


def smallest_bin(problem: SharingProblem, kind: int, counts: tuple[int, ...]) -> Bin | None:
    """Return the least tube of a kind that holds these tests; None when none does."""
    for item, count in zip(problem.classes, counts, strict=True):
        if count and not item.accepts(kind):
            return None
    need_ul = load_ul(problem, counts)
    size_ul = next((size for size in problem.kinds[kind].sizes if size >= need_ul), None)
    if size_ul is None:
        return None
    volume_ul = need_ul if problem.kinds[kind].to_need else size_ul
    return Bin(kind=kind, size_ul=size_ul, volume_ul=volume_ul, counts=counts)


def preference(problem: SharingProblem, tube: Bin) -> int:
    """Return the sum of preferences of the tests in a tube."""
    return sum(count * item.rank(tube.kind) for item, count in zip(problem.classes, tube.counts, strict=True) if count)


def best_bin(problem: SharingProblem, counts: tuple[int, ...]) -> Bin | None:
    """Return the best single tube for these tests: least blood, then preference, then the first kind."""
    tubes = [smallest_bin(problem, kind, counts) for kind in range(len(problem.kinds))]
    found = [tube for tube in tubes if tube is not None]
    return min(found, key=lambda t: (t.volume_ul, preference(problem, t), t.kind), default=None)


def one_tube(problem: SharingProblem) -> SharingResult | None:
    """Return the proven minimum when one tube holds everything: fewer than one is impossible."""
    tube = best_bin(problem, tuple(item.count for item in problem.classes))
    return None if tube is None else SharingResult(bins=(tube,), is_proven=True)
