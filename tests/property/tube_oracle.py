"""All tube sets of a small visit by brute force, written from the rule book alone: nothing of the tube room is used.

`every_cost` lists the cost of every allowed way to draw some tests: each partition of the sharing tests into tubes,
each kind for each tube, each alternative for the tests that do not share.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

from planner.domain.catalogue import Catalogue, Handling, LabTest, SizeUse, TubeType

Cost = tuple[int, int, int]
"""Tubes, microlitres with the discard, sum of preference places."""


@dataclass(frozen=True)
class Bed:
    """What of the patient matters: child's sizes or not, winged set or not, the discard's volume."""

    is_child: bool
    is_winged: bool
    discard_ul: int


@dataclass(frozen=True)
class Filling:
    """Containers of one kind list with the tests in them."""

    kinds: tuple[TubeType, ...]
    volume_ul: int
    rank: int
    tests: tuple[LabTest, ...]


def sizes_for(kind: TubeType, bed: Bed) -> list[int]:
    """Adults get adult and small sizes, children every size but the open tubes for draws from the skin."""
    uses = {SizeUse.ADULT, SizeUse.SMALL, *([SizeUse.CHILD] if bed.is_child else [])}
    return sorted(s.draw_ul for s in kind.sizes if s.use in uses)


def may_share(catalogue: Catalogue, test: LabTest, bed: Bed) -> bool:
    """One container asked for, a share group, and some single tube that serves it alone."""
    return test.share_group is not None and test.containers == 1 and fits_alone(catalogue, test, bed)


def fits_alone(catalogue: Catalogue, test: LabTest, bed: Bed) -> bool:
    return bool(kinds_alone(catalogue, test, bed))


def kinds_alone(catalogue: Catalogue, test: LabTest, bed: Bed) -> dict[str, int]:
    """Kinds of which one tube serves the test, with their preference; the first of them where it takes its first."""
    fitting = {
        codes[0]: rank
        for rank, codes in reversed(list(enumerate(test.accepts)))
        if len(codes) == 1 and max(sizes_for(catalogue.tubes[codes[0]], bed), default=0) >= least_of(test, bed)
    }
    ordered = sorted(fitting.items(), key=lambda pair: pair[1])
    return dict(ordered[:1] if wants_first(test) else ordered)


def wants_first(test: LabTest) -> bool:
    """Transfusion tests take their first choice unless their row says no, others if it says yes."""
    return Handling.STRICT_LABEL in test.handling if test.first_choice is None else test.first_choice


def least_of(test: LabTest, bed: Bed) -> int:
    """A child's minimum stands for the test's own."""
    return test.min_volume_ul if test.child_min_volume_ul is None or not bed.is_child else test.child_min_volume_ul


def adds_of(test: LabTest, bed: Bed) -> int:
    """No test adds more than a child's minimum of it."""
    has_own = bed.is_child and test.child_min_volume_ul is not None
    return min(test.add_volume_ul, least_of(test, bed)) if has_own else test.add_volume_ul


def need_of(tests: Sequence[LabTest], bed: Bed) -> int:
    """max over t of (min_t + sum of add_u, u without t)."""
    return max(
        least_of(t, bed) + sum(adds_of(u, bed) for m, u in enumerate(tests) if m != n) for n, t in enumerate(tests)
    )


def shared_fillings(catalogue: Catalogue, tests: tuple[LabTest, ...], bed: Bed) -> list[Filling]:
    """Every kind that holds all of these tests in one tube."""
    found = []
    for code, kind in catalogue.tubes.items():
        ranks = [kinds_alone(catalogue, t, bed).get(code) for t in tests]
        room = [ul for ul in sizes_for(kind, bed) if ul >= need_of(tests, bed)]
        if None not in ranks and room:
            volume = need_of(tests, bed) if kind.filled_to_need else min(room)
            found.append(Filling((kind,), volume, sum(ranks), tests))
    return found


def own_fillings(catalogue: Catalogue, test: LabTest, bed: Bed) -> list[Filling]:
    """Every alternative for a test that does not share, each with as few containers of equal size as hold it."""
    found = []
    for rank, codes in enumerate(test.accepts):
        kinds = [catalogue.tubes[c] for c in codes]
        stated = test.containers // len(codes) if rank == 0 else 1
        part = -(-least_of(test, bed) // len(codes))
        filled: list[TubeType] = []
        volume = 0
        for kind in kinds:
            ways = [(n, ul) for n in range(max(1, stated), 60) for ul in sizes_for(kind, bed) if n * ul >= part]
            if not ways:
                break
            number, ul = min(ways)
            filled += [kind] * number
            volume += number * (-(-part // number) if kind.filled_to_need else ul)
        else:
            found.append(Filling(tuple(filled), volume, rank, (test,)))
    single = [f for f in found if len(f.kinds) == 1]
    possible = single if test.containers == 1 and single else found
    return possible[:1] if wants_first(test) else possible


def partitions(tests: tuple[LabTest, ...]) -> Iterator[list[tuple[LabTest, ...]]]:
    """Every way to put tests into tubes; only tests of one group and mode meet."""
    if not tests:
        yield []
        return
    first, rest = tests[0], tests[1:]
    for blocks in partitions(rest):
        yield [(first,), *blocks]
        for n, block in enumerate(blocks):
            if (block[0].share_group, block[0].mode) == (first.share_group, first.mode):
                yield [*blocks[:n], (first, *block), *blocks[n + 1 :]]


def has_discard(fillings: Sequence[Filling], bed: Bed) -> bool:
    """Asked for by a test in a citrate tube, or a winged set with nothing filled before the citrate."""
    citrate = [(k, f) for f in fillings for k in f.kinds if k.iso_code in ("9NC", "4NC")]
    if not citrate:
        return False
    if any(Handling.DISCARD_FIRST in t.handling for _, f in citrate for t in f.tests):
        return True
    first = min((k.rank, k.rank_within, k.code) for k, _ in citrate)
    return bed.is_winged and not any((k.rank, k.rank_within, k.code) < first for f in fillings for k in f.kinds)


def every_cost(catalogue: Catalogue, tests: Sequence[LabTest], bed: Bed) -> set[Cost]:
    """The cost of every allowed tube set for these tests."""
    shared = tuple(t for t in tests if may_share(catalogue, t, bed))
    own = [own_fillings(catalogue, t, bed) for t in tests if not may_share(catalogue, t, bed)]
    costs = set()
    for blocks in partitions(shared):
        ways = [shared_fillings(catalogue, block, bed) for block in blocks]
        for fillings in product(*ways, *own):
            tubes = sum(len(f.kinds) for f in fillings)
            volume = sum(f.volume_ul for f in fillings) + bed.discard_ul * has_discard(fillings, bed)
            costs.add((tubes, volume, sum(f.rank for f in fillings)))
    return costs
