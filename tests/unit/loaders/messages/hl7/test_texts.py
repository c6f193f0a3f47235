"""Text of messages: escapes, character sets, names, numbers with their authority, places, fasting and notes."""

from __future__ import annotations

import pytest

from planner.loaders.messages.hl7.escapes import Separators, separators_of, unescape
from tests.helpers import codes
from tests.unit.loaders.messages.hl7.ward import PATIENT, message, order, planned, read, reasons, segment

DEFAULT = Separators()


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # HL7 v2.5.1 chapter 2.7: use of escape sequences in text fields
        (r"a\F\b\S\c\T\d\R\e\E\f", "a|b^c&d~e\\f"),
        (r"one\.br\two\.sp\three", "one\ntwo\nthree"),
        (r"\H\loud\N\ quiet", "loud quiet"),
        (r"caf\XC3A9\ ", "café "),
        (r"\Z12\ stays", r"\Z12\ stays"),
        (r"unknown \Q\ stays", r"unknown \Q\ stays"),
        (r"never closed \T", r"never closed \T"),
        (r"C:\temp\F\x", r"C:\temp|x"),
        ("plain", "plain"),
    ],
)
def test_escapes(text, expected):
    assert unescape(text, DEFAULT) == expected


@pytest.mark.parametrize("header", ["MSH", "MSH|", "MSH|^|", "MSH|^^\\&|", "MSH|abc|", "MSH|^~\\&#x|", "MSHx^~\\&x"])
def test_headers_without_usable_separators(header):
    assert separators_of(header) is None


def test_three_characters_declare_no_escape_character():
    assert separators_of("MSH|^~&|A") == Separators("|", "^", "~", "", "&", "")
    assert unescape("a\\T\\b", Separators(escape="")) == "a\\T\\b"


def test_texts_are_unescaped_after_splitting(tmp_path):
    note = r"NTE|1|L|left \T\ right\.br\a \F\ b"
    assert planned(read(tmp_path, message(order(more=[note]))))["N1"].note == "left & right / a | b"


@pytest.mark.parametrize(
    ("charset", "codec", "is_guess"),
    [
        ("UNICODE UTF-8", "utf-8", False),
        ("", "utf-8", False),
        ("8859/1", "cp1252", False),
        ("8859/2", "iso8859-2", False),
        ("", "cp1252", True),
        ("8859/1", "utf-8", True),
        ("ASCII", "cp1252", True),
        ("NO SUCH", "cp1252", True),
    ],
)
def test_character_sets(tmp_path, charset, codec, is_guess):
    # HL7 table 0211
    text = message(order(), patient=PATIENT.replace("Moss", "Möß")).replace("|P|2.5.1", f"|P|2.5.1||||||{charset}")
    loaded = read(tmp_path, text.encode(codec))
    assert loaded.problem is not None
    (patient,) = loaded.problem.patients.values()
    assert patient.family_name == "Möß"
    assert ("message-charset" in codes(loaded)) == is_guess


def patient_of(loaded):
    (patient,) = loaded.problem.patients.values()
    return patient


@pytest.mark.parametrize("name", ["NULL", "None", "NA", "O'Neil", "van der Berg"])
def test_odd_surnames_survive(tmp_path, name):
    loaded = read(tmp_path, message(order(), patient=PATIENT.replace("Moss", name)))
    assert patient_of(loaded).family_name == name


def test_the_legal_name_and_the_record_number_are_chosen(tmp_path):
    patient = segment(
        "PID", f3="999^^^NAT^NI~0000417^^^HILL^MR", f5="Nick^Name^^^^^N~Moss&van&Moss^Ada^B^^^^L", f7="1952"
    )
    found = patient_of(read(tmp_path, message(order(), patient=patient)))
    assert (found.id, found.family_name, found.given_name) == ("0000417", "Moss", "Ada")


