"""Words in free texts lead to what a collector does; words that may be denied are asked, and no text is lost.

Latex, bleeding, fainting, arms: CLSI GP41 (from memory); the wording and the rest: common practice, no source.
"""

from __future__ import annotations

from collections import Counter
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest

from planner.domain.catalogue import TestCode
from planner.domain.orders import Arm, Precaution
from planner.exporters.page.cards import Cards
from planner.exporters.view.build import build_view
from planner.exporters.view.cards.card_notes import Weight, card_notes
from planner.exporters.view.cards.cares import cares
from planner.exporters.view.round_view import RoundView
from planner.exporters.view.stop_view import VisitView
from planner.findings import Finding
from planner.loaders import Loaded, LoadOptions, load
from planner.loaders.catalogue.load import load_catalogue
from planner.pipeline import PlannedRound
from planner.visits.windows import order_windows
from tests.builders import DAY
from tests.three_wards import Tables, plan_quickly, three_ward_tables, write_tables

pytestmark = pytest.mark.slow

NUMBER = "H0101"


def first_ward(tables: Tables, folder: Path) -> Loaded:
    """Return what is read of the round's first ward."""
    keep = {row["patient_number"] for row in tables["patients"] if row["ward"] == "Heron"}
    for name in ("patients", "orders"):
        tables[name] = [row for row in tables[name] if row["patient_number"] in keep]
    loaded = load(write_tables(tables, folder), LoadOptions(round_date=DAY))
    assert loaded.problem is not None
    return loaded


def read(tables: Tables, folder: Path, *, is_afresh: bool = False) -> tuple[RoundView, tuple[Finding, ...]]:
    """Return the view of the round's first ward with what loading found; as it is planned without what is changed."""
    loaded = first_ward(tables, folder)
    planned = plan_quickly(loaded.problem) if is_afresh else as_written()
    windows, _ = order_windows(loaded.problem)
    findings = (*loaded.findings, *planned.findings)
    return build_view(loaded.problem, planned.plan, windows, revision=1, findings=findings), findings


@cache
def as_written() -> PlannedRound:
    """The round planned as it stands: words on a card do not change who comes when."""
    with TemporaryDirectory() as folder:
        return plan_quickly(first_ward(three_ward_tables(), Path(folder) / "round").problem)


def card_of(view: RoundView, number: str = NUMBER) -> VisitView:
    return next(v for route in view.routes for v in route.visits if v.patient_number == number)


def card(folder: Path, **cells: Any) -> VisitView:
    """Return the card of a patient whose row has these cells."""
    tables = three_ward_tables()
    tables["patients"][0] |= cells
    return card_of(read(tables, folder)[0])


@pytest.mark.parametrize(
    ("alert", "do"),
    [
        ("LATEX allergy", "latex-free gloves and tourniquet"),
        ("on warfarin", "Press 5 minutes"),
        ("low platelets", "Press 5 minutes"),
        ("dementia, confused at night", "the nurse identifies the patient"),
        ("speaks no English", "Interpreter"),
        ("C. difficile", "soap and water"),
        ("fainted last week", "lie down"),
        ("acute leukaemia", "carry this tube by hand"),
        ("Latexallergie", "latex-free gloves and tourniquet"),
        ("alergia al látex", "latex-free gloves and tourniquet"),
        ("plt 8", "Press 5 minutes"),
        ("speaks only Polish", "Interpreter"),
        ("no known allergies, latex", "latex-free gloves and tourniquet"),
        ("Pflasterallergie", "No plaster"),
        ("antikoaguliert", "Press 5 minutes"),
        ("verwirrt", "the nurse identifies the patient"),
        ("spricht nur Mandarin, schwerhörig", "Interpreter, writing"),
        ("deaf", "Interpreter, writing"),
        ("needle phobia", "lie down"),
        ("Spritzenphobie", "lie down"),
        ("known to bite staff - two staff", "second person"),
        ("aggressiv", "second person"),
        ("rubber allergy", "latex-free gloves and tourniquet"),
        ("rubber latex", "latex-free gloves and tourniquet"),
        ("glove allergy", "latex-free gloves and tourniquet"),
        ("platelets clump in EDTA, on warfarin", "Press 5 minutes"),
    ],
)
def test_word_leads_to_what_to_do(tmp_path: Path, alert: str, do: str) -> None:
    shown = card(tmp_path / "round", alerts=alert)
    assert any(do in line for line in shown.do), shown.do
    assert alert in shown.alerts


