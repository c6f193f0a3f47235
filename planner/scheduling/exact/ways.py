"""Shortest times over stops that may lie between."""

from __future__ import annotations

from collections.abc import Iterable, Sequence


def shortest_over(direct_s: Sequence[Sequence[int]], between: Iterable[int]) -> list[list[int]]:
    """Return the shortest times from each to each, straight or over some of the others (Floyd and Warshall).

    Parameters
    ----------
    direct_s
        Seconds of the direct way, square.
    between
        Indices of those over which a way may lead; a way over others is not looked at.
    """
    least = [[*row] for row in direct_s]
    for c in between:
        row = least[c]
        for a in range(len(least)):
            to_c = least[a][c]
            least[a] = [old if old <= to_c + more else to_c + more for old, more in zip(least[a], row, strict=True)]
    return least
