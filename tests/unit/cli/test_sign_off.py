"""A laboratory confirms the values in use; without that, or after a change, every sheet says so."""

from __future__ import annotations

import re
import zipfile
from io import BytesIO
from pathlib import Path

import pytest
from typer.testing import CliRunner

from planner.cli.app import app
from planner.loaders import load
from planner.loaders.catalogue.sign_off import SIGN_OFF_FILE
from tests.three_wards import three_ward_tables, write_tables

pytestmark = pytest.mark.slow

RUNNER = CliRunner()
LINE = "Tube and stability values not confirmed by your laboratory"
WHEN = {"SOURCE_DATE_EPOCH": "1764000000"}  # 24 November 2025, 16:00 UTC


@pytest.fixture
def round_folder(tmp_path: Path) -> Path:
    """Three wards with equal bed numbers, and a laboratory that changed one test and one tube kind."""
    folder = write_tables(three_ward_tables(), tmp_path / "three wards, Haus (2)")
    (folder / "tests.csv").write_text("test,max_rt_min\nBMP,90\n", encoding="utf-8")
    (folder / "tubes.csv").write_text("code,closure\nEDTA,violet\n", encoding="utf-8")
    return folder


def sign(folder: Path, name: str = "Dr Invented (demo)", *more: str):
    return RUNNER.invoke(app, ["catalogue", "--sign-off", name, "--site", str(folder), *more], env=WHEN)


def checked(folder: Path) -> str:
    result = RUNNER.invoke(app, ["check", str(folder), "--date", "2026-03-10"], env={"COLUMNS": "500"})
    assert result.exit_code in (0, 3), result.output
    return result.output


def printed(folder: Path, out: Path) -> tuple[str, str]:
    """Return the texts of workbook and page of a new plan."""
    result = RUNNER.invoke(
        app, ["plan", str(folder), "--date", "2026-03-10", "--effort", "quick", "--out", str(out)], env=WHEN
    )
    assert result.exit_code in (0, 3), result.output
    revision = sorted(out.glob("r*"))[-1]
    book = zipfile.ZipFile(BytesIO((revision / "round-sheet.xlsx").read_bytes()))
    texts = "".join(book.read(name).decode() for name in book.namelist() if name.endswith(".xml"))
    return re.sub(r"<[^>]+>", " ", texts), (revision / "round-sheet.html").read_text(encoding="utf-8")


def test_round_that_nobody_confirmed_says_so(round_folder: Path) -> None:
    confirmation = load(round_folder).problem.confirmation
    assert confirmation is None
    assert LINE in checked(round_folder)


def test_confirmed_round_says_who_and_when(round_folder: Path) -> None:
    result = sign(round_folder)
    assert result.exit_code == 0, result.output
    confirmation = load(round_folder).problem.confirmation
    assert confirmation is not None and confirmation.is_valid
    assert (confirmation.name, confirmation.when) == ("Dr Invented (demo)", "2025-11-24T16:00:00+00:00")
    text = checked(round_folder)
    assert LINE not in text and "confirmed by Dr Invented (demo) on 2025-11-24" in text
    assert "unknown-file" not in {f.code for f in load(round_folder).findings}


@pytest.mark.parametrize(
    ("file", "text", "named"),
    [
        ("tests.csv", "test,max_rt_min\nBMP,91\n", "BMP"),
        ("tests.csv", "test,max_rt_min\n", "BMP"),
        ("tests.csv", "test,max_rt_min,limits_by_tube\nBMP,90,\nPTH,,SERG:rt=60\n", "PTH"),
        (
            "tests.csv",
            "test,name,tubes,min_ml,add_ml,share_group,max_rt_min\nBMP,,,,,,90\nNEW,New,EDTA,1,1,own,60\n",
            "NEW",
        ),
        ("tubes.csv", "code,closure\nEDTA,lavender\n", "EDTA"),
    ],
)  # fmt: skip
def test_value_that_changed_since_is_named(round_folder: Path, file: str, text: str, named: str) -> None:
    assert sign(round_folder).exit_code == 0
    (round_folder / file).write_text(text, encoding="utf-8")
    confirmation = load(round_folder).problem.confirmation
    assert confirmation is not None and confirmation.changed == (named,) and not confirmation.is_valid
    said = checked(round_folder)
    assert LINE in said and f"changed since Dr Invented (demo) confirmed them on 2025-11-24: {named}" in said


def test_words_that_are_no_values_change_nothing(round_folder: Path) -> None:
    assert sign(round_folder).exit_code == 0
    (round_folder / "tests.csv").write_text("test,max_rt_min,notes,source\nBMP,90,a note,a book\n", encoding="utf-8")
    confirmation = load(round_folder).problem.confirmation
    assert confirmation is not None and confirmation.is_valid


def test_every_sheet_says_it_until_it_is_confirmed(round_folder: Path, tmp_path: Path) -> None:
    book, page = printed(round_folder, tmp_path / "out")
    # Three phlebotomists, each with pages of their own, and the overview.
    assert book.count(LINE) >= 2 and page.count(LINE) >= 4
    assert sign(round_folder).exit_code == 0
    book, page = printed(round_folder, tmp_path / "out")
    assert LINE not in book and LINE not in page


def test_list_alone_finds_the_confirmation_beside_it(round_folder: Path) -> None:
    (round_folder / "tests.csv").unlink()
    (round_folder / "tubes.csv").unlink()
    assert sign(round_folder).exit_code == 0
    (round_folder / "ward.csv").write_text("order_number,patient_number,bed,test\nA1,7,3A,CBC\n", encoding="utf-8")
    problem = load(round_folder / "ward.csv").problem
    assert problem is not None and problem.confirmation is not None and problem.confirmation.is_valid


def test_confirmation_that_cannot_be_read_counts_for_nothing(round_folder: Path) -> None:
    (round_folder / SIGN_OFF_FILE).write_text("name = ", encoding="utf-8")
    loaded = load(round_folder)
    assert "sign-off-unreadable" in {f.code for f in loaded.findings}
    assert loaded.problem is not None and loaded.problem.confirmation is None


def test_sign_off_needs_a_folder_a_name_and_values_that_can_be(round_folder: Path) -> None:
    assert RUNNER.invoke(app, ["catalogue", "--sign-off", "X"]).exit_code == 2
    assert RUNNER.invoke(app, ["catalogue", "--site", str(round_folder)]).exit_code == 2
    assert sign(round_folder, " ").exit_code == 2
    assert sign(round_folder / "nowhere").exit_code == 2
    (round_folder / "tests.csv").write_text("test,max_rt_min\nBMP,soon\n", encoding="utf-8")
    result = sign(round_folder)
    assert result.exit_code == 4 and "catalogue-row-refused" in result.output
    assert not (round_folder / SIGN_OFF_FILE).exists()
