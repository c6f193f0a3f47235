"""The sheet in other programs: a browser reads, ticks, saves and prints it; an accessibility checker looks at it."""

from __future__ import annotations

import csv
import re
import shutil
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from planner.exporters.page.pdf import find_browser
from planner.exporters.view.build import build_view
from planner.exporters.view.round_view import RoundView
from planner.library.printing import sheets
from planner.library.written import read_plan
from planner.visits import order_windows
from tests.end_to_end.axe import AXE, WHERE, faults
from tests.end_to_end.browser import Browser
from tests.helpers import planner
from tests.unit.exporters.replanned import make_replanned

ROOT = Path(__file__).parents[2]

MOST_PAGES = {"a4": 8, "letter": 8}
"""Pages of stops, by paper, for 32 visits and 14 hand-overs on two routes; each route begins a page of its own.

Letter is 18 mm shorter; rows to write in are 8 mm high. Thirty ordinary visits take fewer: see the unit tests.
"""

MOST_SHEET_PAGES = {"a4": 7, "letter": 8}
"""The same of the workbook."""

needs_browser = pytest.mark.skipif(find_browser() is None, reason="no Chromium, Chrome or Edge is installed")
needs_pdf_text = pytest.mark.skipif(shutil.which("pdftotext") is None, reason="pdftotext is not installed")


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of the main round, planned once."""
    folder = tmp_path_factory.mktemp("sheets")
    done = planner("plan", ROOT / "inputs/alder-ward", "--effort", "quick", cwd=folder)
    assert done.returncode == 0, done.stderr
    return folder / "outputs/alder-ward/r1"


@pytest.fixture(scope="module")
def view(written: Path) -> RoundView:
    file = read_plan(written)
    windows, _ = order_windows(file.problem)
    return build_view(file.problem, file.plan, windows, revision=file.revision)


@pytest.fixture
def browser(tmp_path: Path) -> Iterator[Browser]:
    with Browser(tmp_path) as opened:
        yield opened


def words_of(text: str) -> str:
    return " ".join(text.split())


@needs_browser
@needs_pdf_text
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_printed_page_has_the_plan_in_its_order(written: Path, view: RoundView, paper: str) -> None:
    """Order of draw as read from the paper equals the view's; pages of stops are as few as `MOST_PAGES`."""
    done = planner("sheet", written, "--paper", paper, "--pdf", cwd=written)
    assert done.returncode == 0, done.stderr
    pdf = next(Path(line.removesuffix(" written")) for line in done.stdout.splitlines() if ".pdf " in line)
    text = subprocess.run(["pdftotext", "-raw", pdf, "-"], capture_output=True, check=True, timeout=60).stdout
    pages = [words_of(page) for page in text.decode("utf-8").split("\f")[:-1]]
    for number, page in enumerate(pages, start=1):
        assert f"Page {number} of {len(pages)}" in page
        assert "Alder Tuesday 10 Mar 2026" in page
        assert "revision 1" in page
        assert "Confidential" in page
    routes = [page for page in pages if "at _____:_____ by" in page]
    assert len(routes) <= MOST_PAGES[paper]
    label = r"(?!TEST |ALERT |DO |ASK )[A-Z][^\d]*?(?:tube|bottle|syringe)[^\d]*?(?:site \d )?"
    line = rf"\b(\d+(?:-\d+)?) ({label})\d[\d.]* mL\b"
    printed = re.findall(line, " ".join(routes))
    expected = [(t.positions, t.label) for r in view.routes for v in r.visits for t in v.tubes]
    assert [(positions, label.strip()) for positions, label in printed] == expected


