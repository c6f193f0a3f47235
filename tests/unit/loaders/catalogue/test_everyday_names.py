"""Everyday names of tests: what a ward writes is found, what can mean several tests is asked about."""

from __future__ import annotations

import csv
import time
from datetime import date
from io import StringIO

import pytest

from planner.domain.plan import Reason
from planner.findings import Severity
from planner.loaders.catalogue.counts import split_count
from planner.loaders.catalogue.load import load_catalogue, read_laboratory_text
from planner.loaders.catalogue.lookup import TestLookup
from planner.loaders.tables.headings import plain

DAY = date(2026, 3, 4)
CATALOGUE = load_catalogue()[0]
GOOD = "A1,0000123,Okafor,Ada,1960-05-31,4,CBC,routine,"


@pytest.fixture(scope="module")
def tests() -> TestLookup:
    return TestLookup(CATALOGUE)


@pytest.mark.parametrize(
    ("name", "code"),
    [
        ("CBC with differential", "CBCD"), ("CBC w/ diff", "CBCD"), ("Complete blood count", "CBC"), ("FBC", "CBC"),
        ("Lactate", "LACT"), ("Lactic acid", "LACT"), ("LDH", "LDH"), ("PTT", "APTT"), ("INR", "PT"), ("PT/INR", "PT"),
        ("Vanc trough", "VANCT"), ("Vancomycin trough level", "VANCT"), ("Vancomycin, trough", "VANCT"),
        ("Group and save", "TS"), ("Type and screen", "TS"), ("T&S", "TS"), ("T/S", "TS"), ("Crossmatch", "XM"),
        ("Hemoglobin A1c", "HBA1C"), ("Haemoglobin A1c", "HBA1C"), ("Liver function tests", "LFT"), ("LFTs", "LFT"),
        ("U&E", "RENAL"), ("U/E", "RENAL"),
        ("U and E", "RENAL"), ("Us and Es", "RENAL"), ("blood C and S", "BC"),
        ("Fasting glucose", "FGLU"), ("Glucose", "GLU"), ("Phosphorus", "PHOS"),
        ("Electrolytes", "LYTES"), ("MG", "MAGN"), ("K", "POT"), ("K+", "POT"), ("NA", "SOD"), ("Na+", "SOD"),
        ("Ca++", "CALC"), ("Troponin T", "TNT"), ("hs-TnI", "TNI"), ("Blood cultures", "BC"), ("Harnstoff", "UREA"),
        ("Großes Blutbild", "CBCD"), ("Kalium", "POT"), ("Hémoculture", "BC"), ("potasio", "POT"), ("T4 libre", "FT4"),
        ("Potassium, serum", "POT"), ("Serum potassium", "POT"), ("Potassium (serum)", "POT"), ("IgG/IgA/IgM", "IGS"),
        ("Digoxin level", "DIG"), ("C3/C4", "C3C4"), ("HLA B27", "HLAB27"), ("FT 4", "FT4"), ("17-OHP", "OHP17"),
        ("Cyclosporine", "CYA"), ("Ciclosporin", "CYA"), ("Acetaminophen", "APAP"), ("Estradiol", "E2"),
        ("cbc", "CBC"), ("2823-3", "POT"), ("TG", "TG"),
        ("platelet count", "PLT"), ("Hb", "HGB"), ("bicarbonate", "HCO3"),
        ("chloride", "CHLOR"), ("Kleihauer", "FMH"), ("factor IX", "FIX"), ("haemoglobin electrophoresis", "HBFRAC"),
    ],
)  # fmt: skip
def test_everyday_name_is_found(tests, name, code):
    assert tests.find(name) == code
    assert tests.several(name) == [name]


@pytest.mark.parametrize(
    ("name", "codes"),
    [
        ("Troponin", "TNI TNT"), ("hs-troponin", "TNI TNT"), ("Vancomycin", "VANCT VANCP VANCR"),
        ("Vancomycin level", "VANCT VANCP VANCR"),
        ("Gentamicin", "GENTT GENTP GENTX"), ("Cortisol", "CORTAM CORT"),
        ("Anti-Xa", "AXAL AXAU FONDA RIVAX APIX EDOX"),
        ("Blood gas", "VBG ABG"), ("Blood group", "ABO TS XM"), ("Amikacin", "AMIKT AMIKP AMIKX"),
        ("TFT", "TSH FT4 FT3"),
    ],
)  # fmt: skip
def test_name_of_several_tests_is_asked_about(tests, name, codes):
    assert tests.find(name) is None
    assert tests.meaning(name).tests == tuple(codes.split())
    assert all(f"{code} (" in tests.hint(name) for code in codes.split())


@pytest.mark.parametrize(
    "name", ["Haemoglobin, plasma", "Plasma hemoglobin", "C, K", "Potassium urine", "X", "RBC magnesium"]
)
def test_other_name_is_not_taken_for_a_test(tests, name):
    assert tests.meaning(name) is None


@pytest.mark.parametrize(
    ("cell", "parts"),
    [
        ("PT/PTT", ["PT", "PTT"]), ("Na/K", ["Na", "K"]), ("CBC, U&E; PT/INR", ["CBC", "U&E", "PT", "INR"]),
        ("CBC + Troponin", ["CBC", "Troponin"]), ("Troponin, Vancomycin", ["Troponin", "Vancomycin"]),
        ("Vancomycin, whatever", ["Vancomycin, whatever"]), ("Blood culture x2, CRP", ["Blood culture x2", "CRP"]),
    ],
)  # fmt: skip
def test_list_in_a_cell_is_taken_apart(tests, cell, parts):
    assert tests.several(cell) == parts


