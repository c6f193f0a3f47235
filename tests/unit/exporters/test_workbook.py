"""The workbook is text only, set up for printing, the same each time, and no patient is split across pages."""

from __future__ import annotations

import io
import re
import zipfile
from dataclasses import replace
from datetime import UTC, datetime
from itertools import pairwise

import openpyxl
import pytest
from openpyxl.cell.rich_text import CellRichText
from openpyxl.worksheet.worksheet import Worksheet

from planner.exporters.pictures.draw import route_pictures
from planner.exporters.view.build import build_view
from planner.exporters.view.paper import PAPERS, paper_for
from planner.exporters.view.round_view import RoundView
from planner.exporters.view.words import CONFIDENTIALITY
from planner.exporters.workbook.book import round_sheet_workbook
from planner.exporters.workbook.lists import write_supplies
from planner.exporters.workbook.pictures import write_pictures
from planner.exporters.workbook.writer import SheetWriter
from tests.unit.exporters.rounds import LONG_NAME, TYPICAL, make_round

pytestmark = pytest.mark.slow


def view_of(num_visits: int = 16, num_people: int = 2, **changes: object) -> RoundView:
    problem, plan, windows = make_round(num_visits, num_people)
    view = build_view(problem, plan, windows, revision=1, printed_at=datetime(2026, 3, 10, 4, 30))
    return replace(view, **changes)


@pytest.fixture(scope="module")
def view() -> RoundView:
    return view_of()


@pytest.fixture(scope="module", params=["a4", "letter"])
def book(view: RoundView, request: pytest.FixtureRequest) -> openpyxl.Workbook:
    return openpyxl.load_workbook(io.BytesIO(round_sheet_workbook(view, request.param)), rich_text=True)


def texts(sheet: Worksheet) -> str:
    return "\n".join(str(c.value) for row in sheet.iter_rows() for c in row if c.value is not None)


def stops(book: openpyxl.Workbook) -> list[Worksheet]:
    """Return the sheets with the stops of a phlebotomist."""
    return [sheet for sheet in book.worksheets if "Bed, time" in texts(sheet)]


def test_sheets_come_in_the_order_in_which_they_are_needed(book: openpyxl.Workbook) -> None:
    assert book.sheetnames == [
        "Round",
        "Supplies",
        "Amina Kovač",
        "What if AK",
        "Map AK",
        "Tomás Breathnach",
        "What if TB",
        "Map TB",
        "Legend",
    ]


def test_every_cell_is_text_and_none_a_formula(book: openpyxl.Workbook) -> None:
    for sheet in book.worksheets:
        for row in sheet.iter_rows():
            assert {cell.data_type for cell in row if cell.value is not None} <= {"s"}


def test_names_that_look_like_formulas_stay_as_they_are(view: RoundView) -> None:
    data = round_sheet_workbook(replace(view, title="=1+1", assumptions=("+cmd", "-2", "@x")))
    sheet = openpyxl.load_workbook(io.BytesIO(data)).worksheets[0]
    cells = {c.value: c for row in sheet.iter_rows() for c in row if c.value is not None}
    for text in ("=1+1", "+cmd", "-2", "@x"):
        assert cells[text].data_type == "s"
        assert cells[text].quotePrefix
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert not any(b"<f>" in archive.read(n) for n in archive.namelist() if "worksheets" in n)


def test_each_sheet_is_set_up_for_its_paper(view: RoundView) -> None:
    for name, paper in PAPERS.items():
        book = openpyxl.load_workbook(io.BytesIO(round_sheet_workbook(view, name)))
        for sheet in book.worksheets:
            assert sheet.page_setup.paperSize == str(paper.code) or sheet.page_setup.paperSize == paper.code
            assert sheet.page_setup.scale == 100
            assert sheet.print_area
            assert "Page &P of &N" in sheet.oddFooter.right.text
            assert CONFIDENTIALITY[:40] in sheet.oddFooter.left.text
            assert "Maple Ward" in sheet.oddHeader.left.text
            assert "revision 1" in sheet.oddHeader.right.text
            assert "2026-03-10 04:30" in sheet.oddFooter.right.text
            # Widths are counted in digits of 7 pixels and 5 pixels of edge, at 96 pixels an inch.
            columns = [sheet.column_dimensions[c] for c in "ABCDEFGH" if c in sheet.column_dimensions]
            width_mm = sum(d.width * 7 + 5 for d in columns) * 25.4 / 96
            assert width_mm <= paper.usable_mm + 1 < paper.width_mm - 2 * 25.4 * sheet.page_margins.left


def test_routes_repeat_their_headings(book: openpyxl.Workbook) -> None:
    for name in ("Amina Kovač", "Tomás Breathnach"):
        assert book[name].print_title_rows == "$1:$1"
    assert "Amina Kovač" in book["Amina Kovač"].oddHeader.center.text


