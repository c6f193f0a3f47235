"""The flat table of specimens: one row a tube that reaches the laboratory, safe to open in a spreadsheet."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pandas as pd
import pytest

from planner.domain.orders import PatientId
from planner.domain.plan import Visit
from planner.exporters.specimens import COLUMNS, specimens_csv
from planner.pipeline import plan_round
from planner.solving.params import SolveParams
from tests.builders import make_order, make_patient, make_problem

pytestmark = pytest.mark.slow


def rows(data: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"), newline="")))


def test_every_tube_but_the_discard_has_a_row() -> None:
    problem = make_problem()
    plan = plan_round(problem, SolveParams(effort="quick")).plan
    tubes = [t for r in plan.routes for s in r.stops if isinstance(s, Visit) for t in s.tubes if t.handover is not None]
    table = rows(specimens_csv(problem, plan))
    assert len(table) == len(tubes) > 0
    assert tuple(table[0]) == COLUMNS
    assert [r["draw_at"] for r in table] == sorted(r["draw_at"] for r in table)


def test_a_table_library_reads_the_same_rows() -> None:
    # pandas is the reader of a stranger's script: no row, column or leading zero may be lost on the way.
    problem = make_problem()
    data = specimens_csv(problem, plan_round(problem, SolveParams(effort="quick")).plan)
    table = pd.read_csv(io.BytesIO(data), dtype=str, keep_default_na=False, encoding="utf-8-sig")
    assert table.to_dict("records") == rows(data)


def test_text_that_looks_like_a_formula_stays_text() -> None:
    patient = make_patient("=1+1")
    problem = make_problem(patients=[patient], orders=[replace(make_order("1"), patient_id=PatientId("=1+1"))])
    plan = plan_round(problem, SolveParams(effort="quick")).plan
    assert {r["patient_number"] for r in rows(specimens_csv(problem, plan))} == {"'=1+1"}


def test_no_name_is_in_the_table() -> None:
    problem = make_problem()
    plan = plan_round(problem, SolveParams(effort="quick")).plan
    text = specimens_csv(problem, plan).decode("utf-8-sig")
    names = [n for p in problem.patients.values() for n in (p.family_name, p.given_name) if n]
    assert names
    assert not [n for n in names if n in text]
