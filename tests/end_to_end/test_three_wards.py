"""The commands on a round of three wards with equal beds: every bed that they print has its ward."""

from __future__ import annotations

import io
import re
import subprocess
from html import unescape
from pathlib import Path

import openpyxl
import pytest

from tests.end_to_end.test_sheets import words_of
from tests.helpers import planner
from tests.three_wards import KITE, RAIL, three_ward_tables, write_tables
from tests.unit.exporters.test_beds_named import bare_beds


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder in which the round was planned, and replanned with a stat."""
    folder = tmp_path_factory.mktemp("commands")
    write_tables(three_ward_tables(), folder / "three")
    done = run("plan", "three", "--date", "2026-03-10", "--effort", "quick", cwd=folder)
    assert done.returncode == 0, done.stderr
    return folder


@pytest.fixture(scope="module")
def replanned(folder: Path) -> subprocess.CompletedProcess[str]:
    stat = f"{KITE} 1A:LACT"
    return run("replan", "outputs/three", "--now", "05:20", "--stat", stat, "--effort", "quick", cwd=folder)


def run(*arguments: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    return planner(*arguments, cwd=cwd, COLUMNS="4000")


def page_words(path: Path) -> str:
    """Return the words of a page; a card's ward stands before the word bed."""
    html = re.sub(r"<(script|style)\b.*?</\1>", " ", path.read_text(encoding="utf-8"), flags=re.S)
    return words_of(unescape(re.sub(r"<[^>]*>", " ", html))).replace(" Bed ", " ")


def test_equal_beds_cannot_be_chosen_without_their_ward(folder: Path) -> None:
    done = run("replan", "outputs/three", "--now", "05:20", "--stat", "1A:LACT", cwd=folder)
    assert done.returncode != 0
    assert "Heron 1A or Kite (South) 1A or Rail, East 1A" in words_of(done.stdout + done.stderr)


def test_replan_says_ward_and_bed(folder: Path, replanned: subprocess.CompletedProcess[str]) -> None:
    assert replanned.returncode in (0, 3), replanned.stderr
    assert "Kite (South) 1A" in words_of(replanned.stdout)
    assert bare_beds(words_of(replanned.stdout)) == []
    assert bare_beds(words_of(replanned.stderr)) == []
    written = re.search(r"Written: (\S+)", replanned.stdout)
    assert written is not None
    assert bare_beds(page_words(folder / written[1] / "round-sheet.html")) == []


def test_explain_says_ward_and_bed(folder: Path) -> None:
    done = run("explain", "outputs/three/r1", "R0301-1", cwd=folder)
    assert done.returncode == 0, done.stderr
    assert f"bed {RAIL} 1A" in done.stdout
    assert bare_beds(words_of(done.stdout)) == []


def test_sheet_for_one_of_two_with_one_name(folder: Path) -> None:
    """Each of the two gets their own hand-overs alone; the name that both have is refused, with the initials."""
    done = run("sheet", "outputs/three/r1", "--for", "Ines Silva", cwd=folder)
    assert done.returncode == 2
    assert "give the initials: IS, IV" in words_of(re.sub(r"[│╭╮╰╯─]", " ", done.stderr))
    counts = []
    for initials in ("IS", "IV", "TO"):
        assert run("sheet", "outputs/three/r1", "--for", initials, cwd=folder).returncode == 0
        book = openpyxl.load_workbook(
            io.BytesIO((folder / f"outputs/three/r1/round-sheet-{initials}.xlsx").read_bytes()), rich_text=True
        )
        cells = [str(c.value) for sheet in book for row in sheet.iter_rows() for c in row if c.value is not None]
        counts.append(sum("tubes: " in cell or "1 tube: " in cell for cell in cells if cell[:2].isdigit()))
        given = [cell for cell in cells if cell.startswith("HAND OVER at ")]
        assert counts[-1] == len(given)
        assert bare_beds(page_words(folder / f"outputs/three/r1/round-sheet-{initials}.html")) == []
    assert all(counts)