@pytest.mark.parametrize(("text", "born"), [("1952", "1952"), ("195203", "1952-03"), ("1952+0200", "1952")])
def test_a_birth_date_without_a_day_is_used_as_far_as_it_goes(tmp_path, text, born):
    # HL7 v2.5.1, 2.A.22 DTM: YYYY[MM[DD...]] with an offset.
    loaded = read(tmp_path, message(order(), patient=PATIENT.replace("19520309", text)))
    assert patient_of(loaded).birth_date.isoformat() == born
    assert "birth-date-partial" in codes(loaded)


def test_a_birth_date_with_time_and_offset_is_a_date(tmp_path):
    loaded = read(tmp_path, message(order(), patient=PATIENT.replace("19520309", "195203091126+0215")))
    assert str(patient_of(loaded).birth_date) == "1952-03-09"


def test_two_authorities_with_one_number_are_two_patients(tmp_path):
    other = PATIENT.replace("^^^HILL", "^^^DALE").replace("Moss", "Fern").replace("1952", "1960")
    second = message(order("N2"), control="M2", patient=other, visit="PV1|1|I|Birch^04^B^HILL")
    loaded = read(tmp_path, message(order("N1")), second)
    assert {o.patient_id for o in planned(loaded).values()} == {"0000417@HILL", "0000417@DALE"}
    assert "authority-differs" in codes(loaded)


def test_one_number_with_two_birth_dates_is_an_identity_conflict(tmp_path):
    second = message(order("N2"), control="M2", patient=PATIENT.replace("1952", "1960"))
    assert set(reasons(read(tmp_path, message(order("N1")), second)).values()) == {"identity-conflict"}


@pytest.mark.parametrize(
    ("place", "ward", "bed"),
    [
        ("Birch^04^A^HILL", "Birch", "04-A"),
        ("Birch^^12", "Birch", "12"),
        ("Birch^Room 4^Bed 2", "Birch", "4-2"),
        ("PREOP^101^1^1^^^S", "PREOP", "101-1"),
        ("Birch^04", "Birch", "04"),
    ],
)
def test_places(tmp_path, place, ward, bed):
    found = patient_of(read(tmp_path, message(order(), visit=f"PV1|1|I|{place}")))
    assert (found.ward, found.bed.rpartition("/")[2]) == (ward, bed)


@pytest.mark.slow
@pytest.mark.parametrize("visit", ["", "PV1|1|I", "PV1|1|I|Birch", "PV1|1|I|^^^HILL"])
def test_a_patient_without_a_bed_needs_a_decision(tmp_path, visit):
    assert reasons(read(tmp_path, message(order(), visit=visit))) == {"N1": "no-bed"}


def test_the_temporary_place_wins_while_it_is_filled(tmp_path):
    visit = segment("PV1", f2="I", f3="Birch^04^A", f11="Oak^01^B")
    assert patient_of(read(tmp_path, message(order(), visit=visit))).ward == "Oak"


def test_the_newest_message_tells_the_bed(tmp_path):
    moved = message(order("N2"), control="M2", sent="20260309200000+0100", visit="PV1|1|I|Birch^07^B")
    loaded = read(tmp_path, moved, message(order("N1")))
    assert patient_of(loaded).bed.rpartition("/")[2] == "07-B"
    assert "patient-moved" in codes(loaded)


def test_the_bed_is_called_as_the_place_table_calls_it(tmp_path):
    places = "place,ward,kind,x_m,y_m\n04A,Birch,bed,5,0\nBase,Birch,base,0,0\nLab,,laboratory,9,9\n"
    loaded = read(tmp_path, message(order()), places_csv=places)
    assert patient_of(loaded).bed == "04A"


def test_allergies_and_patient_notes_are_alerts(tmp_path):
    text = message("AL1|1|MA|LATEX^Latex^L|SV", "NTE|1|L|hard of hearing", order())
    assert patient_of(read(tmp_path, text)).alerts == ("allergy: Latex", "hard of hearing")


def test_a_coded_weight_is_read_with_its_unit(tmp_path):
    weight = segment("OBX", f2="NM", f3="29463-7^Body weight^LN", f5="12400", f6="g")
    assert patient_of(read(tmp_path, message(order(more=[weight])))).weight_g == 12_400


