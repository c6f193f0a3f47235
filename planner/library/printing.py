"""Prints a plan: workbook, page and PDF as bytes, while another process may help."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, datetime
from functools import cache
from importlib import import_module
from typing import TYPE_CHECKING

from planner.library.beside import Beside, shared

if TYPE_CHECKING:
    from planner.domain.draws import OrderWindow
    from planner.domain.orders import OrderId
    from planner.domain.plan import Plan
    from planner.domain.problem import Problem
    from planner.exporters.pictures.draw import Drawn, Picture
    from planner.exporters.view.round_view import RoundView
    from planner.findings import Finding, Report

_EPOCH_DIGITS = 12
"""Eleven digits of seconds reach beyond the year 5000."""


def print_time() -> datetime:
    """Return when a sheet is made: now, or the instant of SOURCE_DATE_EPOCH so that it can be made again.

    Raises
    ------
    InputError
        If SOURCE_DATE_EPOCH is set and is no number of seconds since 1970 (reproducible-builds.org, its specification).
    """
    epoch = os.environ.get("SOURCE_DATE_EPOCH", "")
    if not epoch:
        return datetime.now().astimezone()
    if not (epoch.isascii() and epoch.isdigit() and len(epoch) < _EPOCH_DIGITS):
        from planner.errors import InputError

        raise InputError("SOURCE_DATE_EPOCH is no whole number of seconds since 1970; correct or unset it")
    return datetime.fromtimestamp(int(epoch), UTC)


Printed = Callable[[], dict[str, bytes]]
"""Waits for the printed files, by name."""


def load_printing() -> None:
    """Load what printing needs; that takes a while, and can be done before there is anything to print."""
    from planner.exporters.pictures.draw import load_drawing

    for name in ("page.page", "workbook.book"):
        import_module(f"planner.exporters.{name}")
    load_drawing()


def sheets(
    problem: Problem,
    plan: Plan,
    windows: Mapping[OrderId, OrderWindow],
    *,
    revision: int,
    findings: Iterable[Finding],
    paper: str,
    extra_summary: Iterable[str] = (),
    only: int | None = None,
    large_print: bool = False,
    with_pdf: bool = False,
    beside: Beside | None = None,
    report: Report | None = None,
) -> Printed:
    """Begin to print a plan; return what waits for the files. ``only``: the packet of this phlebotomist alone.

    With ``beside`` they are printed by the other process meanwhile. ``report`` is told of names that the PDF cannot
    print; it must be in this process.
    """
    from planner.exporters.view.build import build_view
    from planner.visits.linked import plan_gaps
    from planner.visits.to_laboratory import plan_dues_s

    printed_at = print_time()
    view = build_view(
        problem,
        plan,
        windows,
        gaps=plan_gaps(problem, plan),
        dues_s=plan_dues_s(problem, plan, windows),
        revision=revision,
        findings=findings,
        printed_at=printed_at,
        extra_summary=extra_summary,
    )
    if only is not None:
        view = view.of_person(only)
    return (beside or Beside(None)).ask(_printed, view, paper, printed_at, large_print, with_pdf, report)


def _printed(
    view: RoundView, paper: str, printed_at: datetime, large_print: bool, with_pdf: bool, report: Report | None
) -> dict[str, bytes]:
    """Return the printed files by name: of the view and, if that is the whole round, of each person's packet.

    A twin draws while the texts are written.
    """
    from planner.exporters.pictures.draw import arranged, picture_of, pictures_wanted
    from planner.exporters.view.round_view import WHOLE

    pictures = shared(picture_of, [(view, *which) for which in pictures_wanted(view)])
    drawn = cache(lambda: arranged(view, pictures()))
    files = _files(view, drawn, paper, printed_at, large_print, with_pdf, report)
    if view.stem == WHOLE:
        of_person = dict(zip((route.staff_index for route in view.routes), drawn(), strict=True))
        packets = [(packet, of_person[packet.routes[0].staff_index]) for packet in view.packets]
        calls = [(one, own, paper, printed_at, large_print, with_pdf) for one, own in packets]
        for made in shared(_packet, calls)():
            files |= made
    return files


def _packet(
    view: RoundView, pictures: tuple[Picture, ...], paper: str, printed_at: datetime, large_print: bool, with_pdf: bool
) -> dict[str, bytes]:
    return _files(view, lambda: (pictures,), paper, printed_at, large_print, with_pdf, None)


def _files(
    view: RoundView,
    drawn: Drawn,
    paper: str,
    printed_at: datetime,
    large_print: bool,
    with_pdf: bool,
    report: Report | None,
) -> dict[str, bytes]:
    from planner.exporters.page.page import round_sheet_html
    from planner.exporters.workbook.book import round_sheet_workbook

    book = round_sheet_workbook(view, paper=paper, printed_at=printed_at, large_print=large_print, drawn=drawn)
    page = round_sheet_html(view, paper=paper, large_print=large_print, drawn=drawn)
    files = {f"{view.stem}.xlsx": book, f"{view.stem}.html": page}
    if with_pdf:
        from planner.exporters.page.pdf import page_to_pdf
        from planner.exporters.pictures.glyphs import with_names_noted

        noted, found = with_names_noted(view)
        if report is not None:
            report.extend(found)
        if found:
            page = round_sheet_html(noted, paper=paper, large_print=large_print, drawn=drawn)
        files[f"{view.stem}.pdf"] = page_to_pdf(page, printed_at)
    return files
