"""``planner catalogue`` and the list of codes in the starter workbook."""

from __future__ import annotations

from io import BytesIO

import pytest
from openpyxl import load_workbook
from typer.testing import CliRunner

from planner.cli.app import app
from planner.exporters.workbook.starter import CODES_SHEET
from planner.loaders.catalogue.load import load_catalogue
from planner.loaders.policy.load import load_policy

RUNNER = CliRunner()
CATALOGUE = load_catalogue()[0]


def printed(*words: str) -> str:
    result = RUNNER.invoke(app, ["catalogue", *words])
    assert result.exit_code == 0, result.output
    return result.output


def codes(text: str) -> list[str]:
    return [line.split()[0] for line in text.splitlines() if not line.startswith(" ")]


def test_every_test_is_listed_with_what_it_needs():
    text = printed()
    assert codes(text) == sorted(CATALOGUE.tests)
    lactate = text[text.index("\nLACT ") + 1 :].split("\n")[:4]
    assert "FLU (grey)" in lactate[1]
    assert "mL alone" in lactate[2]
    assert "in the laboratory within" in lactate[2]
    assert "handling: " in lactate[3]


@pytest.mark.parametrize(
    ("words", "first"),
    [
        (("lactic", "acid"), "LACT"),
        (("U&E",), "RENAL"),
        (("troponin",), "TNI"),
        (("2823-3",), "POT"),
        (("cbc",), "CBC"),
    ],
)
def test_words_find_tests(words, first):
    found = codes(printed(*words))
    assert found[0] == first
    assert len(found) < 20


def test_words_must_all_be_there():
    assert codes(printed("vancomycin", "peak")) == ["VANCP"]


def test_nothing_found_is_said():
    result = RUNNER.invoke(app, ["catalogue", "zorblax"])
    assert result.exit_code == 2
    assert result.stdout == ""


def test_default_policy_can_be_saved_and_read_back():
    text = printed("--policy")
    policy, findings = load_policy(text)
    assert findings == []
    assert policy == load_policy("")[0]
    assert "stat_target_minutes = 15" in text


@pytest.mark.slow
def test_new_writes_the_codes_with_a_drop_down(tmp_path):
    result = RUNNER.invoke(app, ["new", str(tmp_path / "mine")])
    assert result.exit_code == 0
    book = load_workbook(BytesIO((tmp_path / "mine" / "round.xlsx").read_bytes()))
    rows = list(book[CODES_SHEET].iter_rows(values_only=True))
    assert rows[0] == ("code", "name", "tubes", "LOINC")
    assert len(rows) == len(CATALOGUE.tests) + 1
    by_code = {row[0]: row for row in rows}
    assert by_code["CBC"][2:] == ("EDTA (lavender)", "58410-2")
    formulas = [v.formula1 for v in book["orders"].data_validations.dataValidation]
    assert f"'{CODES_SHEET}'!$A$2:$A${len(rows)}" in formulas
