"""Rows about single tubes that a sheet of an earlier revision saved, on five wards with equal bed numbers."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from planner.domain.plan import Plan
from planner.domain.problem import Problem
from planner.domain.revisions.replan import Replan
from planner.domain.revisions.reported import Reported
from planner.findings import Finding
from planner.loaders.during.progress import read_progress
from tests.replan_builders import five_wards
from tests.unit.loaders.during.test_progress import HEAD_2, NOW_S, codes


def read(folder: Path, *rows: str, of: tuple[Problem, Plan]) -> tuple[tuple[Reported, ...], tuple[Finding, ...]]:
    file = folder / "done.csv"
    file.write_text("\n".join([HEAD_2, *rows]) + "\n", encoding="utf-8")
    return read_progress(file, *of, NOW_S)


def second_revision() -> tuple[Problem, Plan]:
    problem, plan = five_wards()
    return replace(problem, replan=Replan(parent=1, now_s=NOW_S, past=())), plan


@pytest.mark.parametrize(("revision", "tubes"), [("1", None), ("2", (1,)), ("", (1,))])
def test_order_of_two_tubes_is_partly_drawn_whichever_sheet_said_it(
    tmp_path: Path, revision: str, tubes: tuple[int, ...] | None
) -> None:
    """Its positions count for the newest sheet only; what came of the order counts in any case."""
    of = second_revision()
    number = next(iter(of[0].patients))
    rows = [
        f"2,{revision},tube,1A,{number},O{number[1:]},{tube},{outcome},,05:12:00,,,,"
        for tube, outcome in ((1, "collected"), (2, "partial"))
    ]
    reports, findings = read(tmp_path, *rows, of=of)
    assert [(r.order_ids, r.outcome.value, r.tubes) for r in reports] == [((f"O{number[1:]}",), "partial", tubes)]
    assert codes(findings) == []
