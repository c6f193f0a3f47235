"""Whatever stands in the rows: no exception, every order planned or set aside, findings without patients' names."""

from __future__ import annotations

import csv
import io
import tempfile
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.finding_codes import LOADING_CODES
from planner.loaders import LoadOptions, load

pytestmark = pytest.mark.slow

DAY = date(2026, 3, 4)
HEAD = [
    "order_number", "patient_number", "family_name", "birth_date", "ward", "bed", "weight_kg", "precautions", "away",
    "test", "priority", "collect_at", "collect_from", "collect_to", "fasting", "last_dose_at", "status", "performer",
]  # fmt: skip
_ODD = st.text(st.characters(codec="utf-8", exclude_characters="\r\n"), max_size=12)
_CELLS = {
    "order_number": st.sampled_from(["A1", "A2", "A3", "", "1E5", "1.2E+17"]),
    "patient_number": st.sampled_from(["1", "2", "01", ""]),
    "test": st.sampled_from(["CBC", "TSH", "ABG", "CBC;TSH", "FOO", "58410-2", ""]),
    "bed": st.sampled_from(["1", "2", "3", ""]),
    "family_name": st.sampled_from(["Qxzokafor", "Qxzbrandt", ""]),
    "birth_date": st.sampled_from(["1960-05-31", "31/05/1960", "01/02/1960", "60", ""]),
    "collect_at": st.sampled_from(["06:00", "24:00", "25:00", "04/03/2026", "2026-03-04 06:00", "46085", ""]),
    "status": st.sampled_from(["", "cancelled", "drawn", "?"]),
}
_ROWS = st.lists(
    st.fixed_dictionaries({name: st.one_of(_CELLS.get(name, st.just("")), st.just(""), _ODD) for name in HEAD}),
    min_size=1,
    max_size=12,
)


def read(data: bytes, name: str = "list.csv"):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(data)
        return load(path, LoadOptions(round_date=DAY))


@settings(max_examples=60, deadline=None)
@given(_ROWS)
def test_every_row_is_planned_or_set_aside(rows):
    out = io.StringIO()
    writer = csv.DictWriter(out, HEAD)
    writer.writeheader()
    writer.writerows(rows)
    loaded = read(out.getvalue().encode())
    problem = loaded.problem
    if problem is None:
        assert loaded.num_orders_read == 0
        return
    ids = [o.id for o in problem.orders] + [u.order_id for u in problem.set_aside]
    assert len(ids) == len(set(ids)) == loaded.num_orders_read
    complete = [r for r in rows if all(r[n].strip() for n in ("order_number", "patient_number", "test"))]
    assert loaded.num_orders_read >= len(complete)
    said = " ".join(map(str, loaded.findings)) + repr(problem.set_aside)
    assert "Qxz" not in said
    assert "1960" not in said


@settings(max_examples=100, deadline=None)
@given(st.binary(max_size=300), st.sampled_from(["list.csv", "list.xlsx", "list.xls", "list.txt"]))
def test_no_bytes_raise(data, name):
    loaded = read(data, name)
    assert loaded.problem is None or loaded.num_orders_read > 0


def test_every_loading_code_has_a_test():
    texts = "".join(p.read_text(encoding="utf-8") for p in Path(__file__).parents[1].rglob("test_*.py"))
    assert [code for code in LOADING_CODES if f'"{code}"' not in texts] == []
