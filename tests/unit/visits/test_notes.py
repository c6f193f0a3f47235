"""Conditions in notes and alerts: shown on the card, and a decision where they speak against the plan.

Cultures before antibiotics: CLSI M47, from memory; heparin and APTT: [L65]; the words: common practice, no source.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from planner.cli.app import app
from planner.domain.catalogue import TestCode
from planner.domain.orders import NoteSays
from planner.domain.problem import Problem
from planner.exporters.view.build import build_view
from planner.loaders import load
from planner.loaders.catalogue.load import load_catalogue
from planner.loaders.values.notes import Reach, clocks_in, conditions
from planner.pipeline import PlannedRound, plan_round
from planner.solving.params import SolveParams
from planner.visits.windows import order_windows
from tests.three_wards import five_ward_tables, load_tables, plan_quickly

pytestmark = pytest.mark.slow

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
        ("no bloods until 08:00", "CBC", {NoteSays.TIED}),
        ("No bloods before dialysis", "CBC", {NoteSays.TIED}),
        ("no blood draws before 7", "CBC", {NoteSays.TIED}),
        ("no blood draws until 7", "CBC", {NoteSays.TIED}),
        ("no blood tests until 8", "CBC", {NoteSays.TIED}),
        ("do not bleed before 8", "CBC", {NoteSays.TIED}),
        ("do not bleed until seen", "CBC", {NoteSays.TIED}),
        ("keine Blutentnahme vor 8 Uhr", "CBC", {NoteSays.TIED}),
        ("keine Blutentnahme bis auf weiteres", "CBC", {NoteSays.TIED, NoteSays.NOT_WANTED}),
        ("no bloods until further notice", "CBC", {NoteSays.TIED, NoteSays.NOT_WANTED}),
        ("no bloods", "CBC", {NoteSays.NOT_WANTED}),
        ("no blood draws left arm", "CBC", set()),
        ("already taken by nurse", "CBC", {NoteSays.NOT_WANTED, NoteSays.OTHERS_DRAW}),
        ("after dialysis", "POT", {NoteSays.TIED}),
        ("patient anxious, nurse informed", "CBC", set()),
        ("PICC only - no venepuncture", "CBC", {NoteSays.OTHERS_DRAW, NoteSays.NOT_BY_VEIN}),
        ("CVC draws only", "CBC", {NoteSays.OTHERS_DRAW}),
        ("use central line for bloods", "CBC", {NoteSays.OTHERS_DRAW}),
        ("port: use for bloods", "CBC", {NoteSays.OTHERS_DRAW}),
        ("no venepuncture", "CBC", {NoteSays.NOT_BY_VEIN}),
        ("TPN via PICC", "CBC", set()),
        ("TPN and bloods via PICC", "CBC", {NoteSays.OTHERS_DRAW}),
        ("stop TPN, draw via PICC", "CBC", {NoteSays.OTHERS_DRAW}),
        ("stop TPN and draw via PICC", "CBC", {NoteSays.OTHERS_DRAW}),
        ("bloods from tunnelled line by nurse", "CBC", {NoteSays.OTHERS_DRAW}),
        ("bloods from left arm only", "CBC", set()),
        ("no venepuncture left arm", "CBC", set()),
        ("EDTA clumper", "CBC", {NoteSays.CLUMPS}),
        ("Ebola excluded", "CBC", set()),
        ("Lassa ruled out", "CBC", set()),
        ("VHF screen negative", "CBC", set()),
        ("Ebola not excluded", "CBC", {NoteSays.HIGH_HAZARD}),
        ("tunnelled line - bloods via tunnelled line only", "CBC", {NoteSays.OTHERS_DRAW}),
        ("Blutentnahme nur aus ZVK", "CBC", {NoteSays.OTHERS_DRAW}),
        ("police sample", "ETOH", {NoteSays.OTHERS_DRAW}),
        ("dialysing now until 07:30", "POT", {NoteSays.TIED}),
        ("chronic dialysis Mon Wed Fri", "POT", {NoteSays.ELSEWHERE}),
        ("EDTA clumps last time", "CBC", {NoteSays.CLUMPS}),
        ("platelets clump in EDTA", "BMP", set()),
        ("supine 30 min", "ALDO", {NoteSays.TIED}),
        ("DNAR; dying", "CBC", {NoteSays.NOT_WANTED}),
        ("fear of dying", "CBC", set()),
        ("", "CBC", set()),
        ("vanc at 05:00", "BC", {NoteSays.ANTIBIOTIC}),
        ("on abx", "BCPAIR", {NoteSays.ANTIBIOTIC}),
        ("Antibiotics due 06:00", "BCPED", {NoteSays.ANTIBIOTIC}),
        ("Antibiotika um 6 Uhr", "BC", {NoteSays.ANTIBIOTIC}),
        ("antibiotics due 06:00", "CBC", set()),
        ("no abx yet", "BC", set()),
        ("allergic to penicillin", "BC", set()),
        ("penicillin allergy", "BC", set()),
        ("vanc trough 05:30", "BC", set()),
        ("Antibiotika seit gestern, Allergie: Penicillin", "BC", {NoteSays.ANTIBIOTIC}),
        ("no fever, heparin infusion", "APTT", {NoteSays.HEPARIN}),
        ("Heparin läuft", "APTT", {NoteSays.HEPARIN}),
        ("patient deceased 03:40", "CBC", {NoteSays.GONE}),
        ("verlegt auf Intensiv", "CBC", {NoteSays.GONE}),
        ("transferred from ICU", "CBC", set()),
        ("died yesterday evening", "CBC", {NoteSays.GONE}),
        ("died in the night", "CBC", {NoteSays.GONE}),
        ("passed away in the night", "CBC", {NoteSays.GONE}),
        ("died from sepsis", "CBC", {NoteSays.GONE}),
        ("mother died in the night", "CBC", set()),
        ("discharged yesterday", "CBC", {NoteSays.GONE}),
        ("discharged from hospital", "CBC", {NoteSays.GONE}),
        ("discharged back to care home", "CBC", {NoteSays.GONE}),
        ("to be discharged", "CBC", set()),
        ("wound discharged yesterday", "CBC", set()),
        ("left the ward, back at 7", "CBC", {NoteSays.GONE}),
        ("left the ward back 05:00", "CBC", set()),
        ("transferred to ICU yesterday", "CBC", {NoteSays.GONE}),
        ("transferred to ICU from here", "CBC", {NoteSays.GONE}),
        ("transferred in the night", "CBC", {NoteSays.GONE}),
        ("transferred yesterday", "CBC", {NoteSays.GONE}),
        ("transferred back to ICU", "CBC", {NoteSays.GONE}),
        ("transferred yesterday from ICU", "CBC", set()),
        ("transferred in from Rail", "CBC", set()),
        ("transferred to us yesterday", "CBC", {NoteSays.GONE}),
        ("theatre 06:00", "CBC", {NoteSays.ELSEWHERE}),
        ("heel prick only", "TBIL", {NoteSays.FROM_SKIN}),
        ("take blood by heel prick", "CBC", {NoteSays.FROM_SKIN}),
        ("blood sugar finger prick", "CBC", set()),
        ("finger prick glucose 4.1", "CBC", set()),
        ("fasting please", "GLU", {NoteSays.FASTING}),
        ("not fasting", "GLU", set()),
        ("mother: do not wake before 7", "CBC", {NoteSays.TIED}),
        ("PICC; no peripheral draws", "CBC", {NoteSays.OTHERS_DRAW}),
        ("CT done", "CBC", set()),
        ("blood transfusion running until 07:00", "CBC", {NoteSays.TIED}),
        ("refuses all bloods", "CBC", {NoteSays.NOT_WANTED}),
        ("DNR, comfort care only", "CBC", {NoteSays.NOT_WANTED}),
        ("?VHF - returned from abroad", "CBC", {NoteSays.HIGH_HAZARD}),
        ("suspected Lassa fever", "POT", {NoteSays.HIGH_HAZARD}),
        ("viral haemorrhagic fever ruled out? no: no VHF", "CBC", {NoteSays.HIGH_HAZARD}),
        ("fièvre hémorragique", "CBC", {NoteSays.HIGH_HAZARD}),
        ("Piperacillin/tazobactam due 05:45", "BC", {NoteSays.ANTIBIOTIC}),
    ],
)  # fmt: skip
def test_condition_is_recognised_whole(note, test, says):
    assert said(note, test) == says


def said(note: str, test: str, reach: Reach = Reach.NOTE) -> set[NoteSays]:
    return {says for says, _ in conditions(load_catalogue()[0].tests[TestCode(test)], [(reach, note)])}


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
    assert "order A3, bed Teal 3A: by a note or an alert" in " ".join(result.output.split())
    page = (out / "r1" / "round-sheet.html").read_text(encoding="utf-8")
    assert "note (CBC): Nurse to take (3A)" in page
    assert "A note or an alert speaks against the plan" in page
    assert CliRunner().invoke(app, ["check", str(out)]).exit_code == 0


@pytest.mark.parametrize(
    ("alert", "test", "says"),
    [
        ("on heparin infusion", "APTT", {NoteSays.HEPARIN}),
        ("PICC: nurse to draw", "CBC", {NoteSays.OTHERS_DRAW}),
        ("palliative, do not draw", "CBC", {NoteSays.NOT_WANTED}),
        ("?VHF", "CBC", {NoteSays.HIGH_HAZARD}),
        ("no blood tests please", "CBC", {NoteSays.NOT_WANTED}),
        ("warfarin on hold", "CBC", set()),
        ("isolation no longer needed", "CBC", set()),
    ],
)
def test_alert_is_read_as_a_note_is_save_what_only_an_order_can_mean(alert, test, says):
    assert said(alert, test, Reach.ALERTS) == says


def test_note_of_another_order_counts_for_what_concerns_the_patient_alone():
    assert said("vanc at 05:00", "BC", Reach.PATIENT) == {NoteSays.ANTIBIOTIC}
    assert said("nurse to take", "BC", Reach.PATIENT) == set()


@pytest.mark.parametrize(
    ("text", "clocks"),
    [
        ("vanc at 05:00", [5.0]),
        ("vancomycin 1000 mg at 0500, then 1.25 g 5pm", [5.0, 17.0]),
        ("antibiotics due 6.30", [6.5]),
        ("Antibiose um 6 Uhr", [6.0]),
        ("ceftriaxone 2 g, given 0530h", [5.5]),
        ("gent 5.00 mg/kg", []),
        ("abx since 08.03.2026", []),
        ("vanc 1250", []),
        ("q8h meropenem", []),
        ("dose at 25:00", []),
        ("seen 10.03. by surgeon", []),
        ("potassium 3.50 mmol/L", []),
        ("K 3.50", []),
        ("vanc at 3.50", [3 + 50 / 60]),
        ("vanc 05.30", [5.5]),
    ],
)
def test_clock_times_of_a_text_are_read_and_amounts_are_none(text, clocks):
    assert [c / 3600 for c in clocks_in(text)] == clocks


def five_wards(
    tmp_path: Path, alerts: dict[str, str], notes: dict[str, str], test: str = "BC"
) -> tuple[Problem, PlannedRound]:
    """Plan the five wards with beds of equal names; K0202 has this test and a blood count."""
    tables = five_ward_tables()
    tables["orders"].append({"order_number": "K0202-2", "patient_number": "K0202", "test": "CBC"})
    for row in tables["patients"]:
        row["alerts"] = alerts.get(row["patient_number"], "")
    for row in tables["orders"]:
        row["note"] = notes.get(row["order_number"], "")
        row["test"] = test if row["order_number"] == "K0202-1" else row["test"]
    problem = load_tables(tables, tmp_path / "five")
    return problem, plan_quickly(problem)


def decided(outcome: PlannedRound) -> list[tuple[str, ...]]:
    return [f.order_ids for f in outcome.findings if f.code == CODE]


@pytest.mark.parametrize(
    ("alerts", "notes"),
    [
        ({}, {"K0202-1": "Vanc at 0500 please"}),
        ({"K0202": "abx 05:00"}, {}),
        ({}, {"K0202-2": "meropenem at 5am"}),
    ],
    ids=["note", "alert", "note of another order"],
)
def test_culture_after_an_antibiotic_that_a_text_times_is_a_decision(tmp_path, alerts, notes):
    others = {"T0502-1": "ceftriaxone 04:45"}  # nobody there has a culture
    outcome = five_wards(tmp_path, {"H0101": "vanc at 05:00"} | alerts, others | notes)[1]
    assert decided(outcome) == [("K0202-1",)]
    (message,) = (f.message for f in outcome.findings if f.code == CODE)
    assert "bed Kite (South) 1B" in message
    assert "antibiotic" in message


@pytest.mark.parametrize("note", ["on abx", "antibiotics due 07:55"])
def test_antibiotic_without_a_time_before_the_draw_is_asked_on_the_card_of_the_culture(tmp_path, note):
    problem, outcome = five_wards(tmp_path, {}, {"K0202-1": note})
    assert decided(outcome) == []
    view = build_view(problem, outcome.plan, order_windows(problem)[0], revision=1)
    asked = {v.patient_number for r in view.routes for v in r.visits if any("Antibiotic given" in a for a in v.ask)}
    assert asked == {"K0202"}


def test_alert_of_heparin_against_the_test_without_it_is_a_decision(tmp_path):
    assert decided(five_wards(tmp_path, {"K0202": "on heparin infusion"}, {}, "APTT")[1]) == [("K0202-1",)]


def test_patient_who_is_elsewhere_before_the_draw_or_has_left_is_a_decision(tmp_path):
    alerts = {"H0101": "theatre 05:00", "H0102": "theatre 11:30", "K0201": "patient deceased", "N0401": "CT, 05:00"}
    found = sorted(decided(five_wards(tmp_path, alerts, {})[1]))
    assert found == [("H0101-1", "H0101-2"), ("K0201-1", "K0201-2"), ("N0401-1",)]


def test_heel_prick_by_a_text_is_a_decision_where_the_plan_draws_from_a_vein_and_a_fast_is_asked(tmp_path):
    problem, outcome = five_wards(tmp_path, {"H0101": "heel prick only"}, {"K0202-1": "fasting please"}, "GLU")
    assert decided(outcome) == [("H0101-1", "H0101-2")]
    view = build_view(problem, outcome.plan, order_windows(problem)[0], revision=1)
    asked = {v.patient_number for r in view.routes for v in r.visits if any("Fasting, by a note" in a for a in v.ask)}
    assert asked == {"K0202"}