@needs_browser
@needs_pdf_text
def test_no_patient_is_split_and_no_text_is_cut(written: Path, view: RoundView) -> None:
    done = planner("sheet", written, "--pdf", cwd=written)
    assert done.returncode == 0, done.stderr
    text = subprocess.run(
        ["pdftotext", "-raw", written / "round-sheet.pdf", "-"], capture_output=True, check=True, timeout=60
    ).stdout.decode("utf-8")
    pages = [words_of(page) for page in text.split("\f")[:-1]]
    for route in view.routes:
        for visit in route.visits:
            page = next(p for p in pages if visit.patient_number in p and f"Bed {visit.bed} {visit.at}" in p)
            for words in (
                visit.name,
                visit.born,
                visit.window,
                *visit.ask,
                *visit.wear,
                *(line.words for line in visit.goes_to),
            ):
                assert words_of(words) in page or not words.isascii()
            for tube in visit.tubes:
                assert words_of(tube.tests) in page
                assert words_of(tube.handling) in page


@needs_browser
def test_ticks_survive_a_reload_and_are_saved_as_a_progress_file(written: Path, browser: Browser) -> None:
    page = written / "round-sheet.html"
    browser.open(page)
    assert browser.run("document.getElementById('progress').hidden") is False
    browser.run(
        """(() => {
          const [first, second] = document.querySelectorAll('article.visit');
          for (const box of document.querySelectorAll('[data-identifier]')) box.click();
          first.querySelector('input[value=collected]').click();
          second.querySelector('input[value=refused]').click();
          const note = second.querySelector('[data-keep$="-note"]');
          note.value = 'asks for the "day" team, later'; note.dispatchEvent(new Event('input', {bubbles: true}));
        })()"""
    )
    browser.reload()
    state = """[...document.querySelectorAll('article.visit')].slice(0, 3)
        .map(v => (v.querySelector('input[type=radio]:checked') || {}).value || '')"""
    assert browser.run(state) == ["collected", "refused", ""]
    assert browser.run("document.querySelector('article.visit .who input').checked") is True
    assert browser.run("document.getElementById('progress-count').textContent").startswith("2 of 32")
    browser.run("document.getElementById('progress-save').click()")
    saved = browser.folder / "progress-alder-ward-r1.csv"
    deadline_s = time.monotonic() + 20
    while not saved.is_file() and time.monotonic() < deadline_s:
        time.sleep(0.1)
    rows = list(csv.DictReader(saved.read_text(encoding="utf-8-sig").splitlines()))
    columns = "format revision kind bed patient_number order_number tube outcome arrived time left outside identity "
    columns += "ticked initials note asked answer told told_at"
    assert list(rows[0]) == columns.split()
    visits = browser.run(
        "[...document.querySelectorAll('article.visit')].slice(0, 2).map(v => [v.dataset.bed, v.dataset.orders])"
    )
    expected = {(bed, order) for bed, orders in visits for order in orders.split("\n")}
    assert all(row["identity"] for row in rows)
    rows = [row for row in rows if row["outcome"]]
    assert {(row["bed"], order) for row in rows for order in row["order_number"].split("; ")} == expected
    assert {row["outcome"] for row in rows} == {"collected", "refused"}
    assert {row["note"] for row in rows} == {"", 'asks for the "day" team, later'}
    assert all(re.fullmatch(r"\d\d:\d\d:\d\d", row["ticked"]) and row["initials"] for row in rows)
    assert {row["time"] for row in rows} == {""}  # when the blood was drawn is told by a button of its own


@needs_browser
def test_another_revision_does_not_see_the_ticks(written: Path, browser: Browser) -> None:
    text = (written / "round-sheet.html").read_text(encoding="utf-8")
    other = browser.folder / "other.html"
    other.write_text(re.sub(r'(data-key="[^"]*\|)1\|', r"\g<1>2|", text), encoding="utf-8")
    browser.open(written / "round-sheet.html")
    browser.run("document.querySelector('article.visit input[value=away]').click()")
    browser.open(other)
    assert browser.run("document.getElementById('progress-count').textContent").startswith("0 of 32")


