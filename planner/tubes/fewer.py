"""How many tubes of one size a best tube set can have: more of them could be merged into one."""

from __future__ import annotations

from collections.abc import Sequence

from planner.tubes.sharing import Kind, SharingProblem


def most_of_each_size(problem: SharingProblem, most_ul: int) -> list[list[int]]:
    """Return, for each kind, how many tubes of each of its sizes some best set within ``most_ul`` has at most.

    Why it holds: k tubes of size s hold at most k s. In one tube their tests need at least (k - 1) e less, where e
    is the smallest extra of a test (its least volume less what it adds), because only one test still needs its
    extra. So if some size lies from k s - (k - 1) e to k s, one tube of that size takes no more blood, and the set
    has k - 1 tubes fewer. Example: sizes 0.5, 1.1, 3.5 mL, e = 0.4: three of 0.5 hold 1.5 and need 0.7 in one
    tube, so 1.1 does and two is the most; four of 1.1 need 3.2, so 3.5 does and three is the most.
    """
    return [[_most(problem, index, size, most_ul) for size in kind.sizes] for index, kind in enumerate(problem.kinds)]


def most_of_each_kind(problem: SharingProblem, most: Sequence[Sequence[int]]) -> list[int]:
    """Return how many tubes of each kind are enough: never more than there are tests."""
    num_tests = sum(item.count for item in problem.classes)
    return [min(num_tests, sum(of_sizes)) for of_sizes in most]


def _most(problem: SharingProblem, index: int, size_ul: int, most_ul: int) -> int:
    accepted = [item for item in problem.classes if item.accepts(index)]
    num_tests = sum(item.count for item in accepted)
    extra_ul = min((item.extra_ul for item in accepted), default=0)
    kind = problem.kinds[index]
    if kind.to_need:
        return num_tests
    most = min(num_tests, max(1, most_ul // size_ul))
    if extra_ul < 0:
        return most
    return next((k - 1 for k in range(2, most + 1) if _can_merge(kind, size_ul, k, extra_ul)), most)


def _can_merge(kind: Kind, size_ul: int, number: int, extra_ul: int) -> bool:
    held_ul = number * size_ul
    return any(held_ul - (number - 1) * extra_ul <= size <= held_ul for size in kind.sizes)
