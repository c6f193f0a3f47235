"""Isolation in words: infections mean what the guideline names, anything else is planned as the strictest and asked.

Source: Guideline for Isolation Precautions (HICPAC 2007), Appendix A, of which the 1996 edition was seen, else from
memory; an unknown word as the strictest: our choice.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from planner.domain.orders import Precaution
from planner.exporters.view.build import build_view
from planner.findings import Severity
from planner.library.planning import asks_for_person
from planner.loaders import LoadOptions, load
from planner.pipeline import plan_round
from planner.scheduling.rounds.numbers import precaution_rank
from planner.scheduling.timing.instance import PRECAUTION_RANK
from planner.solving.params import SolveParams
from planner.visits.windows import order_windows
from tests.helpers import codes
from tests.three_wards import plan_quickly, three_ward_tables, write_tables

DAY = date(2026, 3, 4)
CONTACT, DROPLET, AIRBORNE, PROTECTIVE, UNCLEAR = (
    Precaution.CONTACT,
    Precaution.DROPLET,
    Precaution.AIRBORNE,
    Precaution.PROTECTIVE,
    Precaution.UNCLEAR,
)


def load_patient(load_rows, **columns):
    head = ",".join(("order_number", "patient_number", "birth_date", "ward", "bed", "test", *columns))
    row = "A1,1,1960-05-31,East,4,CBC" + "".join(f',"{text}"' for text in columns.values())
    loaded = load_rows(row, head=head, round_date=DAY)
    return loaded.problem.patients["1"], loaded


@pytest.mark.parametrize(
    ("text", "means"),
    [
        ("chickenpox", {CONTACT, AIRBORNE}),
        ("Varicella (suspected)", {CONTACT, AIRBORNE}),
        ("shingles", {CONTACT, AIRBORNE}),
        ("Masern", {AIRBORNE}),
        ("? measles", {AIRBORNE}),
        ("TB - pulmonary", {AIRBORNE}),
        ("lice", {CONTACT}),
        ("Scabies isolation", {CONTACT}),
        ("whooping cough", {DROPLET}),
        ("Contact - MRSA positive (wound)", {CONTACT}),
        ("ESBL E. coli", {CONTACT}),
        ("RSV", {CONTACT, DROPLET}),
        ("COVID-19", {CONTACT, DROPLET, AIRBORNE}),
        ("neutropenic", {PROTECTIVE}),
        ("HIV", set()),
    ],
)
def test_infection_means_the_precautions_of_the_guideline_and_is_printed(load_rows, text, means):
    patient, loaded = load_patient(load_rows, precautions=text)
    assert patient.precautions == means
    assert patient.alerts == (text,)
    assert "unknown-precaution" not in codes(loaded)


@pytest.mark.parametrize(
    "text",
    [
        "reverse barrier nursing",
        "Reverse barrier",
        "reverse-barrier nursed",
        "reverse nursing",
        "neutropenic precautions",
        "protective isolation",
        "Umkehrisolation",
    ],
)
@pytest.mark.parametrize("column", ["precautions", "alerts"])
def test_words_for_a_room_that_protects_its_patient_are_known(load_rows, column, text):
    patient, loaded = load_patient(load_rows, **{column: text})
    assert patient.precautions == {PROTECTIVE}
    assert "unknown-precaution" not in codes(loaded)


@pytest.mark.parametrize(
    "text",
    [
        "lurgy",
        "exposed to chickenpox",
        "TB ruled out",
        "no MRSA",
        "history of VRE",
        "see door",
        "MRSA neg",
        "barrier nursed",
    ],
)
def test_word_that_is_not_understood_is_planned_as_the_strictest_and_decided(load_rows, text):
    patient, loaded = load_patient(load_rows, precautions=text)
    assert patient.precautions == {UNCLEAR}
    assert patient.alerts == (text,)
    (finding,) = [f for f in loaded.findings if f.code == "unknown-precaution"]
    assert finding.severity is Severity.ERROR
    assert "planned as the strictest" in finding.message
    assert finding.message.startswith(f"order A1, bed 4: precaution {text!r} is not known")
    assert finding.order_ids == ("A1",)
    assert asks_for_person(loaded.problem.set_aside, loaded.findings)


@pytest.mark.slow
def test_word_that_is_not_known_stands_among_the_decisions_with_its_bed_and_orders(tmp_path: Path) -> None:
    tables = three_ward_tables()
    person = next(row for row in tables["patients"] if row["patient_number"] == "K0201")
    person["precautions"] = "lurgy nursing"
    loaded = load(write_tables(tables, tmp_path / "three"), LoadOptions())
    planned = plan_quickly(loaded.problem)
    findings = (*loaded.findings, *planned.findings)
    view = build_view(loaded.problem, planned.plan, order_windows(loaded.problem)[0], revision=1, findings=findings)
    (line,) = [line for line in view.decisions if "lurgy nursing" in line.detail]
    place = loaded.problem.place_name(loaded.problem.patients["K0201"].bed)
    assert line.bed == place
    assert line.detail.startswith(f"orders {', '.join(line.order_numbers)}, bed {place}: precaution 'lurgy nursing'")
    assert {o.id for o in loaded.problem.orders if o.patient_id == "K0201"} == set(line.order_numbers)


@pytest.mark.parametrize(
    ("alert", "known", "means"),
    [
        ("MRSA", "", {UNCLEAR}),
        ("?TB", "contact", {CONTACT, UNCLEAR}),
        ("MRSA", "contact", {CONTACT}),
        ("barrier nursed", "", {UNCLEAR}),
        ("barrier nursed", "droplet", {DROPLET}),
        ("neutropenic since Monday", "", {PROTECTIVE}),
        ("neutropenic, isolated", "", {PROTECTIVE}),
        ("reverse barrier nursing; barrier nursed", "", {PROTECTIVE, UNCLEAR}),
        ("no MRSA", "", set()),
        ("HIV", "", set()),
        ("wife has passed flu jab", "", {UNCLEAR}),
    ],
)
def test_infection_among_the_alerts_counts_as_the_strictest_until_somebody_asks(load_rows, alert, known, means):
    patient, _ = load_patient(load_rows, alerts=alert, precautions=known)
    assert patient.precautions == means


def test_room_that_is_not_clear_has_the_turn_of_the_last() -> None:
    assert PRECAUTION_RANK[UNCLEAR] == max(PRECAUTION_RANK.values())


def test_known_protective_word_is_first_beside_a_word_that_is_not_known(load_rows):
    patient, loaded = load_patient(load_rows, precautions="blue room", alerts="neutropenic")
    assert patient.precautions == {PROTECTIVE, UNCLEAR}
    assert precaution_rank(patient) == PRECAUTION_RANK[PROTECTIVE]
    (finding,) = [f for f in loaded.findings if f.code == "unknown-precaution"]
    assert "decide the turn (protective: first)" in finding.message
    assert "strictest" not in finding.message


def test_word_that_is_not_known_beside_a_protective_room_with_another_isolation_keeps_the_turn_of_that(load_rows):
    patient, loaded = load_patient(load_rows, precautions="blue room, contact", alerts="neutropenic")
    assert precaution_rank(patient) == PRECAUTION_RANK[CONTACT]
    (finding,) = [f for f in loaded.findings if f.code == "unknown-precaution"]
    assert "the known words beside it decide the turn" in finding.message


@pytest.mark.parametrize(
    "alert",
    [
        "yellow room",
        "blue barrier",
        "Red room 4",
        "nurse in purple precautions",
        "red nursed; isolated",
        "barrier nursed",
        "isolated",
        "negative pressure room",
        "strict isolation",
    ],
)
def test_alert_that_speaks_of_isolation_but_not_of_which_is_decided_like_a_precaution(load_rows, alert):
    patient, loaded = load_patient(load_rows, alerts=alert)
    assert patient.precautions == {UNCLEAR}
    found = [f for f in loaded.findings if f.code == "unknown-precaution"]
    assert found and all(f.severity is Severity.ERROR and f.order_ids == ("A1",) for f in found)
    assert found[0].message.startswith("order A1, bed 4: alert ")
    assert all(f.source.column == "alerts" for f in found)
    assert asks_for_person(loaded.problem.set_aside, loaded.findings)


@pytest.mark.parametrize(
    "alert",
    [
        "side room 4",
        "waiting room",
        "room 12",
        "on room air",
        "94% on room air",
        "language barrier",
        "uses barrier cream",
        "falls precautions",
        "standard precautions",
        "nursed flat",
        "being nursed flat",
        "nursing home",
        "from a nursing home",
        "no yellow room",
        "daughter in day room",
        "bay 2, room 4 bed 1",
        "not in isolation",
        "moved to room 7",
        "no precautions",
        "seizure precautions",
        "1:1 nursing",
    ],
)
def test_alert_of_plain_words_is_no_isolation(load_rows, alert):
    patient, loaded = load_patient(load_rows, alerts=alert)
    assert patient.precautions == set()
    assert "unknown-precaution" not in codes(loaded)


@pytest.mark.parametrize(
    ("alert", "known", "means"),
    [
        ("yellow room", "contact", {CONTACT}),
        ("MRSA room", "", {UNCLEAR}),
        ("contact precautions", "", {UNCLEAR}),
        ("enteric precautions", "", {UNCLEAR}),
        ("enteric precautions", "contact", {CONTACT}),
    ],
)
def test_alert_whose_isolation_is_known_is_no_decision(load_rows, alert, known, means):
    patient, loaded = load_patient(load_rows, alerts=alert, precautions=known)
    assert patient.precautions == means
    assert "unknown-precaution" not in codes(loaded)


def test_who_is_protected_by_an_alert_alone_is_asked_about(load_rows):
    patient, _ = load_patient(load_rows, alerts="neutropenic", precautions="")
    assert patient.unclear == ("Protective isolation",)
    patient, _ = load_patient(load_rows, alerts="neutropenic", precautions="protective")
    assert patient.unclear == ()


def test_column_nearly_named_like_isolation_counts_as_the_strictest(load_rows):
    patient, _ = load_patient(load_rows, **{"Isol. stat": "yes, room 4"})
    assert patient.precautions == {UNCLEAR}


@pytest.mark.slow
def test_room_that_is_not_clear_is_last_on_its_route_and_its_card_says_to_ask(tmp_path: Path) -> None:
    tables = three_ward_tables()
    for table in ("orders", "staff"):
        tables[table] = tables[table][: 1 if table == "staff" else None]
    tables["orders"] = [
        {k: v for k, v in row.items() if k in ("order_number", "patient_number", "test")} | {"test": "CBC"}
        for row in tables["orders"]
        if row["patient_number"] in ("H0101", "H0102", "H0103", "H0104")  # one ward: no long way outweighs the turn
    ]
    person = next(row for row in tables["patients"] if row["patient_number"] == "H0101")
    person["precautions"] = "exposed to chickenpox"
    problem = load(write_tables(tables, tmp_path / "three"), LoadOptions()).problem
    assert problem is not None
    planned = plan_round(problem, SolveParams(effort="quick"))
    view = build_view(problem, planned.plan, order_windows(problem)[0], revision=1, findings=planned.findings)
    (route,) = [route for route in view.routes if any(visit.bed == "Heron 1A" for visit in route.visits)]
    assert [visit.bed for visit in route.visits][-1] == "Heron 1A"
    card = route.visits[-1]
    assert card.wear == ("ISOLATION NOT CLEAR: ask the nurse what to wear before you go in",)
    assert "exposed to chickenpox" in card.alerts
