"""Values of the laboratory catalogue: where each comes from, and facts of handbooks that must not be lost again."""

from __future__ import annotations

import csv
import re
from io import StringIO
from pathlib import Path

import pytest

from planner.domain.catalogue import CountsFrom, Handling, LabTest, TestCode, TubeCode
from planner.loaders.catalogue.load import load_catalogue, read_laboratory_text

CATALOGUE = load_catalogue()[0]
ROWS = {row["test"]: row for row in csv.DictReader(StringIO(read_laboratory_text("tests.csv")))}
SOURCES = read_laboratory_text("SOURCES.md")
README = Path(__file__).parents[4] / "README.md"

MOST_FROM_MEMORY = 50
"""Rows of which neither tube nor limit was read in a source. It was 118 of 204; it may fall, never rise."""

MOST_HALF_READ = 38
"""Rows of which one of the two was read. It may fall, never rise."""


def lab_test(code: str) -> LabTest:
    return CATALOGUE.tests[TestCode(code)]


def test_fewer_values_are_from_memory_and_none_is_unmarked() -> None:
    marks = [row["verified"] for row in ROWS.values()]
    assert set(marks) == {"seen", "part", "memory"}
    assert marks.count("memory") <= MOST_FROM_MEMORY
    assert marks.count("part") <= MOST_HALF_READ


def test_mark_agrees_with_the_source_of_the_row() -> None:
    # A row that was read names a key of SOURCES.md; one from memory says so, and says of what practice.
    for code, row in ROWS.items():
        keys = re.findall(r"\b[PL]\d+\b", row["source"])
        if row["verified"] == "seen":
            assert keys, code
        if row["verified"] == "memory":
            assert "memory" in row["source"], code
        assert [key for key in keys if f"**{key}**" not in SOURCES] == [], code


def test_every_key_of_the_sources_is_there_once() -> None:
    keys = re.findall(r"^- \*\*([PL]\d+)\*\*", SOURCES, flags=re.MULTILINE)
    assert len(keys) == len(set(keys))


def test_child_volume_is_no_more_than_the_adult_one_and_fits_a_tube_for_children() -> None:
    for code, test in CATALOGUE.tests.items():
        child_ul = test.child_min_volume_ul
        if child_ul is None:
            continue
        assert 0 < child_ul <= test.min_volume_ul, code
        kinds = [CATALOGUE.tubes[kind] for kind in test.accepts[0]]
        each = child_ul / max(test.containers, len(kinds))
        assert all(any(size.draw_ul >= each for size in kind.sizes) for kind in kinds), code


@pytest.mark.parametrize("code", ["TS", "XM", "ABSC", "ABO", "DAT", "ZN", "CU", "SE", "PB"])
def test_infant_gives_no_more_than_a_millilitre(code: str) -> None:
    # L43 South Tees (transfusion: child and infant 1 mL); L36 Univ. Iowa (zinc: at least 0.5 mL of plasma).
    test = lab_test(code)
    assert test.child_min_volume_ul is not None
    smallest = [min(s.draw_ul for s in CATALOGUE.tubes[kind].sizes if s.draw_ul >= test.child_min_volume_ul)
                for kind in test.accepts[0]]  # fmt: skip
    assert max(smallest) <= 1000


def test_limits_by_tube_name_tubes_of_the_test_and_only_shorten() -> None:
    for code, test in CATALOGUE.tests.items():
        kinds = {kind for alternative in test.accepts for kind in alternative}
        for limit in test.tube_limits:
            assert limit.tube in kinds, code
            for here, usual in ((limit.max_room_s, test.max_room_s), (limit.max_ice_s, test.max_ice_s)):
                assert here is None or usual is None or here <= usual, code


def test_second_choice_tubes_have_their_own_limit() -> None:
    # P14 Hanon 2013 (hormone stable in EDTA, not in serum); P15 Bonetti 2016 (glucose falls without fluoride).
    limits = {code: {limit.tube: limit for limit in lab_test(code).tube_limits} for code in ("PTH", "FGLU", "OGTT75")}
    assert limits["PTH"]["SERG"].max_room_s == 7200
    assert limits["FGLU"]["HEPG"].max_room_s == limits["OGTT75"]["HEPG"].max_room_s == 1800


