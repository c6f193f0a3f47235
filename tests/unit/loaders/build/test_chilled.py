"""Uric acid under rasburicase: the enzyme goes on in the tube unless that is chilled (product labelling, from memory).

Five wards with equal bed numbers.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.findings import Finding, to_decide
from planner.loaders import LoadOptions, load
from tests.builders import DAY
from tests.three_wards import five_ward_tables, write_tables


def chilled(folder: Path, test: str, **cells: str) -> list[Finding]:
    tables = five_ward_tables()
    tables["orders"][-1] |= {"test": test, "note": cells.pop("note", "")}
    tables["patients"][-1] |= cells
    loaded = load(write_tables(tables, folder), LoadOptions(round_date=DAY))
    return [f for f in to_decide(loaded.findings) if f.code == "chilled-by-alert"]


@pytest.mark.parametrize("cells", [{"alerts": "Rasburicase since Monday"}, {"note": "on pegloticase"}])
def test_uric_acid_under_rasburicase_is_a_decision(tmp_path: Path, cells: dict[str, str]) -> None:
    (finding,) = chilled(tmp_path / "five", "URATE", **cells)
    assert "bed Tern 3A" in finding.message and "tube of its own" in finding.message
    assert finding.order_ids == ("T0502-1",)


def test_other_tests_and_other_patients_are_not_concerned(tmp_path: Path) -> None:
    assert chilled(tmp_path / "other", "CBC", alerts="rasburicase") == []
    assert chilled(tmp_path / "none", "URATE") == []


def test_denied_word_is_no_decision_and_is_asked_on_the_card(tmp_path: Path) -> None:
    assert chilled(tmp_path / "denied", "URATE", alerts="never had rasburicase") == []
    assert len(chilled(tmp_path / "said", "URATE", alerts="never had rasburicase; rasburicase today")) == 1
