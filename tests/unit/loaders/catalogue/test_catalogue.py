"""The built-in laboratory catalogue against published tables, and a site's own rows laid over it."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest

import planner
from planner.domain.catalogue import Handling, SizeUse, TestCode, TransportMode, TubeCode
from planner.domain.policy import Policy
from planner.exporters.view.texts import cautions
from planner.findings import Source
from planner.loaders.catalogue.cells import CellError
from planner.loaders.catalogue.load import (
    SiteRow,
    load_catalogue,
    load_handling_words,
    read_laboratory_text,
)
from planner.loaders.catalogue.rows import (
    loinc_check_digit,
    parse_accepts,
    parse_dose_rule,
    parse_serial,
    parse_sizes,
)

CATALOGUE, FINDINGS = load_catalogue()
KINDS = {
    "BCA", "BCN", "BCP", "BCF", "CIT", "ESRC", "SER", "SERG", "SERT", "HEP", "HEPG", "HEPN", "EDTA", "EDTB",
    "EDTT", "FLU", "ACD", "IGR", "GAS", "SPEC", "DIS", "CAPT", "CARD",
}  # fmt: skip


def row(table: str = "tests.csv", **cells: str) -> SiteRow:
    return SiteRow(cells=cells, source=Source(file=table, row=2))


def codes(findings: list) -> list[str]:
    return [finding.code for finding in findings]


def test_every_test_and_tube_kind_is_there_without_a_finding() -> None:
    assert FINDINGS == []
    assert set(CATALOGUE.tubes) == KINDS
    # Tests by bench as the catalogue was collected: they add up to all.
    benches = [test.section for test in CATALOGUE.tests.values()]
    assert {bench: benches.count(bench) for bench in benches} == {
        "chemistry": 70, "toxicology": 47, "microbiology": 36, "coagulation": 32, "endocrine": 31, "immunology": 28,
        "haematology": 19, "special": 19, "blood bank": 10, "blood gas": 6
    }  # fmt: skip
    assert len(CATALOGUE.tests) == 298


def test_check_digit_of_published_examples() -> None:
    # LOINC Users' Guide, appendix on the mod-10 check digit: 12345 has check digit 5. 2345-7 (glucose) and
    # 58410-2 (blood count panel) are codes in everyday use.
    assert loinc_check_digit("12345") == 5
    assert loinc_check_digit("2345") == 7
    assert loinc_check_digit("58410") == 2


def luhn_sum(digits: str) -> int:
    """Return the sum of the Luhn rule (ISO/IEC 7812-1), which the mod-10 rule of LOINC is in other words."""
    doubled = [int(d) * (2 if place % 2 else 1) for place, d in enumerate(reversed(digits))]
    return sum(n // 10 + n % 10 for n in doubled)


def test_every_loinc_code_has_the_right_check_digit() -> None:
    # Written anew here, as the Luhn rule over number and check digit together, not with the program's function.
    wrong = [t.loinc for t in CATALOGUE.tests.values() if luhn_sum(t.loinc.replace("-", "")) % 10]
    assert wrong == []
    assert all(bool(test.loinc) == bool(test.loinc_name) for test in CATALOGUE.tests.values())
    assert sum(bool(test.loinc) for test in CATALOGUE.tests.values()) >= 230


def by_rank() -> list[str]:
    tubes = sorted(CATALOGUE.tubes.values(), key=lambda t: (t.rank, t.rank_within, t.code))
    return [tube.code for tube in tubes]


def test_order_of_draw_is_the_published_sequence() -> None:
    # L1 Univ. of Chicago and L6 Calgary (seen): cultures, citrate, serum (trace serum with it), heparin,
    # EDTA (lavender, pink, trace), fluoride, everything else.
    published = [
        {"BCA", "BCN", "BCP", "BCF"}, {"CIT", "ESRC"}, {"SER", "SERG", "SERT"}, {"HEP", "HEPG", "HEPN"},
        {"EDTA", "EDTB", "EDTT"}, {"FLU"}, {"ACD", "IGR", "SPEC", "CARD"},
    ]  # fmt: skip
    order = [code for code in by_rank() if code not in ("DIS", "GAS", "CAPT")]
    for kinds in published:
        assert set(order[: len(kinds)]) == kinds
        order = order[len(kinds) :]
    assert order == []


def test_order_of_draw_within_a_rank() -> None:
    # Plain serum before gel (order pages, seen); aerobic first with a winged set (L6, seen); the discard tube
    # comes before the first citrate tube (L1, L2, L44, seen).
    order = by_rank()
    for first, second in [("SER", "SERG"), ("BCA", "BCN"), ("DIS", "CIT"), ("CIT", "ESRC"), ("GAS", "EDTA")]:
        assert order.index(first) < order.index(second), f"{first} before {second}"


def test_order_of_draw_is_what_is_taught() -> None:
    # "blood cultures, light blue, red, gold, green, lavender, grey" (common practice, no source).
    closure = {tube.code: tube.closure for tube in CATALOGUE.tubes.values()}
    taught = ["culture bottle", "light blue", "red", "gold", "green", "lavender", "grey"]
    said = list(dict.fromkeys(closure[code] for code in by_rank() if closure[code] in taught))
    assert said == taught


def test_inversions_are_those_of_the_sources() -> None:
    # L1 (seen): 8-10 for heparin, EDTA, fluoride. L80 (seen, rows unclear): serum 5-6. L57: kit shaken 10 times.
    # From memory: citrate 3-4, culture bottles 4-5, black citrate, metal-free serum and ACD 8, syringe rolled.
    expected = {
        "BCA": "4-5", "BCN": "4-5", "BCP": "4-5", "BCF": "4-5", "CIT": "3-4", "ESRC": "8", "SER": "5-6",
        "SERG": "5-6", "SERT": "8", "HEP": "8-10", "HEPG": "8-10", "HEPN": "8-10", "EDTA": "8-10", "EDTB": "8-10",
        "EDTT": "8-10", "FLU": "8-10", "ACD": "8", "IGR": "shake 10", "GAS": "roll 10 s", "DIS": "0",
        "SPEC": "as the laboratory says", "CAPT": "roll 10 s", "CARD": "0",
    }  # fmt: skip
    assert {tube.code: tube.inversions for tube in CATALOGUE.tubes.values()} == expected


def test_where_sources_and_practice_disagree_on_inversions_is_known_and_written_down() -> None:
    # "at least 8 gentle inversions for tubes with additive" (common practice, no source). The sources' ranges
    # end below 8 for exactly these kinds; the catalogue keeps the sources and SOURCES.md says so.
    below = {
        tube.code
        for tube in CATALOGUE.tubes.values()
        if tube.has_additive and all(part.isdigit() for part in tube.inversions.split("-"))
        if int(tube.inversions.split("-")[-1]) < 8
    }
    assert below == {"BCA", "BCN", "BCP", "BCF", "CIT", "SER", "SERG"}
    text = read_laboratory_text("SOURCES.md")
    assert "at least 8 gentle inversions" in text
    assert "bottles 4-5 and citrate 3-4" in text and "serum tubes 5-6" in text


def test_sizes_lie_in_the_ranges_of_the_trade() -> None:
    # Ranges in mL as collected (L44, L4, L43, L51, L57; the rest from memory): adult and small, then child.
    ranges = {
        "BCA": ((8, 10), (1, 4)), "BCN": ((8, 10), (0.5, 5)), "BCP": (None, (1, 4)), "BCF": ((5, 10), (1, 5)),
        "CIT": ((1.8, 2.7), (1.0, 1.4)), "ESRC": ((1.6, 2.4), None), "SER": ((4, 6), (1, 2)),
        "SERG": ((3.5, 5), (0.5, 2.5)), "SERT": ((6, 6), (1, 2)), "HEP": ((4, 4), (1, 2)),
        "HEPG": ((3, 4.5), (0.5, 1.1)), "HEPN": ((4, 10), (2, 2)), "EDTA": ((3, 4), (0.5, 1.3)),
        "EDTB": ((6, 6), (1, 2)), "EDTT": ((6, 6), (1, 2)), "FLU": ((2, 4), (1.1, 1.1)), "ACD": ((6, 8.5), None),
        "IGR": ((1, 1), None), "GAS": ((1, 3), (0.3, 1)), "DIS": ((1, 2), (0.5, 1)),
        "CAPT": (None, (0.1, 0.2)), "CARD": (None, (0.2, 0.3)),
    }  # fmt: skip
    for code, (adult, child) in ranges.items():
        sizes = CATALOGUE.tubes[TubeCode(code)].sizes
        assert list(sizes) == sorted(sizes, key=lambda size: size.draw_ul)
        assert any(size.use is SizeUse.ADULT for size in sizes) == (adult is not None), code
        assert any(size.use is SizeUse.CHILD for size in sizes) == (child is not None), code
        for size in sizes:
            if size.use is SizeUse.CAPILLARY:  # fill lines of small open tubes
                assert 200 <= size.draw_ul <= 1000, f"{code} {size.draw_ul} uL"
                continue
            low, high = (child if size.use is SizeUse.CHILD else adult) or (0, 0)
            assert low * 1000 <= size.draw_ul <= high * 1000, f"{code} {size.draw_ul} uL"
    small = {code for code, tube in CATALOGUE.tubes.items() if any(s.use is SizeUse.SMALL for s in tube.sizes)}
    assert small >= {"CIT", "SER", "SERG", "HEPG", "EDTA", "FLU"}


def test_discard_sizes_agree_with_the_policy() -> None:
    by_use = {size.use: size.draw_ul for size in CATALOGUE.tubes[TubeCode("DIS")].sizes}
    policy = Policy().tubes
    assert by_use == {SizeUse.ADULT: policy.discard_adult_ul, SizeUse.CHILD: policy.discard_child_ul}


def test_flags_of_the_kinds() -> None:
    def kinds(flag: str) -> set[str]:
        return {tube.code for tube in CATALOGUE.tubes.values() if getattr(tube, flag)}

    assert kinds("filled_to_need") == {"BCA", "BCN", "BCP", "BCF", "SPEC", "CAPT", "CARD"}
    assert kinds("is_culture") == {"BCA", "BCN", "BCP", "BCF"}
    assert kinds("has_gel") == {"SERG", "HEPG"}
    assert kinds("has_lithium_heparin") == {"HEP", "HEPG", "GAS", "CAPT"}
    assert {t.code: t.clot_minutes for t in CATALOGUE.tubes.values() if t.clot_minutes} == {
        "SER": 60, "SERT": 60, "SERG": 30,
    }  # fmt: skip


def test_facts_of_single_tests_are_read() -> None:
    tests = CATALOGUE.tests
    lithium = tests[TestCode("LI")]  # 690 to 750 min after the dose, never a lithium-heparin tube [L15]
    assert lithium.dose_rule is not None
    assert (lithium.dose_rule.from_s, lithium.dose_rule.to_s) == (690 * 60, 750 * 60)
    assert lithium.accepts == (("SER",), ("SERG",))
    culture = tests[TestCode("BC")]  # 10 mL in each of two bottles [L6]
    assert culture.accepts == (("BCA", "BCN"), ("BCP",))
    assert (culture.min_volume_ul, culture.containers, culture.share_group) == (20_000, 2, None)
    assert culture.is_culture and culture.stability_in(TubeCode("BCA")) == 7200
    ammonia = tests[TestCode("NH3")]  # 30 min on ice
    assert (ammonia.mode, ammonia.stability_in(TubeCode("EDTA")), ammonia.min_fill_pct) == (TransportMode.ICE, 1800, 90)
    troponin = tests[TestCode("TNI")]  # 0 and 60, or 120, or 180 min, 10 min either way [P25]
    assert troponin.serial_offsets == ((0, 3600), (0, 7200), (0, 10_800))
    assert troponin.serial_tolerance_s == 600
    cortisol = tests[TestCode("CORTAM")].clock_rule
    assert cortisol is not None
    assert (cortisol.from_s, cortisol.to_s, cortisol.is_required) == (7 * 3600, 9 * 3600, True)
    assert (tests[TestCode("LIPID")].fasting_s, tests[TestCode("LIPID")].fasting_required) == (43_200, False)
    kit = tests[TestCode("IGRA")]
    assert (kit.containers, kit.min_volume_ul) == (4, 4000)


def test_every_alternative_can_hold_the_test_in_its_containers() -> None:
    # The first alternative has `containers` tubes; the adult size of each must hold its share.
    for test in CATALOGUE.tests.values():
        kinds = [CATALOGUE.tubes[code] for code in test.accepts[0]]
        each = test.min_volume_ul / max(test.containers, len(kinds))
        assert all(each <= max(size.draw_ul for size in kind.sizes) for kind in kinds), test.code
        assert test.containers % len(kinds) == 0, test.code


def test_handling_forbids_no_accepted_kind() -> None:
    for test in CATALOGUE.tests.values():
        for code in {code for alternative in test.accepts for code in alternative}:
            tube = CATALOGUE.tubes[code]
            assert not (Handling.NOT_LITHIUM_HEPARIN in test.handling and tube.has_lithium_heparin), test.code
            assert not (Handling.NO_GEL in test.handling and tube.has_gel), test.code


def test_every_handling_code_has_words_and_every_source_key_is_explained() -> None:
    assert set(load_handling_words()) == set(Handling)
    assert all(load_handling_words().values())
    explained = read_laboratory_text("SOURCES.md")
    table = csv.DictReader(read_laboratory_text("tests.csv").splitlines())
    keys = {word.strip("(),;") for cells in table for word in cells["source"].split()}
    keys = {key for key in keys if key[:1] in "PL" and key[1:].isdigit()}
    assert len(keys) > 50
    assert [key for key in sorted(keys) if f"**{key}**" not in explained] == []


def test_every_source_key_that_the_code_cites_is_explained() -> None:
    explained = read_laboratory_text("SOURCES.md")
    code = "".join(path.read_text(encoding="utf-8") for path in Path(planner.__path__[0]).rglob("*.py"))
    cited = {key for brackets in re.findall(r"\[([PL]\d[^\]]*)\]", code) for key in re.findall(r"[PL]\d+", brackets)}
    assert len(cited) > 5
    assert [key for key in sorted(cited) if f"**{key}**" not in explained] == []


def test_cautions_and_the_loinc_notice_are_shipped() -> None:
    assert len(cautions()) == 10
    notice = read_laboratory_text("LOINC_NOTICE.txt")
    assert notice.startswith("This material contains content from LOINC (http://loinc.org).")
    assert "registered United States trademark of Regenstrief Institute, Inc." in notice


@pytest.mark.slow
def test_a_site_row_changes_only_the_cells_it_fills() -> None:
    site, findings = load_catalogue([row(test="lact", max_ice_min="45", min_ml="", notes="-")])
    assert findings == []
    old, new = CATALOGUE.tests[TestCode("LACT")], site.tests[TestCode("LACT")]
    assert (new.max_ice_s, new.min_volume_ul, new.notes) == (45 * 60, old.min_volume_ul, "")
    assert list(site.tests) == list(CATALOGUE.tests)


def test_a_site_adds_a_test_and_a_tube_kind() -> None:
    tube = row(
        "tubes.csv", code="SERV", name="Small serum tube", additive="clot activator", closure="white", rank="3",
        inversions="5-6", sizes="adult:2.5", min_fill_pct="50",
    )  # fmt: skip
    test = row(test="NEW1", name="New test", tubes="SERV;SER", min_ml="0,5", add_ml="0.2", share_group="CHEM")
    site, findings = load_catalogue([test], [tube])
    assert findings == []
    assert site.tests[TestCode("NEW1")].accepts == (("SERV",), ("SER",))
    assert site.tests[TestCode("NEW1")].min_volume_ul == 500
    assert site.tubes[TubeCode("SERV")].sizes[0].draw_ul == 2500


@pytest.mark.parametrize(
    ("cells", "code", "column"),
    [
        ({"test": "NEW1", "name": "New"}, "catalogue-row-incomplete", ""),
        ({"test": "", "name": "New"}, "catalogue-row-incomplete", ""),
        ({"test": "CBC", "min_ml": "much"}, "catalogue-row-refused", "min_ml"),
        ({"test": "CBC", "min_ml": "-1"}, "catalogue-row-refused", "min_ml"),
        ({"test": "CBC", "min_ml": "0"}, "catalogue-row-refused", "min_ml"),
        ({"test": "CBC", "handling": "freeze"}, "catalogue-row-refused", "handling"),
        ({"test": "CBC", "dose_rule": "sometimes"}, "catalogue-row-refused", "dose_rule"),
        ({"test": "CBC", "window_start": "09:00", "window_end": "07:00"}, "catalogue-row-refused", "window_end"),
        ({"test": "CBC", "loinc": "58410-3"}, "catalogue-loinc-check-digit", "loinc"),
        ({"test": "CBC", "loinc": "CBC"}, "catalogue-row-refused", "loinc"),
    ],
)  # fmt: skip
def test_a_bad_row_is_a_finding_and_changes_nothing(cells: dict[str, str], code: str, column: str) -> None:
    site, findings = load_catalogue([row(**cells)])
    assert codes(findings) == [code]
    assert findings[0].source == Source(file="tests.csv", row=2, column=column)
    assert site == CATALOGUE


def test_an_unknown_column_is_named_and_the_rest_is_used() -> None:
    site, findings = load_catalogue([row(test="CBC", min_ml="0.7", colour="mauve")])
    assert codes(findings) == ["catalogue-column-unknown"]
    assert "colour" in findings[0].message
    assert site.tests[TestCode("CBC")].min_volume_ul == 700


def test_kinds_that_a_test_forbids_or_nobody_knows_are_left_out() -> None:
    site, findings = load_catalogue([row(test="LI", tubes="HEPG;SER;SERX")])
    assert codes(findings) == ["catalogue-tube-forbidden", "catalogue-tube-unknown"]
    assert site.tests[TestCode("LI")].accepts == (("SER",),)
    site, findings = load_catalogue([row(test="LI", tubes="HEP")])
    assert codes(findings) == ["catalogue-tube-forbidden", "catalogue-test-without-tube"]
    assert TestCode("LI") not in site.tests


def test_cells_with_a_form_of_their_own() -> None:
    assert parse_accepts("BCA+BCN; BCP") == (("BCA", "BCN"), ("BCP",))
    dose = parse_dose_rule("post_dose:360+")
    assert dose is not None and (dose.kind, dose.from_s, dose.to_s) == ("post_dose", 21_600, None)
    held = parse_dose_rule("post_dose:240+ stat")
    assert held is not None and (held.from_s, held.holds_stat, dose.holds_stat) == (14_400, True, False)
    protocol = parse_dose_rule("protocol")
    assert protocol is not None and protocol.kind == "protocol"
    assert parse_serial("0;30;60|0;120") == ((0, 1800, 3600), (0, 7200))
    assert [s.draw_ul for s in parse_sizes("adult:2.7;child:1")] == [1000, 2700]
    for parse, text in [
        (parse_accepts, "BCA+"), (parse_accepts, ""), (parse_dose_rule, "trough:30-0"), (parse_dose_rule, "trough"),
        (parse_dose_rule, "trough:5+"), (parse_dose_rule, "trough:0-30 stat"), (parse_dose_rule, "protocol stat"),
        (parse_dose_rule, "post_dose:60+ asap"), (parse_serial, "60;0"), (parse_serial, "0;x"), (parse_sizes, "adult"),
        (parse_sizes, "huge:2"), (parse_sizes, "adult:0"),
    ]:  # fmt: skip
        with pytest.raises(CellError):
            parse(text)


def test_the_catalogue_names_no_path_of_a_machine() -> None:
    for name in ("tests.csv", "tubes.csv", "codes.csv", "handling.csv", "SOURCES.md", "cautions.txt"):
        assert not any(Path(word).is_absolute() for word in read_laboratory_text(name).split() if len(word) > 1), name