def test_no_patient_is_split_and_every_page_has_room(book: openpyxl.Workbook) -> None:
    for sheet in stops(book):
        paper = next(p for p in PAPERS.values() if p.code == int(sheet.page_setup.paperSize))
        height = [sheet.row_dimensions[r].height for r in range(1, sheet.max_row + 1)]
        breaks = [b.id for b in sheet.row_breaks.brk]
        for merged in sheet.merged_cells.ranges:
            assert not any(merged.min_row <= b < merged.max_row for b in breaks)
        edges = [1, *breaks, sheet.max_row]
        margins_pt = (sheet.page_margins.top + sheet.page_margins.bottom) * 72
        room = paper.height_mm * 72 / 25.4 - margins_pt - height[0]
        for first, last in pairwise(edges):
            assert sum(height[first:last]) <= room


def test_nothing_is_printed_small(book: openpyxl.Workbook, view: RoundView) -> None:
    """What finds and fills (name, tube) has 10 points or more; what is read at the bed 9 or more."""
    visits = [visit for route in view.routes for visit in route.visits]
    large = {f"☐ {visit.name}" for visit in visits} | {tube.label for visit in visits for tube in visit.tubes}
    seen = set()
    for sheet in stops(book):
        for cell in (cell for row in sheet.iter_rows() for cell in row if cell.value):
            if isinstance(cell.value, CellRichText):
                assert min(block.font.sz for block in cell.value) >= 9
            else:
                assert cell.font.size >= (10 if cell.value in large else 9)
                seen.add(cell.value)
    assert large <= seen


def test_letters_below_the_line_are_not_cut(book: openpyxl.Workbook) -> None:
    """A row of one line is 1.2 times as high as its letters (they need 1.12), and the text stands in its middle."""
    low = 0
    for sheet in stops(book):
        for row in sheet.iter_rows(min_col=2):
            height = sheet.row_dimensions[row[0].row].height
            for cell in (c for c in row if c.value is not None):
                sizes = [b.font.sz for b in cell.value] if isinstance(cell.value, CellRichText) else [cell.font.size]
                assert height >= 1.2 * max(sizes)
                if height < 1.28 * max(sizes):
                    assert cell.alignment.vertical == "center", cell.value
                    low += 1
    assert low > 50


def test_long_names_many_tubes_and_many_tests_are_whole(book: openpyxl.Workbook, view: RoundView) -> None:
    assert LONG_NAME in texts(stops(book)[0])
    second = texts(stops(book)[1])
    visit = next(v for v in view.routes[1].visits if v.bed == "109")
    assert len(visit.tubes) >= 10
    assert sum(len(tube.tests.split(", ")) for tube in visit.tubes) >= 25
    for tube in visit.tubes:
        assert tube.tests in second
        assert tube.handling in second
    assert "देशपांडे" in second


def test_a_text_taller_than_a_row_goes_on_in_the_next(view: RoundView) -> None:
    words = " ".join(f"word{n}" for n in range(3000))
    data = round_sheet_workbook(replace(view, assumptions=(words,)))
    sheet = openpyxl.load_workbook(io.BytesIO(data)).worksheets[0]
    assert re.findall(r"word\d+", texts(sheet)) == words.split(" ")
    assert all((d.height or 0) <= 409 for d in sheet.row_dimensions.values())


def test_cautions_are_on_every_phlebotomists_sheet(book: openpyxl.Workbook, view: RoundView) -> None:
    """Under her map; an empty route has no map, and the cautions themselves."""
    one_visit = openpyxl.load_workbook(io.BytesIO(round_sheet_workbook(view_of(num_visits=1, num_people=2))))
    for sheet in (book["Map AK"], book["Map TB"], book["Legend"], stops(one_visit)[1]):
        for caution in view.cautions:
            assert caution in texts(sheet).replace("  ", " ")


def test_an_empty_route_has_a_sheet_that_says_so() -> None:
    view = view_of(num_visits=1, num_people=2)
    book = openpyxl.load_workbook(io.BytesIO(round_sheet_workbook(view)))
    assert "No visits on this round" in texts(stops(book)[1])


def test_sheets_of_people_with_equal_or_forbidden_names_are_told_apart(view: RoundView) -> None:
    routes = tuple(replace(view.routes[0], name=name) for name in ("A/B: [x]", "A/B: [x]", "History", "Round", "?"))
    many = replace(
        view,
        routes=routes,
        map=replace(view.map, lines=view.map.lines[:1] * 5),
        timeline=replace(view.timeline, rows=view.timeline.rows[:1] * 5),
    )
    names = openpyxl.load_workbook(io.BytesIO(round_sheet_workbook(many))).sheetnames
    assert len({n.casefold() for n in names}) == len(names) == 3 * 5 + 3
    assert all(len(n) <= 31 and not re.search(r"[\[\]:*?/\\]", n) for n in names)