@needs_browser
def test_nothing_is_asked_for_and_nothing_is_complained_about(written: Path, browser: Browser) -> None:
    browser.open(written / "round-sheet.html")
    assert {url.partition(":")[0] for url in browser.requests()} <= {"file", "data", "about"}
    assert not [e for e in browser.events if e.get("method") in ("Log.entryAdded", "Runtime.exceptionThrown")]
    refused = browser.run("fetch('https://example.org/').then(() => 'sent', () => 'refused')")
    assert refused == "refused"


@needs_browser
def test_page_reads_without_scripts_and_fits_a_phone(written: Path, view: RoundView, browser: Browser) -> None:
    browser.open(written / "round-sheet.html", scripts=False)
    text = words_of(browser.run("document.body.innerText"))
    for route in view.routes:
        for visit in route.visits:
            assert visit.patient_number in text
            assert all(words_of(tube.tests) in text for tube in visit.tubes)
    assert browser.run("document.getElementById('progress').hidden") is True
    assert browser.run("document.documentElement.scrollWidth <= window.innerWidth") is True
    targets = browser.run(
        """[...document.querySelectorAll('label.tick, label.choice, .onward a, nav a')]
            .map(e => e.getBoundingClientRect()).filter(r => r.width > 0)
            .filter(r => r.height < 44 || r.width < 44).length"""
    )
    assert targets == 0  # 44 by 44 CSS pixels: WCAG 2.2, success criterion 2.5.5
    heights = browser.run("[...document.querySelectorAll('.stop')].map(e => e.getBoundingClientRect().height)")
    assert min(heights) >= 844 - 5 * 16 - 1  # one stop fills the screen below the bar


@needs_browser
@pytest.mark.skipif(AXE is None, reason=WHERE)
@pytest.mark.parametrize("width", [390, 1200])
def test_accessibility_checker_finds_no_fault(written: Path, browser: Browser, width: int) -> None:
    browser.open(written / "round-sheet.html", width=width)
    assert faults(browser) == []


