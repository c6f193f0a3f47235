"""Answers that a page saved: kept with the report of their visit, on five wards with equal bed numbers."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.domain.draws import Asked
from planner.domain.revisions.reported import Reported
from planner.findings import Finding, Severity
from planner.loaders.during.progress import read_progress
from tests.builders import clock
from tests.replan_builders import five_wards
from tests.unit.loaders.during.test_progress import NOW_S, codes

HEAD = "format,kind,bed,patient_number,order_number,outcome,time,asked,answer"
DRAWN = "2,tube,1A,P2,O2,collected,05:11:00,,"


def read(folder: Path, *rows: str) -> tuple[tuple[Reported, ...], tuple[Finding, ...]]:
    file = folder / "done.csv"
    file.write_text("\n".join([HEAD, *rows]) + "\n", encoding="utf-8")
    return read_progress(file, *five_wards(), NOW_S)


@pytest.mark.parametrize(
    ("asked", "text", "at_s"),
    [
        ("last-dose", "04:30", clock("04:30")),
        ("drink-given", "05:02:30", clock("05:02") + 30),
        ("last-meal", "22:00", clock("22:00") - 24 * 3600),  # the evening before: nearest to now
        ("last-meal", "cannot say", None),
        ("drawn-before", "12", None),  # millilitres, and no clock time
    ],
)
def test_answer_is_kept_with_the_report_of_its_order(tmp_path: Path, asked: str, text: str, at_s: int | None) -> None:
    reports, findings = read(tmp_path, DRAWN, f"2,answer,1A,P2,O2,,,{asked},{text}")
    assert codes(findings) == []
    (reported,) = reports
    (answer,) = reported.answers
    assert (answer.asked, answer.order_ids, answer.text, answer.at_s) == (Asked(asked), ("O2",), text, at_s)


def test_answer_is_not_kept_with_the_same_bed_of_another_ward(tmp_path: Path) -> None:
    other = "2,tube,1A,P3,O3,collected,05:12:00,,"
    reports, findings = read(tmp_path, DRAWN, other, "2,answer,1A,P3,O3,,,last-dose,04:30")
    assert codes(findings) == []
    assert {r.order_ids: len(r.answers) for r in reports} == {("O2",): 0, ("O3",): 1}


def test_dose_of_an_order_that_nobody_reports_says_how_to_plan_with_it(tmp_path: Path) -> None:
    _, findings = read(tmp_path, DRAWN, "2,answer,1A,P3,O3,,,next-dose,07:40")
    (found,) = (f for f in findings if f.code == "answer-not-planned")
    assert (found.code, found.severity, found.order_ids) == ("answer-not-planned", Severity.NOTE, ("O3",))
    assert "--dose O3=07:40" in found.message


@pytest.mark.parametrize(("asked", "order"), [("shoe-size", "O2"), ("last-dose", "O99"), ("last-dose", "")])
def test_answer_to_nothing_is_found_and_the_reports_count(tmp_path: Path, asked: str, order: str) -> None:
    reports, findings = read(tmp_path, DRAWN, f"2,answer,1A,P2,{order},,,{asked},04:30")
    assert codes(findings) == ["answer-unclear"]
    assert [r.order_ids for r in reports] == [("O2",)]