def test_the_same_view_gives_the_same_bytes(view: RoundView, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("SOURCE_DATE_EPOCH", raising=False)
    data = round_sheet_workbook(view)
    assert round_sheet_workbook(view) == data
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert {info.date_time for info in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert b"1980-01-01T00:00:00Z" in archive.read("docProps/core.xml")
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1773117000")  # 2026-03-10 04:30 UTC
    with zipfile.ZipFile(io.BytesIO(round_sheet_workbook(view))) as archive:
        assert {info.date_time for info in archive.infolist()} == {(2026, 3, 10, 4, 30, 0)}
        assert b"2026-03-10T04:30:00Z" in archive.read("docProps/core.xml")


def test_the_time_of_printing_is_noted_in_the_properties(view: RoundView) -> None:
    data = round_sheet_workbook(view, printed_at=datetime(2026, 3, 10, 5, 0, tzinfo=UTC))
    assert openpyxl.load_workbook(io.BytesIO(data)).properties.modified == datetime(2026, 3, 10, 5, 0)


def test_unknown_paper_is_refused(view: RoundView) -> None:
    with pytest.raises(ValueError, match="a4, letter"):
        round_sheet_workbook(view, "foolscap")


@pytest.mark.parametrize(
    ("num_people", "paper", "most"), [(1, "a4", 5), (1, "letter", 5), (2, "a4", 6), (2, "letter", 6)]
)
def test_thirty_ordinary_visits_take_few_pages(num_people: int, paper: str, most: int) -> None:
    """Of stops: five, or six where a second person begins a page; rows to write in are 8 mm high.

    Beside them stand the overview, a map each, supplies and the legend.
    """
    problem, plan, windows = make_round(30, num_people, TYPICAL)
    view = build_view(problem, plan, windows, revision=1)
    book = openpyxl.load_workbook(io.BytesIO(round_sheet_workbook(view, paper)))
    assert sum(len(sheet.row_breaks.brk) + 1 for sheet in stops(book)) <= most
    assert all(not sheet.row_breaks.brk for sheet in book.worksheets if sheet.title[:3] in ("Rou", "Map", "Leg"))


@pytest.mark.parametrize("with_next", [True, False])
def test_a_heading_never_ends_a_page(with_next: bool) -> None:
    # A4 is 297 mm, margins 8.4 and 8.1 mm: 280.5 mm = 795.1 pt, of which 99 % (787.2 pt) are filled. 55 gaps of 13.5 pt
    # are 742.5 pt: a heading of 20 pt still fits (762.5), the row of 26 pt that it heads does not (788.5).
    sheet = openpyxl.Workbook().create_sheet("x")
    writer = SheetWriter(sheet, PAPERS["a4"], (100.0,))
    for _ in range(55):
        writer.gap(13.5)
    with writer.block(with_next=with_next):
        writer.gap(20.0)
    writer.gap(26.0)
    writer.finish(left="", centre="", right="", footer="")
    assert [b.id for b in sheet.row_breaks.brk] == [55 if with_next else 56]
    assert writer.num_pages() == 2


@pytest.mark.parametrize(("times", "is_repeated"), [(1, False), (8, True)])
def test_heading_of_the_supplies_is_repeated_only_above_supplies(times: int, is_repeated: bool) -> None:
    """Above the hand-overs on a later page it would name columns that are not there."""
    view = view_of()
    # Of the supplies eight times as many are over a page; of the hand-overs so too.
    longer = replace(view, supplies=view.supplies * times, collections=view.collections * 8)
    sheet = openpyxl.Workbook().active
    assert sheet is not None
    writer = write_supplies(sheet, longer, paper_for("a4"))
    writer.finish(left="", centre="", right="", footer="")
    assert writer.num_pages() > 1
    assert sheet.print_title_rows == ("$1:$1" if is_repeated else None)


@pytest.mark.parametrize(("is_large", "pages"), [(False, 1), (True, 2)])
def test_pictures_share_a_page_where_they_stay_large_enough(is_large: bool, pages: int) -> None:
    """In large print, across the paper, both on one page would be smaller than in ordinary print."""
    view = view_of(16, 1)
    sheet = openpyxl.Workbook().active
    assert sheet is not None
    paper = paper_for("a4", large_print=is_large)
    writer = write_pictures(sheet, view, 0, paper, route_pictures(view, 0))
    writer.finish(left="", centre="", right="", footer="")
    rows = [int(str(image.anchor)[1:]) for image in sheet._images]
    breaks = [b.id for b in sheet.row_breaks.brk]
    assert len(rows) == 2
    assert 1 + sum(rows[0] <= b < rows[1] for b in breaks) == pages
    usual = PAPERS["a4"].usable_mm / 25.4 * 96
    assert all(image.width >= 0.8 * usual for image in sheet._images)