@pytest.fixture(scope="module")
def replanned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a revision that goes on from another, its sheets written again."""
    problem, plan, _ = make_replanned()
    folder = tmp_path_factory.mktemp("replanned") / "r2"
    folder.mkdir()
    # Not by the command: it checks what it reads, and this plan is made up to show every part of a sheet.
    for name, data in sheets(problem, plan, order_windows(problem)[0], revision=2, findings=(), paper="a4")().items():
        (folder / name).write_bytes(data)
    return folder


def test_sheet_of_a_replanned_revision_is_written_from_its_plan(replanned: Path) -> None:
    page = (replanned / "round-sheet.html").read_text(encoding="utf-8")
    for words in ("revision r2, replaces r1, as of 05:35", "PHONE THE LABORATORY", "Change note for Amina", "DONE BY"):
        assert words in page
    assert (replanned / "round-sheet.xlsx").is_file()


@needs_browser
@pytest.mark.skipif(AXE is None, reason=WHERE)
def test_accessibility_checker_finds_no_fault_with_a_replanned_round(replanned: Path, browser: Browser) -> None:
    browser.open(replanned / "round-sheet.html", width=390)
    assert faults(browser) == []
    assert browser.run("document.documentElement.scrollWidth <= window.innerWidth") is True


def test_sheet_for_one_person_holds_nobody_else(written: Path, view: RoundView) -> None:
    """Who else walks is named once, on the first page; none of their patients is."""
    done = planner("sheet", written, "--for", "TW", "--paper", "letter", "--large-print", cwd=written)
    assert done.returncode == 0, done.stderr
    page = (written / "round-sheet-TW-letter-large.html").read_text(encoding="utf-8")
    assert "Tomasz Wieczorek" in page
    assert page.count("Solberg") == 1
    others = {v.patient_number for r in view.routes if r.initials != "TW" for v in r.visits}
    others -= {v.patient_number for r in view.routes if r.initials == "TW" for v in r.visits}
    assert others
    assert not [number for number in others if number in page]
    assert "size: letter landscape" in page
    assert (written / "round-sheet-TW-letter-large.xlsx").is_file()


def test_unknown_person_is_wrong_usage(written: Path) -> None:
    done = planner("sheet", written, "--for", "nobody", cwd=written)
    assert done.returncode == 2
    assert "nobody on this round is called that" in words_of(re.sub(r"[│╭╮╰╯─]", " ", done.stderr))


def test_pdf_without_a_browser_says_what_to_install(written: Path) -> None:
    done = planner("sheet", written, "--pdf", cwd=written, PLANNER_BROWSER="no-such-program")
    assert done.returncode == 2
    assert "apt-get install chromium" in words_of(re.sub(r"[│╭╮╰╯─]", " ", done.stderr))


@needs_browser
def test_pdf_is_the_same_but_for_the_browsers_own_numbers(written: Path) -> None:
    made = []
    for _ in range(2):
        done = planner("sheet", written, "--for", "TW", "--pdf", cwd=written, SOURCE_DATE_EPOCH="1773117000")
        assert done.returncode == 0, done.stderr
        # The browser numbers the nodes of its page anew each time; nothing else may differ.
        made.append(re.sub(rb"node\d{8}", b"node", (written / "round-sheet-TW.pdf").read_bytes()))
    assert made[0] == made[1]
    assert b"D:20260310043000+00'00'" in made[0]  # 1773117000 is 2026-03-10 04:30 UTC


OFFICE = shutil.which("soffice")


@pytest.fixture(scope="module")
def office_profile(tmp_path_factory: pytest.TempPathFactory) -> str:
    """Return the option for a profile that all prints share, as making one takes longer than a print."""
    return f"-env:UserInstallation={tmp_path_factory.mktemp('profile').as_uri()}"


@needs_pdf_text
@pytest.mark.skipif(OFFICE is None, reason="LibreOffice is not installed")
@pytest.mark.parametrize(
    "options", [(), ("--paper", "letter"), ("--large-print",), ("--large-print", "--paper", "letter")]
)
def test_office_prints_the_workbook_page_for_page(
    written: Path, view: RoundView, tmp_path: Path, office_profile: str, options: tuple[str, ...]
) -> None:
    """The program that prints breaks pages where the file says, needs no page more, and keeps the order of draw."""
    import openpyxl

    done = planner("sheet", written, *options, cwd=written)
    name = next(line.removesuffix(" written") for line in done.stdout.splitlines() if ".xlsx " in line)
    book = openpyxl.load_workbook(name)
    expected = sum(len(sheet.row_breaks.brk) + 1 for sheet in book.worksheets)
    assert OFFICE is not None
    command = [OFFICE, office_profile, "--headless", "--convert-to", "pdf", "--outdir", str(tmp_path), name]
    subprocess.run(command, check=True, capture_output=True, timeout=180)
    pdf = next(tmp_path.glob("*.pdf"))
    text = subprocess.run(["pdftotext", "-layout", pdf, "-"], check=True, capture_output=True, timeout=60).stdout
    pages = text.decode("utf-8").split("\f")[:-1]
    assert len(pages) == expected
    for page in pages:
        assert "Alder Tuesday 10 Mar 2026" in page
        assert "revision 1" in page
        assert re.search(rf"printed \d{{4}}-\d\d-\d\d \d\d:\d\d +Page {pages.index(page) + 1} of {len(pages)}", page)
    if "--large-print" not in options:  # its cells wrap, and the extracted lines no longer are the sheet's rows
        printed = re.findall(r"☐ *(\d+(?:-\d+)?) +[A-Z][^\d]*?(?:, site \d)? +\d[\d.]* +mL", "\n".join(pages))
        assert printed == [t.positions for r in view.routes for v in r.visits for t in v.tubes]
        assert sum("Bed, time" in page for page in pages) <= MOST_SHEET_PAGES["letter" if "letter" in options else "a4"]
