"""Lays out the sheet of one phlebotomist: a block for each stop, in the order in which the eye needs it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby
from typing import TYPE_CHECKING

from planner.exporters.pictures.text_layout import text_width_pt, wrap
from planner.exporters.view.cards.card_notes import CardNote, Weight, card_notes
from planner.exporters.view.paper import Paper
from planner.exporters.view.round_view import RouteView
from planner.exporters.view.stop_view import BreakView, HandoverView, TubeLine, VisitView
from planner.exporters.view.words import (
    BEHIND,
    BOX,
    BREAK,
    EVERY_PATIENT,
    OTHERWISE,
    OUTCOMES,
    TOO_LATE,
    WHY,
    count_words,
)
from planner.exporters.workbook.changes import write_done
from planner.exporters.workbook.pictures import write_cautions
from planner.exporters.workbook.text import HEAD_PT, LARGE_PT, TEXT_PT, TUBE_PT, Run, Span, Text
from planner.exporters.workbook.writer import BLACK, LIGHT, MEDIUM, WRITE_PT, SheetWriter

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

_WIDTHS_MM = (23.5, 10.0, 57.5, 13.0, 13.0, 20.0, 27.0, 22.0)
"""Where somebody writes a column is 20 mm wide or more."""
_MARGIN, _FIRST, _TUBE, _SIZE, _INVERT, _TESTS, _WIDE, _LAST = range(1, 9)

_BOXES_A_LINE = 3
_FIXED_BLANK = "\u00a0"
_BED_PT = (LARGE_PT, 14.0, HEAD_PT, 11.0, TEXT_PT)
"""Sizes of ward and bed, the largest in which the longest word fits: read from the door."""
_MARGIN_PT = 62.0
"""Width of the margin beside a stop, less the white at its edges."""
_BLANK = re.compile(r"_{4,}(?::_{4,})?")
"""Room to write within a question, as the page shows it; on paper each has a box of its own."""
_MOST_BLANKS = 2
"""Boxes beside a question; one that leaves more to write keeps its blanks in the text."""


def write_route(
    sheet: Worksheet,
    route: RouteView,
    paper: Paper,
    *,
    with_ward: bool,
    phones: Sequence[tuple[str, str]],
    cautions: Sequence[str],
    as_of: str = "",
) -> SheetWriter:
    """Write all stops of a route; ``with_ward`` prints the ward beside each bed.

    The cautions stand under the map, or here if there are no stops.

    ``as_of`` is the instant of a replanned round: what was done by then stands first, small.
    """
    writer = SheetWriter(sheet, paper, _WIDTHS_MM)
    heads = ("Bed, time", "Fill", "Tube, cap colour", "Size", "Invert", "Tests, then handling in bold")
    places = ((n, n if n < _TESTS else _LAST) for n in range(_MARGIN, _TESTS + 1))
    columns = zip(heads, places, strict=True)
    writer.title(*(Text(text=head, first=a, last=b, bold=True, fill=MEDIUM) for head, (a, b) in columns))
    writer.line(Text(text=route.newest, first=1, last=_LAST, bold=True))
    if route.lacking:
        writer.line(Text(text=route.lacking, first=1, last=_LAST, bold=True, fill=BLACK, is_white=True))
    doubt = f" {route.unconfirmed}." if route.unconfirmed else ""
    start = Span(f"{route.name}: start {route.starts}. {route.summary}.{doubt}", bold=True)
    writer.line(Text(spans=(start,), first=1, last=_LAST))
    if route.shaped:
        writer.line(Text(spans=_labelled((WHY, f"{route.shaped}.")), first=1, last=_LAST))
    otherwise = [_labelled(note) for note in (OTHERWISE, TOO_LATE, *((BEHIND,) if route.stops else ()))]
    tests = [_labelled(("TEST", words)) for words in route.bedside]
    flowing = [span for note in (*tests, *otherwise, _phones(phones)) for span in (*note, Span("   "))]
    for spans in (_labelled(EVERY_PATIENT), tuple(flowing[:-1])):
        writer.line(Text(spans=spans, first=1, last=_LAST))
    writer.gap(1)
    write_done(writer, route, as_of, _LAST)
    for stop in route.stops:
        if isinstance(stop, VisitView):
            _visit(writer, stop, route.num_stops, with_ward=with_ward)
        elif isinstance(stop, HandoverView):
            _handover(writer, stop, route.num_stops)
        else:
            _break(writer, stop, route.num_stops)
    if route.break_after:
        with writer.block():
            spans = _labelled((BREAK, route.break_after))
            writer.line(Text(spans=spans, first=1, last=_LAST, fill=LIGHT))
    if not route.stops:
        write_cautions(writer, cautions, _LAST)
    return writer


def _labelled(note: tuple[str, str]) -> tuple[Span, ...]:
    """Return a note with its first words bold."""
    label, words = note
    return Span(f"{label}  ", bold=True), Span(words)


def _phones(phones: Sequence[tuple[str, str]]) -> tuple[Span, ...]:
    """Return whom to phone, in bold, each with the occasions."""
    told = [(Span(who, bold=True), Span(f": {when}" if when else "")) for who, when in phones]
    between = [(Span("; " if number else ""), *pair) for number, pair in enumerate(told)]
    return Span("PHONE  ", bold=True), *(span for spans in between for span in spans if span.text)


def _visit(writer: SheetWriter, visit: VisitView, of: int, *, with_ward: bool) -> None:
    if visit.way:
        with writer.block(with_next=True, is_framed=False):
            where, colon, way = visit.way.partition(": ")
            writer.line(Text(spans=(Span(where + colon, bold=True), Span(way)), first=1, last=_LAST, fill=LIGHT))
    with writer.block(_visit_margin(visit, with_ward=with_ward)):
        writer.line(
            _number(visit.number, of),
            Text(text=f"{BOX} {visit.name}", first=_TUBE, last=_SIZE, size=_name_pt(visit), bold=True, fill=LIGHT),
            Text(text=_identifiers(visit), first=_INVERT, last=_LAST, fill=LIGHT, bold=True, middle=True),
        )
        notes = card_notes(visit)
        for pressing in (note for note in notes if note.weight is Weight.PRESSING):
            when = f"{pressing.label}  {pressing.words}"
            writer.line(Text(text=when, first=_FIRST, last=_LAST, bold=True, fill=BLACK, is_white=True))
        for is_to_write, run in groupby(
            (note for note in notes if note.weight is not Weight.PRESSING), key=lambda note: _num_boxes(note.words) > 0
        ):
            if is_to_write:
                for note in run:
                    _question(writer, note)
                continue
            for line in packed([_spans(note) for note in run], writer.width_pt(_FIRST, _LAST) / writer.paper.zoom):
                writer.line(Text(spans=line, first=_FIRST, last=_LAST))
        for tube in visit.tubes:
            if tube.site_head:
                writer.line(Text(text=tube.site_head, first=_FIRST, last=_LAST, bold=True, fill=LIGHT), rule=True)
            _tube(writer, tube)
        _end(writer, visit, with_ward=with_ward)


def _num_boxes(words: str) -> int:
    """Return how many boxes stand beside a question: one for each blank."""
    number = len(_BLANK.findall(words))
    return number if number <= _MOST_BLANKS else 0


def _question(writer: SheetWriter, note: CardNote) -> None:
    """Write a question with its boxes at the right, 20 mm wide and 8 mm high or more; in the text stand their numbers.

    Where something is asked of two instants, which box is for which must be plain.
    """
    number = _num_boxes(note.words)
    numbers = iter(range(1, number + 1))
    words = _BLANK.sub(lambda _: f"[{next(numbers)}]", note.words)
    boxes = ((_LAST,), (_WIDE, _LAST))[number - 1]
    writer.line(
        Text(spans=_spans(replace(note, words=words)), first=_FIRST, last=boxes[0] - 1, middle=True),
        *(Text(text=f"[{n}]", first=column, last=column, is_boxed=True) for n, column in enumerate(boxes, start=1)),
        min_pt=WRITE_PT,
    )


def _number(number: int, of: int) -> Text:
    """Return the number of the stop, white on black as on the map, and of how many."""
    return Text(
        text=f"{number}/{of}",
        first=_FIRST,
        last=_FIRST,
        bold=True,
        fill=BLACK,
        is_white=True,
        middle=True,
        centre=True,
    )


def _spans(note: CardNote) -> tuple[Span, ...]:
    """Return a note as label and text."""
    if note.weight is Weight.STRONG:
        return (Span(f"{note.label}  {note.words}", bold=True),)
    return Span(f"{note.label}  ", bold=True), Span(note.words)


def packed(notes: Sequence[tuple[Span, ...]], width_pt: float, *, flows: bool = False) -> list[tuple[Span, ...]]:
    """Return the lines of the notes: a note joins the one before only if both stand whole on one line.

    ``flows``: also where it stands whole on the last line of one that takes several.
    """
    lines: list[tuple[Span, ...]] = []
    for note in notes:
        joined = (*lines[-1], Span("     "), *note) if lines else note
        before = _num_wrapped(lines[-1], width_pt) if lines and flows else 1
        if lines and _num_wrapped(joined, width_pt) == before:
            lines[-1] = joined
        else:
            lines.append(note)
    return lines


def _num_wrapped(spans: tuple[Span, ...], width_pt: float) -> int:
    text = Text(spans=spans, first=1, last=1)
    return len(wrap(text.words, width_pt, TEXT_PT, bold=text.weights))


def _end(writer: SheetWriter, visit: VisitView, *, with_ward: bool) -> None:
    """Write where the tubes go, and the boxes for time, initials and outcome."""
    boxes = [f"{BOX}{_FIXED_BLANK}{outcome.word}" for outcome in OUTCOMES if outcome.on_paper]
    outcomes = "\n".join("  ".join(boxes[n : n + _BOXES_A_LINE]) for n in range(0, len(boxes), _BOXES_A_LINE))
    goes_to = "\n".join(line.by_stop for line in visit.goes_to) or "nothing"
    rest = "".join(f"   {_fixed(words)}" for words in (visit.slip, visit.puncture if with_ward else "") if words)
    give = () if visit.keep_out else (Span("GIVE  ", bold=True), Span(goes_to), Span(rest, bold=True))
    writer.line(
        Text(spans=give, first=_FIRST, last=_TUBE, middle=True),
        Text(text="at", first=_SIZE, last=_INVERT, is_boxed=True),
        Text(text="by", first=_TESTS, last=_TESTS, is_boxed=True),
        Text(text=outcomes, first=_WIDE, last=_LAST, middle=True),
        min_pt=WRITE_PT,
        rule=True,
    )


def _fixed(words: str) -> str:
    """Return words that no line break parts."""
    return words.replace(" ", _FIXED_BLANK)


def _name_pt(visit: VisitView) -> float:
    """Return the size of the name: large, but long names stay on few lines."""
    return HEAD_PT if len(visit.name) <= 60 else TUBE_PT


def _identifiers(visit: VisitView) -> str:
    born, number = (f"{BOX}{_FIXED_BLANK}{text}" for text in (f"born {visit.born}", visit.patient_number))
    return f"{born}  {number}"


def _visit_margin(visit: VisitView, *, with_ward: bool) -> list[Run]:
    where = [visit.ward, visit.label] if with_ward and visit.ward else [visit.label]
    bed_pt = _bed_pt(" ".join(where))
    runs = [Run(text=text, size=bed_pt, bold=True) for text in where]
    runs.append(Run(text=visit.at, size=LARGE_PT, bold=True))
    marks = [_fixed(mark) for mark in (visit.change_word, *(mark.words for mark in visit.marks)) if mark]
    if marks:
        runs.append(Run(text=" ".join(marks), size=TEXT_PT, bold=True))
    if visit.needle and not with_ward:  # else it would make most cards higher
        runs.append(Run(text=f"{visit.needles}, {visit.total}", size=TEXT_PT))
    return runs


def _bed_pt(where: str) -> float:
    """Return the size of ward and bed: the ward as large as the bed, the longest word of both on one line."""
    widest = max(where.split(), key=lambda word: text_width_pt(word, 1.0, bold=True), default="")
    fitting = (pt for pt in _BED_PT if text_width_pt(widest, pt, bold=True) <= _MARGIN_PT)
    return next(fitting, _BED_PT[-1])


def _tube(writer: SheetWriter, tube: TubeLine) -> None:
    """Write a tube: its tests, then what it needs after filling; the latter under it where that takes fewer lines."""
    beside = (Span(f"{tube.tests}.  "), Span(tube.handling, bold=True)) if tube.handling else (Span(tube.tests),)
    is_long = bool(tube.handling) and _num_lines(writer, beside, _TESTS) > 2
    writer.line(
        Text(text=f"{BOX} {tube.positions}", first=_FIRST, last=_FIRST, bold=True),
        Text(text=tube.label, first=_TUBE, last=_TUBE, size=TUBE_PT, bold=True),
        Text(text=tube.size, first=_SIZE, last=_SIZE),
        Text(text=tube.inversions, first=_INVERT, last=_INVERT),
        Text(spans=(Span(tube.tests),) if is_long else beside, first=_TESTS, last=_LAST),
        rule=True,
    )
    if is_long:
        spans = (Span(tube.handling, bold=True),)
        first = min((_TUBE, _FIRST), key=lambda column: _num_lines(writer, spans, column))
        writer.line(Text(text=tube.handling, first=first, last=_LAST, bold=True))


def _num_lines(writer: SheetWriter, spans: tuple[Span, ...], first: int) -> int:
    text = Text(spans=spans, first=first, last=_LAST)
    return len(wrap(text.words, writer.width_pt(first, _LAST), TEXT_PT * writer.paper.zoom, bold=text.weights))


def _handover(writer: SheetWriter, stop: HandoverView, of: int) -> None:
    with writer.block([Run(text=stop.at, size=LARGE_PT, bold=True)], fill=MEDIUM):
        head = f"HAND OVER at {stop.headline}"
        writer.line(
            _number(stop.number, of), Text(text=head, first=_TUBE, last=_LAST, bold=True, fill=MEDIUM, middle=True)
        )
        tubes = (Span(f"{BOX} {count_words(stop.num_tubes, 'tube')}", bold=True), Span(f": {stop.beds}"))
        special = ((Span(f"{BOX} {stop.special}", bold=True),),) if stop.special else ()
        fallback = ((Span(stop.fallback),),) if stop.fallback else ()
        way = ((Span(stop.way),),) if stop.way else ()
        wait = (_labelled(("WAIT", stop.wait)),) if stop.wait else ()
        for line in packed(
            [tubes, *wait, *special, *fallback, *way],
            writer.width_pt(_FIRST, _LAST) / writer.paper.zoom,
            flows=True,
        ):
            writer.line(Text(spans=line, first=_FIRST, last=_LAST, fill=MEDIUM))


def _break(writer: SheetWriter, stop: BreakView, of: int) -> None:
    with writer.block([Run(text=stop.at, size=LARGE_PT, bold=True)], fill=LIGHT):
        head = f"{BREAK} {stop.headline}"
        writer.line(
            _number(stop.number, of), Text(text=head, first=_TUBE, last=_LAST, bold=True, fill=LIGHT, middle=True)
        )
        if stop.wait:
            writer.line(Text(spans=_labelled(("WAIT", stop.wait)), first=_FIRST, last=_LAST))
