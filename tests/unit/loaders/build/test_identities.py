"""Mix-ups: an identity conflict goes before all else, a missing identifier and names alike are said."""

from __future__ import annotations

from datetime import date

import pytest

from planner.domain.plan import Reason
from planner.findings import Severity, to_decide

DAY = date(2026, 3, 4)
HEAD = "order_number,patient_number,family_name,given_name,birth_date,bed,test,priority,status"


def row(number: str, patient: str, name: str = "Okafor,Ada,1960-05-31", bed: str = "4", rest: str = "CBC,,") -> str:
    return f"{number},{patient},{name},{bed},{rest}"


@pytest.mark.parametrize("rest", ["Zorblax,,", "CBC,soonish,", "CBC,,cancelled", "CBC,,collected", "Troponin,,"])
def test_identity_conflict_is_the_reason_of_all_the_patients_orders(load_rows, rest):
    loaded = load_rows(
        row("A1", "1"), row("A2", "1", "Brandt,Ole,1950-01-01"), row("A3", "1", rest=rest), head=HEAD, round_date=DAY
    )
    assert {u.order_id: u.reason for u in loaded.problem.set_aside} == dict.fromkeys(
        ("A1", "A2", "A3"), Reason.IDENTITY_CONFLICT
    )
    details = {u.order_id: u.detail for u in loaded.problem.set_aside}
    assert details["A3"].startswith(details["A1"])
    assert "Also: " in details["A3"]


def found(loaded, code):
    return [f for f in loaded.findings if f.code == code]


def test_missing_birth_date_is_a_warning(load_rows):
    loaded = load_rows(row("A1", "1", "Okafor,Ada,"), row("A2", "2", "Brandt,Ole,", bed="5"), head=HEAD, round_date=DAY)
    (finding,) = found(loaded, "identifier-missing")
    assert finding.severity is Severity.WARNING
    assert finding.order_ids == ("A1", "A2")
    assert "no birth date on the list for beds 4, 5" in finding.message
    assert len(loaded.problem.orders) == 2


def test_gap_among_patients_whose_birth_date_is_known_is_a_decision(load_rows):
    """Five wards with a bed 4 each: the one gap is named with its ward, planned, and asked about (exit 3)."""
    wards = ("Heron", "Kite (South)", "Rail, East", "North", "Tern")
    rows = [
        f'A{n},{n},Okafor{n},Ada,{"" if ward == "Rail, East" else "1960-05-31"},"{ward}",4,CBC'
        for n, ward in enumerate(wards)
    ]
    head = "order_number,patient_number,family_name,given_name,birth_date,ward,bed,test"
    loaded = load_rows(*rows, head=head, round_date=DAY, adults_only=True)
    (finding,) = found(loaded, "identifier-gap")
    assert finding in to_decide(loaded.findings)
    assert finding.order_ids == ("A2",)
    assert "Rail, East 4" in finding.message
    assert not found(loaded, "identifier-missing")
    assert len(loaded.problem.orders) == 5


def test_missing_name_is_a_warning(load_rows):
    loaded = load_rows(row("A1", "1", ",,1960-05-31"), head=HEAD, round_date=DAY)
    assert "no name on the list for bed 4" in found(loaded, "identifier-missing")[0].message


def test_who_is_not_drawn_needs_no_identifier(load_rows):
    loaded = load_rows(row("A1", "1"), row("A2", "2", "Brandt,Ole,", "5", "CBC,,cancelled"), head=HEAD, round_date=DAY)
    assert found(loaded, "identifier-missing") == []


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Okafor,Ada,1960-05-31", "Okafor,Ole,1950-01-01"),
        ("OKAFOR,Ada,1960-05-31", "okáfor,Ole,1950-01-01"),
        ("Quill,Ann,1960-05-31", "Quill,Anna,1961-05-31"),
        ("Meyer,Ann,1960-05-31", "Meier,Ann,1960-05-31"),
    ],
)
def test_names_alike_are_alerts_that_name_the_bed_only(load_rows, one, other):
    loaded = load_rows(row("A1", "1", one), row("A2", "2", other, "5"), head=HEAD, round_date=DAY)
    patients = loaded.problem.patients
    assert patients["1"].alerts == ("name alert: similar name in bed 5",)
    assert patients["2"].alerts == ("name alert: similar name in bed 4",)
    (finding,) = found(loaded, "name-alike")
    assert finding.severity is Severity.NOTE
    assert "beds 4, 5" in finding.message
    assert not any(word.casefold() in finding.message.casefold() for word in one.split(",")[:1])


