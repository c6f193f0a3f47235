"""The page of a replanned round on a phone and on paper: dark, enlarged, printed, every note on one page."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from planner.exporters.page.note_paper import note_size
from planner.exporters.page.page import round_sheet_html
from planner.exporters.page.pdf import find_browser, page_to_pdf
from planner.exporters.view.build import build_view
from planner.exporters.view.paper import paper_for
from planner.exporters.view.round_view import RoundView
from tests.end_to_end.axe import AXE, WHERE, faults
from tests.end_to_end.browser import Browser
from tests.unit.exporters.replanned import make_replanned, with_past
from tests.unit.exporters.rounds import TYPICAL, make_round

pytestmark = pytest.mark.skipif(find_browser() is None, reason="no Chromium, Chrome or Edge is installed")
needs_pdf_text = pytest.mark.skipif(shutil.which("pdftotext") is None, reason="pdftotext is not installed")
DARK = [
    {"name": "prefers-color-scheme", "value": "dark"},
    {"name": "prefers-reduced-motion", "value": "reduce"},
]


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    problem, plan, windows = make_replanned()
    path = tmp_path_factory.mktemp("page") / "sheet.html"
    path.write_bytes(round_sheet_html(build_view(problem, plan, windows, revision=2)))
    return path


@pytest.fixture
def browser(tmp_path: Path) -> Iterator[Browser]:
    with Browser(tmp_path) as opened:
        yield opened


@pytest.mark.parametrize("width", [390, 320, 195])
def test_nothing_stands_beside_the_screen(page: Path, browser: Browser, width: int) -> None:
    """320 pixels: WCAG 2.2, 1.4.10; 195 are a phone's 390 enlarged to 200 per cent (1.4.4)."""
    browser.open(page, width=width)
    assert browser.run("document.documentElement.scrollWidth <= window.innerWidth") is True
    # A caption squeezed into a column of letters is narrower than it is high.
    squeezed = "[...document.querySelectorAll('caption:not(.hidden), h2, .said li, .tray')]"
    squeezed += ".filter(e => e.getClientRects().length)"  # what is for paper alone has no box on the screen
    squeezed += ".map(e => e.getBoundingClientRect()).filter(r => r.width < 100).length"
    assert browser.run(squeezed) == 0


@pytest.mark.skipif(AXE is None, reason=WHERE)
def test_accessibility_checker_finds_no_fault_in_the_dark(page: Path, browser: Browser) -> None:
    browser.call("Emulation.setEmulatedMedia", features=DARK)
    browser.open(page)
    ground, ink = browser.run("(s => [s.backgroundColor, s.color])(getComputedStyle(document.documentElement))")
    assert (ground, ink) == ("rgb(20, 20, 20)", "rgb(242, 242, 242)")
    assert faults(browser) == []


def test_paper_is_white_also_where_the_device_is_dark(page: Path, browser: Browser) -> None:
    browser.call("Emulation.setEmulatedMedia", media="print", features=DARK)
    browser.open(page)
    style = "(s => [s.backgroundColor, s.color])(getComputedStyle(document.documentElement))"
    assert browser.run(style) == ["rgb(255, 255, 255)", "rgb(17, 17, 17)"]


def many_changes() -> RoundView:
    """Return a round in which seven stops are new to one person, as when somebody falls out."""
    problem, plan, windows = make_round(14, 2, TYPICAL)
    problem, plan = with_past(problem, plan, now_s=problem.start_s)
    assert problem.replan is not None
    kept = tuple(p for p in problem.replan.promised if p.phlebotomist == 1)
    return build_view(replace(problem, replan=replace(problem.replan, promised=kept)), plan, windows, revision=2)


@needs_pdf_text
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_note_with_many_changes_is_one_printed_page(tmp_path: Path, paper: str) -> None:
    view = many_changes()
    assert note_size(view.routes[0], paper_for(paper)) != ""  # it would not fit in the ordinary letters
    pdf = tmp_path / "sheet.pdf"
    pdf.write_bytes(page_to_pdf(round_sheet_html(view, paper)))
    text = subprocess.run(["pdftotext", "-raw", pdf, "-"], check=True, capture_output=True, timeout=60).stdout
    pages = text.decode("utf-8").split("\f")[:-1]
    for route in view.routes:
        own = [p for p in pages if re.search(rf"Change note {route.initials}\b", p)]
        assert len(own) == 1, route.initials
        assert "said back" in own[0]
