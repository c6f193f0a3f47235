"""Lays out what only a replanned round has: what changed, add-ons, what is done, and the note to read out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from planner.exporters.view.notes.assumed import STILL_TO_COME
from planner.exporters.view.notes.changes import DoneLine, ReplanView
from planner.exporters.view.paper import Paper
from planner.exporters.view.round_view import RoundView, RouteView
from planner.exporters.view.words import BOX, count_words
from planner.exporters.workbook.text import Span, Text
from planner.exporters.workbook.writer import LIGHT, MEDIUM, SheetWriter

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

CHANGE_HEADS = ("Changed", "Bed", "Now", "What and why", "Before")
ADDON_HEADS = ("Bed", "Add this test", "To this tube", "Patient", "Drawn, by; test begins by")
NOTE_PT = (13.0, 11.0, 10.0, 9.5)
"""Sizes of the change note, the largest first: the first that stays on one page is taken.

In the smallest, the details of a stop run on in one paragraph: some seven new stops fit, more go on to a second page.
"""


def change_rows(replan: ReplanView) -> list[tuple[str, ...]]:
    """Return the cells of the table of changes."""
    return [(line.word, line.bed, line.now, line.why, line.before) for line in replan.changes]


def addon_rows(replan: ReplanView) -> list[tuple[str, ...]]:
    """Return the cells of the table of add-ons."""
    return [
        (
            f"{BOX} {line.bed}",
            f"{line.test} (order {line.order})",
            line.tube,
            f"{line.name}, born {line.born}, {line.patient_number}",
            f"{line.drawn}; {line.limit}",
        )
        for line in replan.addons
    ]


def addon_title(replan: ReplanView) -> str:
    """Return the heading of the add-ons."""
    return f"PHONE THE LABORATORY: {count_words(len(replan.addons), 'add-on')}, no new draw"


def change_title(view: RoundView) -> str:
    """Return the heading of the changes."""
    assert view.replan is not None
    return f"What changed since {view.replan.parent}, as of {view.replan.as_of}"


def given_words(replan: ReplanView) -> str:
    """Return what was given to this revision, and what it takes for granted; empty when nothing."""
    parts = [f"Given: {'; '.join(replan.given)}."] if replan.given else []
    parts += [f"Only assumed: {'; '.join(replan.assumed)}."] if replan.assumed else []
    parts += [f"Due, not told: {'; '.join(replan.untold)}; {STILL_TO_COME}."] if replan.untold else []
    return " ".join(parts)


def done_title(as_of: str, lines: Sequence[DoneLine]) -> str:
    """Return the heading of what is done; it says so where all of it is assumed."""
    return f"DONE BY {as_of}" + (", all of it assumed: nobody reported it" if _all_assumed(lines) else "")


def done_words(lines: Sequence[DoneLine]) -> list[str]:
    """Return the stops that were made: '1  05:00 bed 101, Okonkwo: drawn, 4 tubes (assumed)'."""
    is_said = not _all_assumed(lines)
    return [
        f"{line.number}  {line.at} {line.place}{', ' if line.name else ''}{line.name}: {line.what}"
        + (" (assumed)" if line.is_assumed and is_said else "")
        for line in lines
    ]


def _all_assumed(lines: Sequence[DoneLine]) -> bool:
    return all(line.is_assumed for line in lines if not line.is_under_way) and any(line.is_assumed for line in lines)


def write_done(writer: SheetWriter, route: RouteView, as_of: str, last: int) -> None:
    """Write the stops that were made, small and side by side, and what is in the tray now."""
    if not route.done:
        return
    middle = last // 2
    words = done_words(route.done)
    half = -(-len(words) // 2)
    with writer.block():
        title = done_title(as_of, route.done)
        writer.line(Text(text=title, first=1, last=last, bold=True, fill=LIGHT))
        for left, right in zip(words[:half], (*words[half:], None), strict=False):
            cells = [Text(text=left, first=1, last=middle)]
            if right is not None:
                cells.append(Text(text=right, first=middle + 1, last=last))
            writer.line(*cells, rule=True)
    tray = "\n".join(route.tray) or "nothing"
    spans = (Span("IN THE TRAY NOW  ", bold=True), Span(tray))
    with writer.block():
        writer.line(Text(spans=spans, first=1, last=last, fill=MEDIUM))


def write_note(sheet: Worksheet, route: RouteView, view: RoundView, paper: Paper, size: float) -> SheetWriter:
    """Write the change note of one phlebotomist in letters of this size."""
    assert view.replan is not None
    writer = SheetWriter(sheet, paper, (14.0, 57.0, 57.0, 57.0))
    writer.line(Text(text=f"Change note for {route.name}", first=1, last=4, size=size + 4, bold=True))
    about = f"{view.title}, {view.date}. {view.revision[:1].upper()}{view.revision[1:]}. Read it out, number by number."
    writer.line(Text(text=about, first=1, last=4, size=max(9.0, size - 1)))
    writer.gap(size / 2)
    for number, line in enumerate(route.note, start=1):
        with writer.block():
            writer.line(
                Text(text=f"{number}.", first=1, last=1, size=size, bold=True),
                Text(text=line.text, first=2, last=4, size=size, bold=bool(line.details)),
            )
            for detail in line.details if size > NOTE_PT[-1] else (" ".join(line.details),) * bool(line.details):
                writer.line(Text(text=detail, first=2, last=4, size=max(9.0, size - 1)))
    writer.gap(size / 2)
    with writer.block():
        said = f"Read out by ________________   to {route.name}   at ___:___   said back {BOX}"
        writer.line(Text(text=said, first=1, last=4, size=size), min_pt=24)
    return writer