@pytest.mark.parametrize(
    ("alert", "ask"),
    [
        ("no latex allergy", "Latex allergy?"),
        ("denies bleeding", "Bleeding risk?"),
        ("immunosuppressed", "Protective isolation?"),
        ("MRSA", "Isolation?"),
        ("CRE carrier", "Isolation?"),
        ("Candida auris", "Isolation?"),
        ("ALL on chemo", "Protective isolation?"),
        ("arteriovenous fistula", "Which arm"),
        ("mastectomía", "Which arm"),
        ("lumpectomy 2019", "Which arm"),
        ("on dialysis Mon/Wed/Fri", "Dialysis: on the machine now"),
        ("hémodialyse", "Dialysis: on the machine now"),
        ("Jehovah's Witness", "Declines blood"),
        ("refuses blood products", "Declines blood"),
        ("keine Bluttransfusion", "Declines blood"),
    ],
)
def test_word_in_doubt_is_asked(tmp_path: Path, alert: str, ask: str) -> None:
    shown = card(tmp_path / "round", alerts=alert)
    assert any(ask in line for line in shown.ask), shown.ask
    assert alert in shown.alerts
    assert not any("latex-free" in line or "Press 5" in line for line in shown.do)


@pytest.mark.parametrize(
    "cells", [{"alerts": "?VHF"}, {"precautions": "Lassa ?"}, {"alerts": "Ebola contact", "precautions": "contact"}]
)
def test_bed_to_keep_out_of_says_so_first_and_nothing_is_worn_for_it(tmp_path: Path, cells: dict[str, str]) -> None:
    notes = card_notes(card(tmp_path / "round", **cells))
    assert (notes[0].label, notes[0].weight) == ("DO NOT GO IN", Weight.PRESSING)
    assert "phone the lead" in notes[0].words
    assert "WEAR" not in [note.label for note in notes]


@pytest.mark.parametrize("is_urgent", [False, True], ids=["routine", "stat past its time"])
def test_bed_to_keep_out_of_says_nothing_as_if_somebody_went_in(tmp_path: Path, is_urgent: bool) -> None:
    """Such a draw is decided first: who makes it, in what, how the specimen travels (common practice, no source)."""
    tables = three_ward_tables()
    tables["patients"][0] |= {"alerts": "?VHF, MRSA, latex allergy, left arm lymphoedema", "precautions": "airborne"}
    for order in tables["orders"][:2] if is_urgent else ():
        order |= {"priority": "stat", "ordered_at": "2026-03-10 04:00"}
    view, _ = read(tables, tmp_path / "round", is_afresh=is_urgent)
    shown = card_of(view)
    labels = {note.label for note in card_notes(shown)}
    assert labels == {"DO NOT GO IN", "ALERT", "NOT BY YOU"}
    assert not (shown.tubes or shown.goes_to or shown.answers or shown.slip or shown.wear)
    assert not shown.is_pressing
    assert [mark.words for mark in shown.marks] == ["STAT"] * is_urgent
    [held] = shown.not_drawn
    assert all(word in held for word in ("CBC", "BMP", *shown.order_numbers, "until the lead")), held
    assert "?VHF" in "; ".join(shown.alerts)
    assert not any("draw RIGHT" in alert for alert in shown.alerts)
    html = Cards(route=next(r for r in view.routes if shown in r.stops), number=1, with_ward=False, calls="").html()
    [article] = (part for part in html.split("<article")[1:] if f'data-patient="{NUMBER}"' in part)
    assert not any(word in article for word in ("GIVE", "WHEN", 'class="tubes"', "mL", 'class="needle">,'))


@pytest.mark.parametrize("alert", ["EDTA clumper", "platelet clumping", "platelets clump in EDTA"])
def test_platelets_that_clump_ask_for_citrate_and_are_no_risk_of_bleeding(tmp_path: Path, alert: str) -> None:
    tables = three_ward_tables()
    tables["patients"][0] |= {"alerts": alert}
    tables["orders"][0]["test"] = "CBC"
    view, _ = read(tables, tmp_path / "round", is_afresh=True)
    shown = card_of(view)
    assert any("extra citrate tube" in line for line in shown.ask), shown.ask
    assert not any("Press 5" in line for line in shown.do)
    assert not any("Bleeding risk" in line for line in shown.ask)