@pytest.mark.parametrize(
    ("text", "code"),
    [("Potassium repeat please", "POT"), ("Potasium", "POT"), ("Vanc trouhg", "VANCT"), ("CBX", "CBC")],
)
def test_suggestion_uses_the_names(tests, text, code):
    assert f"{code} (" in tests.hint(text)


def test_two_letters_get_no_guess(tests):
    assert "CK" not in tests.hint("KX")


def rows() -> list[dict[str, str]]:
    return list(csv.DictReader(StringIO(read_laboratory_text("names.csv"))))


def test_list_of_names_is_sound():
    codes = {plain(code): code for code in CATALOGUE.tests}
    names: dict[str, str] = {}
    for row in rows():
        key = plain(row["name"])
        assert set(row["tests"].split(";")) <= set(CATALOGUE.tests), row
        assert row["ask"] or ";" not in row["tests"], row
        assert codes.get(key, row["tests"]) == row["tests"], f"{row} is hidden by a code"
        assert names.setdefault(key, row["tests"]) == row["tests"], row
    assert len({row["name"] for row in rows()}) == len(rows())


def test_every_test_is_found_by_a_name_of_the_list_or_its_own(tests):
    for code, test in CATALOGUE.tests.items():
        assert tests.find(test.name) == code or test.name == "", code


def test_unclear_name_is_set_aside_with_the_candidates(load_rows):
    loaded = load_rows(GOOD, GOOD.replace("A1", "A2").replace("CBC", "Troponin"), round_date=DAY)
    (aside,) = loaded.problem.set_aside
    assert (aside.order_id, aside.reason) == ("A2", Reason.UNKNOWN_TEST)
    (finding,) = [f for f in loaded.findings if f.severity is Severity.ERROR]
    assert finding.code == "test-unclear"
    assert "TNI (Troponin I, high sensitivity) or TNT (Troponin T, high sensitivity)" in finding.message


def test_code_or_name_that_is_clear_wins_over_one_that_is_not(load_rows):
    head = "order_number,patient_number,bed,test,test name"
    loaded = load_rows("A1,1,4,Vancomycin,Vancomycin trough", head=head, round_date=DAY)
    assert [o.test for o in loaded.problem.orders] == ["VANCT"]


def test_same_unknown_name_is_one_finding_and_every_order_is_listed(load_rows):
    unknown = [GOOD.replace("A1", f"B{n:02}").replace("CBC", "Zorblax") for n in range(1, 26)]
    loaded = load_rows(GOOD, *unknown, round_date=DAY)
    found = [f for f in loaded.findings if f.code == "unknown-test"]
    assert len(found) == 1
    assert len(found[0].order_ids) == 25
    assert "25 orders: B01, B02" in found[0].message
    assert "B20 and 5 more" in found[0].message
    assert len(loaded.problem.set_aside) == 25


@pytest.mark.parametrize(
    ("text", "split"),
    [
        ("Blood culture x2", ("Blood culture", 2)), ("Blood culture x 3", ("Blood culture", 3)),
        ("Blood culture 2 sets", ("Blood culture", 2)), ("Blood cultures (2 sets)", ("Blood cultures", 2)),
        ("2 x Blood culture", ("Blood culture", 2)), ("2 sets of blood cultures", ("blood cultures", 2)),
        ("BCx2", ("BC", 2)), ("Blood culture ×2", ("Blood culture", 2)),
        ("blood cultures two sets", ("blood cultures", 2)),
        ("Blood culture x2 sets", ("Blood culture", 2)), ("Blood culture x20", None), ("CA 125", None), ("B12", None),
    ],
)  # fmt: skip
def test_number_in_a_name(text, split):
    assert split_count(text) == split


def test_culture_sets_become_a_series(load_rows):
    loaded = load_rows(GOOD.replace("CBC", "Blood culture x2"), round_date=DAY)
    assert [(o.id, o.test) for o in loaded.problem.orders] == [("A1.1", "BC"), ("A1.2", "BC")]
    assert len({o.series for o in loaded.problem.orders}) == 1
    assert loaded.problem.orders[0].series
    assert loaded.num_orders_read == 2
    assert "culture-sets-counted" in {f.code for f in loaded.findings}


def test_number_for_another_test_is_a_warning(load_rows):
    loaded = load_rows(GOOD.replace("CBC", "Lactate x3"), round_date=DAY)
    assert [(o.id, o.test) for o in loaded.problem.orders] == [("A1", "LACT")]
    (finding,) = [f for f in loaded.findings if f.code == "count-not-used"]
    assert finding.severity is Severity.WARNING


@pytest.mark.slow
def test_thousands_of_unknown_names_take_no_minutes(load_rows):
    lines = [GOOD.replace("A1", f"N{n}").replace("CBC", f"unheard of analyte {n * 7919}") for n in range(3000)]
    began = time.perf_counter()
    loaded = load_rows(*lines, round_date=DAY)
    assert len(loaded.problem.set_aside) == 3000
    assert time.perf_counter() - began < 15  # a guard against quadratic work, generous for a busy machine
