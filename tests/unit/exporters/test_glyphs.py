"""Names in letters that nothing here can print: noted beside the name, said without the name."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import matplotlib
import openpyxl
import pytest

from planner.exporters.pictures import glyphs
from planner.exporters.pictures.glyphs import (
    NAME_ALERT,
    letters_without_font,
    letters_without_picture,
    script_of,
    with_names_noted,
)
from planner.exporters.view.build import build_view
from planner.exporters.view.round_view import RoundView
from planner.exporters.workbook.book import round_sheet_workbook
from tests.unit.exporters.rounds import make_round

pytestmark = pytest.mark.slow

FONTS = Path(matplotlib.get_data_path()) / "fonts/ttf"
HINDI, ARMENIAN = "\u0926\u0947\u0936", "\u0531\u0576\u0561"
"""The font that comes with the drawing library has Armenian letters and no Devanagari ones."""


@pytest.fixture
def one_font(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(glyphs, "_installed_fonts", lambda: iter([FONTS / "DejaVuSans.ttf"]))


@pytest.fixture(scope="module")
def view() -> RoundView:
    problem, plan, windows = make_round()
    return build_view(problem, plan, windows, revision=1)


@pytest.mark.usefixtures("one_font")
def test_letters_are_missing_where_no_font_has_them() -> None:
    assert letters_without_font([f"Rao, {HINDI}", ARMENIAN, "Ivanova, \u0420\u0430\u0439\u043d\u0430"]) == set(HINDI)
    assert letters_without_font(["Solberg-Achterberg, Ingrid \u2610 \u2013"]) == set()


def test_common_letters_open_no_font(monkeypatch: pytest.MonkeyPatch) -> None:
    def opened(name: str) -> Path:
        raise AssertionError(f"{name} was looked at")

    monkeypatch.setattr(glyphs, "_installed_fonts", lambda: map(opened, ["font"]))
    assert letters_without_font(["Solberg", "\u03b1\u0416"]) == set()


def test_a_damaged_font_prints_nothing(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "broken.ttf").write_bytes(b"not a font")
    monkeypatch.setattr(glyphs, "_installed_fonts", lambda: iter([tmp_path / "broken.ttf", tmp_path / "none.ttf"]))
    assert letters_without_font([HINDI]) == set(HINDI)


def test_scripts_are_named() -> None:
    assert [script_of(c) for c in ("\u0926", "\u738b", "\u0e01", "\u0645")] == ["Devanagari", "Han", "Thai", "Arabic"]


@pytest.mark.usefixtures("one_font")
def test_the_note_stands_at_the_patient_and_the_finding_has_no_name(view: RoundView) -> None:
    noted, findings = with_names_noted(view)
    changed = [v for r in noted.routes for v in r.visits if v.alerts[:1] == (NAME_ALERT,)]
    expected = [v.bed for r in view.routes for v in r.visits if letters_without_font([v.name])]
    assert [v.bed for v in changed] == expected
    assert expected
    for visit, finding in zip(changed, findings, strict=True):
        assert finding.code == "name-not-printed"
        assert f"bed {visit.bed}, order {visit.order_numbers[0]}" in finding.message
        assert not any(part.strip() in str(finding) for part in visit.name.split(","))


def test_nothing_is_noted_where_every_letter_prints(view: RoundView, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(glyphs, "letters_without_font", lambda _texts: frozenset())
    assert with_names_noted(view) == (view, ())


def test_pictures_say_that_a_place_shows_as_squares(view: RoundView) -> None:
    assert letters_without_picture([HINDI, ARMENIAN]) == set(HINDI)
    rows = [[c.value for row in sheet.iter_rows() for c in row] for sheet in maps(view)]
    assert not any("empty squares" in str(value) for values in rows for value in values)
    odd = replace(view.map, places=(replace(view.map.places[0], name=f"Ward {HINDI}"), *view.map.places[1:]))
    for sheet in maps(replace(view, map=odd)):
        assert any("empty squares" in str(c.value) for row in sheet.iter_rows() for c in row)


def maps(view: RoundView) -> list[openpyxl.worksheet.worksheet.Worksheet]:
    book = openpyxl.load_workbook(io.BytesIO(round_sheet_workbook(view)))
    return [sheet for sheet in book.worksheets if sheet.title.startswith("Map")]