def test_every_accepted_alternative_carries_a_limit_in_its_mode() -> None:
    # Cards dry in the air and beta-lactams, warm and prechilled tests have their own mode: each test says how long.
    without = {
        code
        for code, test in CATALOGUE.tests.items()
        if any(test.stability_in(kind) is None for alternative in test.accepts for kind in alternative)
    }
    assert without == {"NBS", "ACYL"}


def test_series_and_dynamic_tests() -> None:
    one_kind = {code for code, test in CATALOGUE.tests.items() if test.one_kind_in_series}
    assert one_kind == {"TNI", "TNT", "TRYP"}  # P51 (troponin differs between serum and plasma)
    assert lab_test("OGTT75").counts_from is CountsFrom.DRINK  # L25: the clock starts at the first sip
    assert lab_test("STIM250").counts_from is CountsFrom.INJECTION  # L34
    assert all(test.serial_offsets for test in CATALOGUE.tests.values() if test.counts_from is not None)


def test_no_gel_where_handbooks_refuse_it() -> None:
    # L54 Beaumont, L116 (anti-epileptics); L5 UCSF, L105 Canterbury (amikacin); L94 Waikato (levetiracetam);
    # L5, L39, L113 (antifungals); L54, L18 (clozapine); L69, L36 (amiodarone); L54 (heparin-induced antibodies).
    refused = "PHT CBZ PHENO THEO VPA AMIKT AMIKP AMIKX LEV LTG FPHT VORI POSA ITRA CLOZ AMIOD MPA HIT CH50"
    for code in refused.split():
        kinds = {kind for alternative in lab_test(code).accepts for kind in alternative}
        assert not [kind for kind in kinds if CATALOGUE.tubes[kind].has_gel], code


def test_lead_takes_the_metal_free_tube_alone() -> None:
    assert lab_test("PB").accepts == (("EDTT",),)  # L115: lavender refused or redrawn


def test_every_citrate_test_keeps_clear_of_heparin_lines() -> None:
    # L18 Michigan (LMWH page); heparin spoils clotting times, fibrinogen and anti-Xa alike.
    citrate = [t for t in CATALOGUE.tests.values() if ("CIT",) in t.accepts and t.section == "coagulation"]
    assert len(citrate) > 25
    assert [t.code for t in citrate if Handling.NO_HEPARIN_LINE not in t.handling] == []


def test_panels_with_glucose_wait_no_longer_than_glucose() -> None:
    # P15 Bonetti 2016: glucose falls by 5 to 7 % an hour on cells.
    glucose_s = lab_test("GLU").max_room_s
    assert {lab_test(code).max_room_s for code in ("BMP", "CMP", "RENAL")} == {glucose_s} == {3600}


def test_no_fast_holds_a_sample_of_a_crisis() -> None:
    # L114 (hypoglycaemia pages): insulin and C-peptide are taken in the attack, fed or not.
    assert not any(lab_test(code).fasting_required for code in ("INS", "CPEP", "PYR"))


def test_second_group_sample_shares_no_tube() -> None:
    # L43 and L51 after BSH 2012: another puncture, the identity checked again.
    assert lab_test("ABO2").share_group is None
    assert lab_test("ABO2").loinc == "" and lab_test("ABO").loinc == "882-1"


def test_bedside_words_are_short_and_plain() -> None:
    for code, test in CATALOGUE.tests.items():
        assert len(test.bedside) <= 140, code
        assert not test.bedside or test.bedside.endswith((".", "?")), code
    # Who gives the drink or the injection, and that the later samples count from it, the card says by itself.
    assert lab_test("OGTT75").counts_from is CountsFrom.DRINK and not lab_test("OGTT75").bedside
    assert lab_test("STIM250").counts_from is CountsFrom.INJECTION and not lab_test("STIM250").bedside
    assert "aerobic first" in CATALOGUE.tubes[TubeCode("BCN")].bedside and not lab_test("BC").bedside


def test_readme_counts_the_catalogue() -> None:
    text = README.read_text(encoding="utf-8")
    counts = re.findall(r"(\d+) tests, (\d+) kinds of container", text)
    assert counts == [(str(len(CATALOGUE.tests)), str(len(CATALOGUE.tubes)))]