def test_blood_count_with_cold_agglutinins_is_kept_warm(tmp_path: Path) -> None:
    tables = three_ward_tables()
    tables["patients"][0] |= {"alerts": "cold agglutinins"}
    tables["orders"][0]["test"] = "CBC"
    view, _ = read(tables, tmp_path / "round", is_afresh=True)
    assert any("keep the blood count warm" in line for line in card_of(view).do)
    assert any("Warm flask" in line.item for line in view.supplies)


def test_fever_that_was_ruled_out_keeps_nobody_out(tmp_path: Path) -> None:
    notes = card_notes(card(tmp_path / "round", alerts="Ebola ruled out", precautions="contact"))
    assert "DO NOT GO IN" not in [note.label for note in notes]
    assert "WEAR" in [note.label for note in notes]


@pytest.mark.parametrize(
    "alert", ["latexifolia", "broken leg in plaster", "warfarinised diet? unclearbleedings", "Confuseduck"]
)
def test_part_of_a_word_leads_to_nothing(tmp_path: Path, alert: str) -> None:
    shown = card(tmp_path / "round", alerts=alert)
    plain = card(tmp_path / "plain")
    assert (shown.do, shown.ask) == (plain.do, plain.ask)


def test_latex_stands_in_the_supplies(tmp_path: Path) -> None:
    tables = three_ward_tables()
    tables["patients"][0]["alerts"] = "latex"
    view, _ = read(tables, tmp_path / "round")
    needed = {line.item: sum(line.needed) for line in view.supplies}
    assert needed["Pair of latex-free gloves"] == needed["Latex-free tourniquet"] == 1
    assert needed["Pair of gloves"] == sum(len(route.visits) for route in view.routes) - 1


def test_word_in_the_note_of_an_order_counts(tmp_path: Path) -> None:
    tables = three_ward_tables()
    tables["orders"][0]["note"] = "patient on apixaban"
    assert any("Press 5" in line for line in card_of(read(tables, tmp_path / "round")[0]).do)


def test_what_concerns_one_test_is_said_of_it_alone(tmp_path: Path) -> None:
    tables = three_ward_tables()
    tables["patients"][1]["alerts"] = "leukaemia"  # CBC and PT: no potassium
    assert not any("by hand" in line for line in card_of(read(tables, tmp_path / "round")[0], "H0102").do)


@pytest.mark.parametrize("heading", ["limbs", "Arm not to be used", "Limb restriction"])
@pytest.mark.parametrize(("text", "draw"), [("left", "RIGHT"), ("R", "LEFT"), ("right arm", "LEFT")])
def test_arm_that_is_barred_says_which_to_draw_from(tmp_path: Path, heading: str, text: str, draw: str) -> None:
    shown = card(tmp_path / "round", **{heading: text})
    assert any(line.endswith(f"draw {draw}") for line in shown.alerts), shown.alerts


def test_both_arms_need_a_decision(tmp_path: Path) -> None:
    tables = three_ward_tables()
    tables["patients"][0]["limbs"] = "left; right"
    view, findings = read(tables, tmp_path / "round", is_afresh=True)
    assert "no-arm" in {finding.code for finding in findings}
    assert {line.patient_number for line in view.decisions} == {NUMBER}
    assert all(v.patient_number != NUMBER for route in view.routes for v in route.visits)


def test_text_on_arms_that_is_not_understood_is_printed_and_asked(tmp_path: Path) -> None:
    tables = three_ward_tables()
    tables["patients"][0]["limbs"] = "ask dialysis"
    view, findings = read(tables, tmp_path / "round")
    assert "limbs-unclear" in {finding.code for finding in findings}
    assert "arms not to be used: ask dialysis" in card_of(view).alerts
    assert any("Which arm" in line for line in card_of(view).ask)


@pytest.mark.parametrize("heading", ["Door sign", "infektion", "Zusatz"])
def test_column_that_nobody_mapped_stands_on_the_card(tmp_path: Path, heading: str) -> None:
    tables = three_ward_tables()
    tables["patients"][0][heading] = "MRSA contact"
    view, findings = read(tables, tmp_path / "round")
    assert any(line.endswith(f"{heading}: MRSA contact") for line in card_of(view).alerts)
    assert any("Isolation?" in line for line in card_of(view).ask)
    assert not any(heading in line for line in card_of(view, "H0102").alerts)
    code = "safety-column-unmapped" if heading == "infektion" else "extra-columns"
    [told] = [finding.message for finding in findings if finding.code == code]
    assert heading in told
    assert "card" in told