@pytest.mark.parametrize("other", ["Quill,Ann,1960-05-31", "quill,ANN,1960-05-31", "Ann,Quill,1960-05-31"])
def test_one_name_and_birth_date_of_two_numbers_is_a_decision(load_rows, other):
    """Both spoken identifiers fit both patients, on wards with equal bed numbers; only the number tells them apart."""
    head = "order_number,patient_number,family_name,given_name,birth_date,ward,bed,test"
    wards = ("Heron", "Kite (South)", "Rail, East", "North")
    rows = [f'B{n},{n + 5},Okafor{n},Ada,1950-01-0{n + 1},"{ward}",4,CBC' for n, ward in enumerate(wards)]
    twins = ['A1,1,Quill,Ann,1960-05-31,"Rail, East",5,CBC', f"A2,2,{other},Tern,5,CBC"]
    loaded = load_rows(*rows, *twins, head=head, round_date=DAY)
    (finding,) = found(loaded, "identity-shared")
    assert finding in to_decide(loaded.findings)
    assert finding.order_ids == ("A1", "A2")
    assert "quill" not in finding.message.casefold()
    patients = loaded.problem.patients
    said = "name alert: SAME NAME AND BIRTH DATE in bed {}; read the number digit by digit"
    assert patients["1"].alerts == (said.format("Tern 5"),)
    assert patients["2"].alerts == (said.format("Rail, East 5"),)


@pytest.mark.parametrize(
    "other", ["Brandt,Ada,1960-05-31", "Okafors,Ole,1950-01-01", "Meier,Ann,1961-05-31", ",,1960-05-31"]
)
def test_other_names_are_no_alert(load_rows, other):
    loaded = load_rows(row("A1", "1"), row("A2", "2", other, "5"), head=HEAD, round_date=DAY)
    assert [p.alerts for p in loaded.problem.patients.values()] == [(), ()]


def test_names_in_one_column_are_compared(load_text):
    text = "order no,mrn,patient name,dob,bed,test\nA1,1,Ann Quill,1960-05-31,4,CBC\nA2,2,Bo Quill,1971-01-02,5,CBC\n"
    loaded = load_text(text, round_date=DAY)
    assert loaded.problem.patients["1"].alerts == ("name alert: similar name in bed 5",)


def test_name_of_half_the_list_is_a_filler(load_rows):
    rows = [row(f"A{n}", str(n), f"Unknown,Given{n},{1940 + n}-05-31", f"{n}") for n in range(1, 42)]
    loaded = load_rows(*rows, head=HEAD, round_date=DAY)
    assert found(loaded, "name-alike") == []


def test_one_name_with_two_birth_dates_is_said_to_be_the_same_name(load_rows):
    head = "order_number,patient_number,family_name,given_name,birth_date,ward,bed,test"
    rows = [
        "A1,1,Quill,Ann,1960-05-31,Heron,4,CBC",
        'A2,2,quill,Ann,1971-01-02,"Rail, East",4,CBC',
        "A3,3,Quill,Berta,1975-01-02,Tern,4,CBC",
    ]
    patients = load_rows(*rows, head=head, round_date=DAY).problem.patients
    assert patients["1"].alerts == (
        "name alert: SAME NAME in bed Rail, East 4",
        "name alert: similar name in bed Tern 4",
    )


def test_same_name_and_birth_date_leaves_the_alert_of_a_similar_name_standing(load_rows):
    """Three of one family name on three wards: two of one birth date, the third a sister of neither."""
    head = "order_number,patient_number,family_name,given_name,birth_date,ward,bed,test"
    rows = [
        "A1,1,Quill,Ann,1960-05-31,Heron,4,CBC",
        'A2,2,Quill,Ann,1960-05-31,"Rail, East",4,CBC',
        "A3,3,Quill,Berta,1971-01-02,Tern,4,CBC",
    ]
    patients = load_rows(*rows, head=head, round_date=DAY).problem.patients
    assert patients["1"].alerts == (
        "name alert: SAME NAME AND BIRTH DATE in bed Rail, East 4; read the number digit by digit",
        "name alert: similar name in bed Tern 4",
    )
    assert len(patients["3"].alerts) == 1
