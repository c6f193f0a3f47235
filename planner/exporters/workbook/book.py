"""Writes the round sheet as a workbook that is ready to print, the same bytes for the same view."""

from __future__ import annotations

import io
import os
import re
import zipfile
from datetime import UTC, datetime

from openpyxl import Workbook
from openpyxl.styles import Font
from openpyxl.worksheet.worksheet import Worksheet

from planner.exporters.pictures.draw import Drawn, round_pictures
from planner.exporters.view.paper import Paper, paper_for
from planner.exporters.view.round_view import NAME_LETTERS, RoundView, RouteView
from planner.exporters.workbook.changes import NOTE_PT, write_note
from planner.exporters.workbook.legend import write_legend
from planner.exporters.workbook.lists import write_first_sheet, write_overview, write_supplies
from planner.exporters.workbook.pictures import write_pictures
from planner.exporters.workbook.route import write_route
from planner.exporters.workbook.text import FONT
from planner.exporters.workbook.what_if import write_what_if
from planner.exporters.workbook.writer import SheetWriter

_EPOCH = datetime(1980, 1, 1, tzinfo=UTC)
"""The earliest time that a zip archive can hold."""


def round_sheet_workbook(
    view: RoundView,
    paper: str = "a4",
    printed_at: datetime | None = None,
    *,
    large_print: bool = False,
    drawn: Drawn | None = None,
) -> bytes:
    """Return the workbook: overview, supplies; stops, what-if card and map of each phlebotomist; legend; change notes.

    Parameters
    ----------
    view
        What to print.
    paper
        ``a4`` or ``letter``; portrait.
    printed_at
        The time noted in the file's properties; None: that of SOURCE_DATE_EPOCH, else 1980-01-01. Times inside the
        archive are always of the latter kind.
    large_print
        Letters 1.4 times as large, on the same paper turned to landscape.
    drawn
        Gives the pictures of the routes, asked for last; None: they are drawn here.

    Raises
    ------
    ValueError
        If the paper is not known.
    """
    size = paper_for(paper, large_print=large_print)
    book = Workbook()
    del book[book.sheetnames[0]]
    _set_default_font(book)
    if view.is_packet:
        _finish(write_first_sheet(book.create_sheet("Round"), view, size), view, "Overview, supplies")
    else:
        _finish(write_overview(book.create_sheet("Round"), view, size), view, "Overview")
        _finish(write_supplies(book.create_sheet("Supplies"), view, size), view, "Supplies, hand-overs")
    titles: set[str] = {"Round", "Supplies", "Legend"}
    for route in (route for route in view.routes if route.note):
        _note(book, _sheet_title(f"Note {route.initials}", titles), route, view, size)
    as_of = view.replan.as_of if view.replan else ""
    maps: dict[int, Worksheet] = {}
    for number, route in enumerate(view.routes):
        if route.is_idle:
            continue
        sheet = book.create_sheet(_sheet_title(route.name, titles))
        written = write_route(
            sheet,
            route,
            size,
            with_ward=view.has_several_wards,
            phones=view.phones,
            cautions=view.cautions,
            as_of=as_of,
        )
        _finish(written, view, route.name)
        if route.what_if:
            card = book.create_sheet(_sheet_title(f"What if {route.initials}", titles))
            _finish(write_what_if(card, route, size), view, f"What if {route.initials}")
        if route.stops:
            maps[number] = book.create_sheet(_sheet_title(f"Map {route.initials}", titles))
    if not (view.is_packet and maps):
        _finish(write_legend(book.create_sheet("Legend"), view, size), view, "Legend, cautions")
    pictures = drawn() if drawn else round_pictures(view)
    for number, sheet in maps.items():
        written = write_pictures(sheet, view, number, size, pictures[number])
        _finish(written, view, view.routes[number].name)
    book.properties.title = view.title
    book.properties.creator = "collection round planner"
    buffer = io.BytesIO()
    book.save(buffer)
    return _repeatable(buffer.getvalue(), _stamp(), printed_at or _stamp())


def _set_default_font(book: Workbook) -> None:
    """Let the font of the texts decide how wide a column is: the format counts widths in its digits."""
    book._fonts[0] = Font(name=FONT, size=10, family=2)  # type: ignore[attr-defined]  # the library has no public way


def _note(book: Workbook, title: str, route: RouteView, view: RoundView, size: Paper) -> None:
    """Write the change note in the largest letters that keep it on one page."""
    for letters in NOTE_PT:
        sheet = book.create_sheet(title)
        writer = write_note(sheet, route, view, size, letters)
        _finish(writer, view, f"Change note {route.initials}")
        if writer.num_pages() == 1 or letters == NOTE_PT[-1]:
            return
        book.remove(sheet)


def _finish(writer: SheetWriter, view: RoundView, name: str) -> None:
    left, right = view.header
    writer.finish(left=left, centre=name[:NAME_LETTERS], right=right, footer=view.confidentiality, printed=view.printed)


def _sheet_title(name: str, taken: set[str]) -> str:
    """Return a name that a sheet may have: no forbidden characters, at most 31, none twice; add it to those taken."""
    base = re.sub(r"[\[\]:*?/\\']", " ", name).strip()[:26] or "Phlebotomist"
    title, number = base, 2
    while title.casefold() in {t.casefold() for t in taken} or title.casefold() == "history":
        title, number = f"{base} {number}", number + 1
    taken.add(title)
    return title


def _stamp() -> datetime:
    """Return the time of SOURCE_DATE_EPOCH, else the earliest that an archive can hold."""
    text = os.environ.get("SOURCE_DATE_EPOCH", "")
    return max(_EPOCH, datetime.fromtimestamp(int(text), UTC)) if text.isdigit() else _EPOCH


def _repeatable(data: bytes, stamp: datetime, made: datetime) -> bytes:
    """Return the archive with fixed times inside, so that nothing but the view decides its bytes."""
    noted = made.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ").encode()
    times = re.compile(rb"(<dcterms:(created|modified)[^>]*>)[^<]*(</dcterms:\2>)")
    result = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(result, "w") as new:
        for info in old.infolist():
            content = old.read(info)
            if info.filename == "docProps/core.xml":
                content = times.sub(lambda m: m[1] + noted + m[3], content)
            entry = zipfile.ZipInfo(info.filename, stamp.timetuple()[:6])
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.create_system = 3
            entry.external_attr = 0o600 << 16
            new.writestr(entry, content, compresslevel=6)
    return result.getvalue()
