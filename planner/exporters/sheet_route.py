"""Lays out the sheet of one phlebotomist: a block for each stop, in the order in which the eye needs it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from planner.exporters.sheet_writer import BODY_PT, LIGHT, MEDIUM, Paper, Run, SheetWriter, Text
from planner.exporters.text_layout import wrap
from planner.exporters.view import BreakView, HandoverView, RouteView, TubeLine, VisitView
from planner.exporters.words import BOX, EVERY_PATIENT, count_words

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

_WIDTHS_MM = (24.0, 11.0, 56.0, 14.0, 13.0, 32.0, 38.0)
_MARGIN, _FIRST, _TUBE, _SIZE, _INVERT, _TESTS, _HANDLING = range(1, 8)
_LAST = _HANDLING
_CAUTION_PT = 9.0

_FIXED_BLANK = "\u00a0"
_OUTCOMES = ("all", "part", "refused", "away", "failed")


def write_route(
    sheet: Worksheet, route: RouteView, paper: Paper, *, with_ward: bool, cautions: Sequence[str]
) -> SheetWriter:
    """Write all stops of a route, then the cautions; ``with_ward`` prints the ward beside each bed."""
    writer = SheetWriter(sheet, paper, _WIDTHS_MM)
    heads = ("Bed, time", "Fill", "Tube, cap colour", "Size", "Invert", "Tests", "Handling")
    writer.title(*(Text(text=head, first=i, last=i, bold=True, fill=MEDIUM) for i, head in enumerate(heads, start=1)))
    writer.line(
        Text(
            text=f"{route.name}: start {route.starts}. {route.summary}.",
            first=1,
            last=_LAST,
            size=11,
            bold=True,
        )
    )
    writer.line(Text(text=EVERY_PATIENT, first=1, last=_LAST))
    writer.gap(4)
    for stop in route.stops:
        if isinstance(stop, VisitView):
            _visit(writer, stop, with_ward=with_ward)
        elif isinstance(stop, HandoverView):
            _handover(writer, stop)
        else:
            _break(writer, stop)
    writer.gap(4)
    with writer.block():
        for caution in cautions:
            writer.line(Text(text=f"! {caution}", first=1, last=_LAST, size=_CAUTION_PT))
    return writer


def _visit(writer: SheetWriter, visit: VisitView, *, with_ward: bool) -> None:
    with writer.block(_visit_margin(visit, with_ward=with_ward)):
        writer.line(
            Text(text=f"{BOX} {visit.name}", first=_FIRST, last=_SIZE, size=_name_pt(visit), bold=True, fill=LIGHT),
            Text(text=_identifiers(visit), first=_INVERT, last=_LAST, fill=LIGHT, bold=True, middle=True),
        )
        if visit.window:
            text = f"WHEN  {visit.window}; draw planned {visit.draw_at}"
            _wide(writer, text, bold=bool(visit.marks), fill=LIGHT)
        if visit.wear:
            _wide(writer, "WEAR  " + "; ".join(visit.wear), bold=True)
        if visit.alerts:
            _wide(writer, "ALERT  " + "; ".join(visit.alerts), bold=True)
        if visit.ask:
            _wide(writer, "ASK  " + "\n".join(visit.ask))
        do = [*visit.do, *([f"Needle {visit.needle}: {visit.needle_why}"] if visit.needle_why else [])]
        if do:
            _wide(writer, "DO  " + ". ".join(do))
        for tube in visit.tubes:
            _tube(writer, tube)
        _end(writer, visit)


def _end(writer: SheetWriter, visit: VisitView) -> None:
    """Write where the tubes go, and the boxes for time, initials and outcome."""
    outcomes = " ".join(f"{BOX}{_FIXED_BLANK}{outcome}" for outcome in _OUTCOMES)
    goes_to = "\n".join(visit.goes_to) or "nothing"
    writer.line(
        Text(text=f"GIVE  {goes_to}", first=_FIRST, last=_TUBE, middle=True),
        Text(text=f"at ___:___ by{_FIXED_BLANK}_____ {outcomes}", first=_SIZE, last=_LAST, middle=True),
        min_pt=20,
        rule=True,
    )


def _name_pt(visit: VisitView) -> float:
    """Return the size of the name: large, but long names stay on few lines."""
    return 12.0 if len(visit.name) <= 60 else BODY_PT


def _identifiers(visit: VisitView) -> str:
    born, number = (f"{BOX}{_FIXED_BLANK}{text}" for text in (f"born {visit.born}", visit.patient_number))
    return f"{born}  {number}"


def _visit_margin(visit: VisitView, *, with_ward: bool) -> list[Run]:
    bed_pt = 22 if len(visit.bed) <= 5 else 17 if len(visit.bed) <= 8 else 12
    runs = [Run(text=visit.bed, size=bed_pt, bold=True)]
    if with_ward:
        runs.append(Run(text=visit.ward, size=BODY_PT))
    runs.append(Run(text=visit.at, size=15, bold=True))
    runs += [Run(text=mark, size=10.5, bold=True) for mark in visit.marks]
    runs.append(Run(text=f"stop {visit.number}", size=BODY_PT))
    runs.append(Run(text=f"{visit.needle}, {visit.total}", size=BODY_PT))
    return runs


def _tube(writer: SheetWriter, tube: TubeLine) -> None:
    """Write a tube; handling too long for its column goes under it, over the whole width."""
    is_long = len(wrap(tube.handling, writer.width_pt(_HANDLING, _HANDLING), BODY_PT, bold=tube.is_special)) > 1
    beside = "" if is_long else tube.handling
    writer.line(
        Text(text=f"{BOX} {tube.positions}", first=_FIRST, last=_FIRST, bold=True),
        Text(text=tube.label, first=_TUBE, last=_TUBE, bold=True),
        Text(text=tube.size, first=_SIZE, last=_SIZE),
        Text(text=tube.inversions, first=_INVERT, last=_INVERT),
        Text(text=tube.tests, first=_TESTS, last=_TESTS if beside else _LAST),
        *([Text(text=beside, first=_HANDLING, last=_HANDLING, bold=tube.is_special)] if beside else []),
        rule=True,
    )
    if is_long:
        writer.line(Text(text=tube.handling, first=_TUBE, last=_LAST, bold=tube.is_special))


def _handover(writer: SheetWriter, stop: HandoverView) -> None:
    margin = [Run(text=stop.at, size=15, bold=True), Run(text=f"stop {stop.number}", size=BODY_PT)]
    with writer.block(margin, fill=MEDIUM):
        head = f"HAND OVER at {stop.place}. {stop.what.upper()}"
        _wide(writer, f"{head}; at the laboratory {stop.arrives}.", size=11, bold=True, fill=MEDIUM)
        _wide(writer, f"{BOX} {count_words(stop.num_tubes, 'tube')}: {stop.contents}", fill=MEDIUM)
        _wide(writer, stop.beds, fill=MEDIUM)
        if stop.special:
            _wide(writer, f"{BOX} {stop.special}", bold=True, fill=MEDIUM)


def _break(writer: SheetWriter, stop: BreakView) -> None:
    with writer.block([Run(text=stop.at, size=15, bold=True)], fill=LIGHT):
        _wide(writer, f"BREAK until {stop.until}, {stop.place}", size=12, bold=True, fill=LIGHT, min_pt=22)


def _wide(
    writer: SheetWriter,
    text: str,
    *,
    size: float = BODY_PT,
    bold: bool = False,
    fill: str = "",
    min_pt: float = 0.0,
    rule: bool = False,
    middle: bool = False,
) -> None:
    writer.line(
        Text(text=text, first=_FIRST, last=_LAST, size=size, bold=bold, fill=fill, middle=middle),
        min_pt=min_pt,
        rule=rule,
    )