def test_column_of_the_order_list_that_nobody_mapped_stands_on_the_card(tmp_path: Path) -> None:
    tables = three_ward_tables()
    tables["orders"][0]["Hygiene"] = "VRE"
    assert any(line.endswith("Hygiene: VRE") for line in card_of(read(tables, tmp_path / "round")[0]).alerts)


def test_column_that_says_the_same_of_everybody_stands_on_no_card(tmp_path: Path) -> None:
    tables = three_ward_tables()
    for row in tables["patients"]:
        row["Printed by"] = "ward system 7"
    view, findings = read(tables, tmp_path / "round")
    assert not any("Printed by" in line for route in view.routes for v in route.visits for line in v.alerts)
    assert any("Printed by" in finding.message for finding in findings if finding.code == "extra-columns")


@pytest.mark.parametrize("text", ["enteric", "C. diff", "contact plus"])
def test_precaution_that_says_more_than_its_name_is_printed(tmp_path: Path, text: str) -> None:
    shown = card(tmp_path / "round", precautions=text)
    assert any("CONTACT" in line for line in shown.wear)
    assert text in shown.alerts


def test_table_names_tests_and_precautions_that_there_are() -> None:
    tests = load_catalogue()[0].tests
    for care in cares():
        assert care.ask or care.do
        assert all(care.phrases)
        assert {TestCode(code) for code in care.tests} <= tests.keys()
        assert care.unless in {"", "any", "limbs", *(p.value for p in Precaution)}
    assert len(Arm) == 2


def test_ice_is_called_the_same_on_the_tube_and_in_the_supplies(tmp_path: Path) -> None:
    """A sealed bag with a cold pack, never loose slurry: a tube station may leak (common practice, no source)."""
    view, _ = read(three_ward_tables(), tmp_path / "round")  # H0103 has a lactate
    [tube] = card_of(view, "H0103").tubes
    assert "sealed bag with a cold pack" in tube.handling
    assert "Sealed bag with a cold pack, by tube" in {line.item for line in view.supplies}
    assert not any("slurry" in line.item for line in view.supplies)


def test_supplies_have_as_many_needles_of_each_kind_as_the_cards_name(tmp_path: Path) -> None:
    """K0202 has a culture: a winged set, by common practice; everybody else a straight needle."""
    loaded = load(write_tables(three_ward_tables(), tmp_path / "three"), LoadOptions(round_date=DAY))
    assert loaded.problem is not None
    plan = plan_quickly(loaded.problem).plan
    view = build_view(loaded.problem, plan, order_windows(loaded.problem)[0], revision=1)
    on_cards = Counter(visit.needle for route in view.routes for visit in route.visits)
    listed = {
        line.item.removesuffix(" straight"): sum(line.needed) for line in view.supplies if line.group == "Needles"
    }
    assert listed == on_cards
    assert card_of(view, "K0202").needle == "21G winged"
    assert on_cards["21G winged"] == 1


@pytest.mark.parametrize(
    ("alerts", "said", "is_asked"),
    [
        ("AV fistula left", "NOT the LEFT arm (alert or note): draw RIGHT", False),
        ("Shunt rechts", "NOT the RIGHT arm (alert or note): draw LEFT", False),
        ("heparin infusion running in left arm", "NOT the LEFT arm (alert or note): draw RIGHT", False),
        ("fistula left; use the other arm", "NOT the LEFT arm (alert or note): draw RIGHT", False),
        ("fistula left; no known fistula, arm fine", "NOT the LEFT arm (alert or note): draw RIGHT", False),
        ("left mastectomy, lymphoedema", "NOT the LEFT arm (alert or note): draw RIGHT", False),
        ("mastectomy", "", True),
    ],
)
def test_side_that_a_text_states_is_said_and_not_asked(tmp_path: Path, alerts: str, said: str, is_asked: bool) -> None:
    shown = card(tmp_path / "round", alerts=alerts)
    assert [alert for alert in shown.alerts if "draw" in alert] == [said] * bool(said)
    assert any("Which arm" in line for line in shown.ask) is is_asked
