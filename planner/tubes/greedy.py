"""First-fit tube set: a hint and an upper bound for the search, and what is left when a limit stops it."""

from __future__ import annotations

from planner.tubes.sharing import Bin, SharingProblem, best_bin


def first_fit(problem: SharingProblem) -> tuple[Bin, ...]:
    """Return a tube set: each test goes into the first tube that can still take it, fussy and large tests first."""
    order = sorted(
        range(len(problem.classes)),
        key=lambda i: (
            sum(problem.classes[i].accepts(k) for k in range(len(problem.kinds))),
            -problem.classes[i].min_ul,
            i,
        ),
    )
    tubes: list[Bin] = []
    for index in order:
        for _ in range(problem.classes[index].count):
            _place(problem, tubes, index)
    return tuple(tubes)


def _place(problem: SharingProblem, tubes: list[Bin], index: int) -> None:
    """Put one test of a class into the first tube that can still take it, or into a new one."""
    for at, tube in enumerate(tubes):
        grown = tuple(count + (i == index) for i, count in enumerate(tube.counts))
        better = best_bin(problem, grown)
        if better is not None:
            tubes[at] = better
            return
    alone = best_bin(problem, tuple(int(i == index) for i in range(len(problem.classes))))
    if alone is None:
        raise ValueError(f"test class {index} fits no tube; it must have tubes of its own")
    tubes.append(alone)
