"""Published sequential ordering instances (SOP: a shortest path under precedences), solved by the scheduler.

Run: python tests/benchmark/sop.py FOLDER [part of a file's name ...]; FOLDER holds the files in TSPLIB format. Each
instance has 20 s on two cores, as in `tsptw`, and its objective `travel`.

What stands for what. The first node is the base, the last the pickup, every other a bed without a window. A
precedence is a gap of a series: the second visit starts at least a second after the first. An entry below zero in
row j and column i says that i comes before j; precedences with the first or the last node hold by themselves.

Values published: TSPLIB 95 (Reinelt 1991) as kept up to date by its users, written here from memory.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from dataclasses import replace

from planner.scheduling.timing.instance import GapData, PickupData
from tests.benchmark.tsptw import Published, show, solve, to_instance

DAY_S = 10_000_000
"""No window closes before any order of the stops is walked."""

BEST = {"ESC07": 2125, "ESC12": 1675, "ESC25": 1681, "br17.10": 55, "p43.1": 28140, "ry48p.1": 15805}


def read(path: Path) -> list[list[int]]:
    """Return the matrix of a file."""
    words = path.read_text().split("EDGE_WEIGHT_SECTION")[1].split()
    size = int(words[0])
    numbers = [int(word) for word in words[1 : 1 + size * size]]
    return [numbers[i * size : (i + 1) * size] for i in range(size)]


def to_published(path: Path) -> Published:
    """Return the round that an instance stands for (see the module's text)."""
    matrix = read(path)
    last = len(matrix) - 1
    plain = to_instance([[float(max(0, x)) for x in row] for row in matrix], [(0.0, float(DAY_S))] * len(matrix), 1)
    gaps = tuple(
        GapData(first=i - 1, second=j - 1, least_s=1, most_s=DAY_S)
        for j in range(1, last)
        for i in range(1, last)
        if matrix[j][i] < 0
    )
    pickup = PickupData(node=last, takes_hand=True, departures_s=(), transit_s=0)
    best = BEST.get(path.stem)
    return Published(
        name=path.stem,
        instance=replace(plain, visits=plain.visits[:-1], pickups=(pickup,), gaps=gaps),
        scale=1,
        best={"travel": best},
        lower={"travel": best},
    )


def main() -> None:
    """Print a table: published, ours, bound, seconds; and how many were reached and proven."""
    folder, parts = Path(sys.argv[1]), sys.argv[2:]
    paths = sorted(p for p in folder.glob("*.sop") if not parts or any(part in p.name for part in parts))
    show([to_published(path) for path in paths], "travel", solve)


if __name__ == "__main__":
    main()
