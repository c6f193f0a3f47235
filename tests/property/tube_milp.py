"""The smallest tube set of a visit as a mixed-integer program for HiGHS: another formulation by another solver.

One binary for each (tube, test), where a tube is a (share group, mode, kind, size, copy); one for each alternative
of a test that does not share; one for the discard. Goals in turn: tubes, blood, preference.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_matrix

from planner.domain.catalogue import Catalogue, Handling, LabTest
from tests.property.tube_oracle import (
    Bed,
    Cost,
    adds_of,
    kinds_alone,
    least_of,
    may_share,
    own_fillings,
    sizes_for,
)

UNIT_UL = 250
"""Volumes are columns in this unit; the program may take any fraction of it."""


@dataclass
class Program:
    """Columns, rows and three objectives while they are collected."""

    integer: list[int] = field(default_factory=list)
    highest: list[float] = field(default_factory=list)
    objectives: list[dict[int, float]] = field(default_factory=lambda: [{}, {}, {}])
    rows: list[tuple[dict[int, float], float, float]] = field(default_factory=list)

    def column(self, highest: float = 1, *, is_integer: bool = True, cost: Sequence[float] = (0, 0, 0)) -> int:
        """Add a column from 0 to ``highest``; ``cost`` in tubes, blood, preference."""
        self.integer.append(int(is_integer))
        self.highest.append(highest)
        for objective, coefficient in zip(self.objectives, cost, strict=True):
            objective[len(self.integer) - 1] = coefficient
        return len(self.integer) - 1

    def row(self, terms: dict[int, float], low: float = -np.inf, high: float = np.inf) -> None:
        """Add a row."""
        self.rows.append((terms, low, high))

    def minimum(self) -> Cost:
        """Minimise the three objectives in turn."""
        values = []
        for objective in self.objectives:
            value = self._solve(objective)
            values.append(value)
            self.row(objective, high=value + 1e-6)
        return round(values[0]), round(values[1] * UNIT_UL), round(values[2])

    def _solve(self, objective: dict[int, float]) -> float:
        data = [(r, c, v) for r, (terms, _, _) in enumerate(self.rows) for c, v in terms.items()]
        rows, columns, values = zip(*data, strict=True)
        matrix = csr_matrix((values, (rows, columns)), shape=(len(self.rows), len(self.integer)))
        cost = np.zeros(len(self.integer))
        for column, coefficient in objective.items():
            cost[column] = coefficient
        result = milp(
            cost,
            constraints=LinearConstraint(matrix, [r[1] for r in self.rows], [r[2] for r in self.rows]),
            integrality=self.integer,
            bounds=Bounds(0, self.highest),
            options={"mip_rel_gap": 0.0},
        )
        assert result.status == 0, result.message
        return float(result.fun)


def smallest(catalogue: Catalogue, tests: Sequence[LabTest], bed: Bed, most_tubes: int) -> Cost:
    """Return the least cost over all tube sets of at most ``most_tubes`` tubes."""
    program = Program()
    discard = program.column(cost=(0, bed.discard_ul / UNIT_UL, 0))
    citrate: list[tuple[int, bool]] = []
    early: list[int] = []
    for test in tests:
        if not may_share(catalogue, test, bed):
            _add_own(program, catalogue, test, bed, citrate, early)
    groups = {(t.share_group, t.mode) for t in tests if may_share(catalogue, t, bed)}
    # Every other group takes a tube at least, so that one group cannot have more than what is left.
    own = [own_fillings(catalogue, t, bed) for t in tests if not may_share(catalogue, t, bed)]
    copies = most_tubes - (len(groups) - 1) - sum(min(len(f.kinds) for f in ways) for ways in own)
    for group in sorted(groups, key=str):
        members = [t for t in tests if may_share(catalogue, t, bed) and (t.share_group, t.mode) == group]
        _add_group(program, catalogue, members, bed, copies, citrate, early)
    for column, is_asked in citrate:
        clearing = {} if is_asked else dict.fromkeys(early, 1.0)
        if is_asked or bed.is_winged:
            program.row({discard: 1.0, column: -1.0, **clearing}, low=0)
    return program.minimum()


def _add_own(program: Program, catalogue: Catalogue, test: LabTest, bed: Bed, citrate: list, early: list) -> None:
    columns = {}
    for filling in own_fillings(catalogue, test, bed):
        column = program.column(cost=(len(filling.kinds), filling.volume_ul / UNIT_UL, filling.rank))
        columns[column] = 1.0
        for kind in set(filling.kinds):
            _note(catalogue, kind.code, column, test, citrate, early)
    program.row(columns, low=1, high=1)


def _add_group(
    program: Program,
    catalogue: Catalogue,
    members: Sequence[LabTest],
    bed: Bed,
    copies: int,
    citrate: list,
    early: list,
) -> None:
    held: list[dict[int, float]] = [{} for _ in members]
    for code, kind in catalogue.tubes.items():
        accepting = [(n, t) for n, t in enumerate(members) if code in kinds_alone(catalogue, t, bed)]
        for size_ul in sizes_for(kind, bed) if accepting else ():
            previous = None
            for _ in range(min(copies, len(accepting))):
                fixed = 0.0 if kind.filled_to_need else size_ul / UNIT_UL
                used = program.column(cost=(1, fixed, 0))
                blood = (0, 1, 0) if kind.filled_to_need else (0, 0, 0)
                load = program.column(size_ul / UNIT_UL, is_integer=False, cost=blood)
                program.row({load: 1.0, used: -size_ul / UNIT_UL}, high=0)
                if previous is not None:
                    program.row({previous: 1.0, used: -1.0}, low=0)
                previous = used
                columns = []
                for n, test in accepting:
                    column = program.column(cost=(0, 0, test.accepts.index((code,))))
                    program.row({column: 1.0, used: -1.0}, high=0)
                    held[n][column] = 1.0
                    columns.append((column, test))
                    _note(catalogue, code, column, test, citrate, early)
                added = {column: -adds_of(test, bed) / UNIT_UL for column, test in columns}
                for column, test in columns:
                    need = dict(added)
                    need[column] = -least_of(test, bed) / UNIT_UL
                    others = sum(adds_of(t, bed) for _, t in columns) / UNIT_UL
                    # Where no test adds more than it needs alone the row holds for an absent test as well.
                    is_odd = any(least_of(t, bed) < adds_of(t, bed) for _, t in columns)
                    program.row(
                        {load: 1.0, column: need[column] - (others if is_odd else 0.0)}
                        | {c: v for c, v in need.items() if c != column},
                        low=-others if is_odd else 0.0,
                    )
    for columns_of_test in held:
        program.row(columns_of_test, low=1, high=1)


def _note(catalogue: Catalogue, code: str, column: int, test: LabTest, citrate: list, early: list) -> None:
    """Remember columns that put a test into a citrate tube, or into one that is filled before citrate."""
    kind = catalogue.tubes[code]
    ranks = [k.rank for k in catalogue.tubes.values() if k.iso_code in ("9NC", "4NC")]
    if kind.iso_code in ("9NC", "4NC"):
        citrate.append((column, Handling.DISCARD_FIRST in test.handling))
    elif kind.code != "DIS" and ranks and kind.rank < min(ranks):
        early.append(column)
