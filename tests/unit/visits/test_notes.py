"""Conditions in the notes of orders: shown on the card, and a decision where they speak against the plan."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from planner.cli.app import app
from planner.domain.catalogue import TestCode
from planner.domain.orders import NoteSays
from planner.loaders import load
from planner.loaders.values.notes import note_says
from planner.pipeline import PlannedRound, plan_round
from planner.solving.params import SolveParams

WARDS = ("Heron", "Kite (South)", "Rail", "Teal", "Wren/2")
HEAD = "order_number,patient_number,birth_date,ward,bed,test,collect_at,next_dose_at,note"
CODE = "note-contradicts"


@pytest.mark.parametrize(
    ("note", "test", "says"),
    [
        ("Nurse to take, thanks", "CBC", {NoteSays.OTHERS_DRAW}),
        ("please draw from line", "CBC", {NoteSays.OTHERS_DRAW}),
        ("HEPARIN INFUSION running", "APTT", {NoteSays.HEPARIN}),
        ("on heparin", "APTTH", set()),
        ("heparin infusion", "CBC", set()),
        ("no heparin infusion", "APTT", set()),
        ("not on heparin since Monday", "APTT", set()),
        ("do not draw", "CBC", {NoteSays.NOT_WANTED}),
        ("do not draw from left arm", "CBC", set()),
        ("Do not draw before 7", "CBC", {NoteSays.TIED}),
        ("already taken by nurse", "CBC", {NoteSays.NOT_WANTED, NoteSays.OTHERS_DRAW}),
        ("after dialysis", "POT", {NoteSays.TIED}),
        ("patient anxious, nurse informed", "CBC", set()),
        ("", "CBC", set()),
    ],
)  # fmt: skip
def test_condition_is_recognised_whole(note, test, says):
    assert note_says(note, TestCode(test)) == says


def round_of(tmp_path: Path, *cells: tuple[str, str, str, str]) -> Path:
    """Write a list with one order a ward, all in bed 3A: test, collect_at, next_dose_at, note."""
    rows = [
        f"A{n},P{n},1950-01-0{n + 1},{ward},3A,{','.join(texts)}"
        for n, (ward, texts) in enumerate(zip(WARDS, cells, strict=True))
    ]
    file = tmp_path / "list.csv"
    file.write_text("\n".join([HEAD, *rows]) + "\n", encoding="utf-8")
    return file


def planned(tmp_path: Path, *cells: tuple[str, str, str, str]) -> PlannedRound:
    return plan_round(load(round_of(tmp_path, *cells)).problem, SolveParams(effort="quick"))


def test_note_against_the_plan_needs_a_decision_and_names_ward_and_bed(tmp_path):
    outcome = planned(
        tmp_path,
        ("CBC", "", "", "nurse to take"),
        ("APTT", "", "", "heparin infusion"),
        ("CBC", "", "", "likes tea"),
        ("CBC", "", "", ""),
        ("CBC", "", "", "no longer needed"),
    )
    found = {f.order_ids: f.message for f in outcome.findings if f.code == CODE}
    assert set(found) == {("A0",), ("A1",), ("A4",)}
    assert "bed Heron 3A" in found["A0",]
    assert "Kite (South) 3A" in found["A1",]
    assert len([v for r in outcome.plan.routes for v in r.visits]) == 5, "a note alone takes no order away"


def test_stated_time_or_dose_settles_what_is_tied_to_one(tmp_path):
    outcome = planned(
        tmp_path,
        ("POT", "", "", "after dialysis"),
        ("POT", "06:30", "", "after dialysis"),
        ("VANCT", "", "07:30", "not before 6"),
        ("CBC", "", "", ""),
        ("CBC", "", "", ""),
    )
    assert [f.order_ids for f in outcome.findings if f.code == CODE] == [("A0",)]


def test_plan_with_such_a_note_exits_3_and_prints_note_and_decision(tmp_path):
    file = round_of(tmp_path, *[("CBC", "", "", "")] * 3, ("CBC", "", "", "Nurse to take (3A)"), ("CBC", "", "", ""))
    out = tmp_path / "out"
    result = CliRunner().invoke(
        app, ["plan", str(file), "--effort", "quick", "--date", "2026-03-10", "--out", str(out)]
    )
    assert result.exit_code == 3
    assert "order A3, bed Teal 3A: by a note" in " ".join(result.output.split())
    page = (out / "r1" / "round-sheet.html").read_text(encoding="utf-8")
    assert "note (CBC): Nurse to take (3A)" in page
    assert "A note speaks against the plan" in page
    assert CliRunner().invoke(app, ["check", str(out)]).exit_code == 0