@pytest.mark.parametrize(
    ("text", "fasting"),
    [
        # HL7 table 0916: F fasting, NF not fasting, FNA not asked, NG not given
        ("F^Patient was fasting^HL70916", True),
        ("NF^Not fasting^HL70916", False),
        ("FNA^Not asked^HL70916", None),
        ("NG^Not given^HL70916", None),
        ("FNA Fasting not asked of the patient at time of procedure", None),
        ("F", True),
        ("Fever since Monday", None),
    ],
)
def test_fasting_by_code(tmp_path, text, fasting):
    assert planned(read(tmp_path, message(order(obr={"f13": text}))))["N1"].fasting is fasting


@pytest.mark.parametrize(("value", "fasting"), [("Y^Yes^HL70136", True), ("N", False), ("LA33-6^Yes^LN", True)])
def test_fasting_by_observation(tmp_path, value, fasting):
    # LOINC 49541-6, fasting status - reported; answers of HL7 table 0136 or LOINC
    seen = segment("OBX", f2="CWE", f3="49541-6^Fasting status^LN", f5=value)
    assert planned(read(tmp_path, message(order(more=[seen]))))["N1"].fasting is fasting


def test_fasting_both_ways_is_planned_as_fasting_and_said(tmp_path):
    seen = segment("OBX", f2="CWE", f3="49541-6^Fasting status^LN", f5="N")
    loaded = read(tmp_path, message(order(obr={"f13": "F"}, more=[seen])))
    assert planned(loaded)["N1"].fasting is True
    assert "fasting-conflict" in codes(loaded)


@pytest.mark.parametrize("place", ["tq1", "nte", "obr13"])
def test_fasting_in_free_text_is_shown_and_never_acted_upon(tmp_path, place):
    words = "Fasting Sugar"
    given = {"tq1": {"tq1": {"f11": words}}, "nte": {"more": [f"NTE|1|L|{words}"]}, "obr13": {"obr": {"f13": words}}}
    loaded = read(tmp_path, message(order(**given[place])))
    assert planned(loaded)["N1"].fasting is None
    assert words in planned(loaded)["N1"].note
    assert "fasting-in-text" in codes(loaded)


@pytest.mark.parametrize(
    ("test", "code"),
    [
        ("CBC^Full blood count^L^58410-2^CBC panel^LN", "CBC"),
        ("58410-2^CBC panel^LN", "CBC"),
        ("LOCAL9^Glucose, fasting^L^1558-6^Fasting glucose^LN", "FGLU"),
        ("1558-6^Fasting glucose^LN^LOCAL9^Local^L", "FGLU"),
        ("CREA^Creatinine^^CREA", "CREA"),
    ],
)
def test_the_sites_own_code_if_known_else_loinc(tmp_path, test, code):
    assert planned(read(tmp_path, message(order(test=test))))["N1"].test == code


def test_codes_that_mean_different_tests_are_said(tmp_path):
    loaded = read(tmp_path, message(order(test="CREA^Creatinine^L^58410-2^CBC panel^LN")))
    assert planned(loaded)["N1"].test == "CREA"
    assert "test-codes-differ" in codes(loaded)


def test_a_test_in_words_only_is_taken_if_they_are_the_catalogues_and_said(tmp_path):
    loaded = read(tmp_path, message(order(test="^Creatinine")))
    assert planned(loaded)["N1"].test == "CREA"
    assert "test-by-text" in codes(loaded)


def test_an_unknown_code_is_never_split_into_known_ones(tmp_path):
    loaded = read(tmp_path, message(order(test="X9^CBC, CREA^L")))
    assert reasons(loaded) == {"N1": "unknown-test"}


def test_findings_never_show_names_or_birth_dates(tmp_path):
    texts = message(order("N1", test="NOPE")) + message(
        order("N1"), control="M2", patient=PATIENT.replace("1952", "1960")
    )
    loaded = read(tmp_path, texts)
    shown = " ".join(str(f) for f in loaded.findings)
    assert "Moss" not in shown
    assert "1952" not in shown
