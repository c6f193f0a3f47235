"""A second program prints the workbook: pages, order of draw and texts as the view has them."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from planner.exporters.view.build import build_view
from planner.exporters.view.round_view import RoundView
from planner.exporters.workbook.book import round_sheet_workbook
from tests.unit.exporters.rounds import make_round

OFFICE, PDF_TEXT = shutil.which("soffice"), shutil.which("pdftotext")

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(OFFICE is None or PDF_TEXT is None, reason="needs LibreOffice and pdftotext on this machine"),
]


@pytest.fixture(scope="module")
def view() -> RoundView:
    problem, plan, windows = make_round()
    return build_view(problem, plan, windows, revision=1)


@pytest.fixture(scope="module", params=["a4", "letter"])
def pages(view: RoundView, request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    """Return the text of each printed page, in reading order as laid out."""
    folder: Path = tmp_path_factory.mktemp("print")
    (folder / "sheet.xlsx").write_bytes(round_sheet_workbook(view, request.param))
    assert OFFICE is not None
    assert PDF_TEXT is not None
    profile = f"-env:UserInstallation={(folder / 'profile').as_uri()}"
    command = [OFFICE, profile, "--headless", "--convert-to", "pdf", "--outdir", str(folder), "sheet.xlsx"]
    subprocess.run(command, cwd=folder, check=True, capture_output=True, timeout=120)
    text = subprocess.run(
        [PDF_TEXT, "-layout", "sheet.pdf", "-"], cwd=folder, check=True, capture_output=True, timeout=60
    )
    return text.stdout.decode("utf-8").split("\f")[:-1]


def test_every_page_is_numbered_and_says_whose_it_is(pages: list[str]) -> None:
    for number, page in enumerate(pages, start=1):
        assert f"Page {number} of {len(pages)}" in page
        assert "Maple Ward Tuesday 10 Mar 2026" in page
        assert "revision 1" in page
        assert "Confidential" in page


def test_columns_are_not_pushed_to_pages_of_their_own(pages: list[str]) -> None:
    """A page of a route holds its first column and its last; the other sheets are few pages."""
    routes = [page for page in pages if "Bed, time" in page]
    assert 3 <= len(routes) <= 6
    assert all("handling" in page for page in routes)
    cards = [page for page in pages if "What if: " in page]
    assert len(cards) == 2, "a card each, whole on one page"
    assert len(pages) - len(routes) - len(cards) <= 6


def test_a_block_is_whole_on_one_page(pages: list[str], view: RoundView) -> None:
    for route in view.routes:
        for visit in route.visits:
            page = next(p for p in pages if visit.patient_number in p and "Bed, time" in p)
            assert visit.born in page
            for tube in visit.tubes:
                assert tube.tests.split(", ")[0] in page


def test_order_of_draw_on_paper_is_that_of_the_view(pages: list[str], view: RoundView) -> None:
    paper = "\n".join(page for page in pages if "Bed, time" in page)
    printed = re.findall(r"☐ ?(\d+) +(?!tubes?[: ])(\S.*? (?:tube|bottle)(?:, site \d)?)", paper)
    printed = [(positions, " ".join(name.split())) for positions, name in printed]
    expected = [(tube.positions, tube.name) for route in view.routes for visit in route.visits for tube in visit.tubes]
    assert printed == expected


def test_names_print_in_their_own_script(pages: list[str]) -> None:
    text = "".join(pages)
    for name in ("Okonkwo-Lindqvist", "Дмитриева", "Καραγιάννης", "Þórðarson", "=SUM(1,2)", "Σilva"):
        assert name in text
