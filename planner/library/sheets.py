"""``planner.write_sheets``: the sheets of a written plan again: for one person, on other paper, large, as PDF."""

from __future__ import annotations

from pathlib import Path

from planner.domain.plan import Plan
from planner.domain.problem import Problem
from planner.domain.staff import find_people
from planner.errors import RequestError
from planner.exporters.files import write_atomic
from planner.exporters.page.pdf import HOW_TO_INSTALL, find_browser
from planner.findings import Finding, Report
from planner.library.printing import sheets
from planner.library.written import read
from planner.loaders.during.visit_book import VisitBook
from planner.visits import order_windows


def write_sheets(
    path: str | Path,
    *,
    only: str | None = None,
    paper: str = "a4",
    large_print: bool = False,
    pdf: bool = False,
    accept_edited: bool = False,
) -> tuple[tuple[Path, ...], tuple[Finding, ...]]:
    """Write the sheets of a written plan again, beside it; the plan stays as it is.

    Return the files, and what was found: names that a PDF cannot print.

    Parameters
    ----------
    path
        The outputs of a round (its newest revision) or the folder of one revision.
    only
        Name or initials of one phlebotomist; a bed, patient number or order number means the one who draws there.
    paper
        ``"a4"`` or ``"letter"``.
    large_print
        Letters 1.4 times as large, across the paper.
    pdf
        Write a PDF too, printed by an installed browser.
    accept_edited
        Go on with a plan that was changed since it was written.

    Raises
    ------
    RequestError
        If ``only`` means nobody or several, or no browser is installed.
    PlanFileError, CheckRefusedError
        As `planner.read`.
    OutputError
        If a file cannot be written, or the browser fails.
    """
    written = read(path, accept_edited=accept_edited)
    person = None if only is None else _person(written.problem, written.plan, only)
    if pdf and find_browser() is None:
        raise RequestError(HOW_TO_INSTALL, "pdf")
    report = Report()
    windows, _without = order_windows(written.problem)
    made = sheets(
        written.problem,
        written.plan,
        windows,
        revision=written.number,
        findings=written.findings,
        paper=paper,
        only=person,
        large_print=large_print,
        with_pdf=pdf,
        report=report,
    )()
    files: list[Path] = []
    for name, data in made.items():
        stem, _, ending = name.rpartition(".")
        words = [stem, *([paper] if paper != "a4" else []), *(["large"] if large_print else [])]
        files.append(written.folder / f"{'-'.join(words)}.{ending}")
        write_atomic(files[-1], data)
    return tuple(files), tuple(report)


def _person(problem: Problem, plan: Plan, text: str) -> int:
    """Return the index of the phlebotomist whom a text means, or who draws the patient whom it means.

    Raises
    ------
    RequestError
        If it means nobody, or several.
    """
    people = find_people(problem.staff, text)
    visits = [] if people else VisitBook(problem, plan, problem.begin_s).named(text)[0]
    coming = [v for v in visits if v.outcome is None] or visits
    found = people or {r.phlebotomist for r in plan.routes if any(v in coming for v in r.visits)}
    if len(found) == 1:
        return next(iter(found))
    if len(people) > 1:
        known = ", ".join(problem.staff[n].initials for n in people)
        raise RequestError(f"{len(people)} phlebotomists are called that; give the initials: {known}", "for")
    known = ", ".join(s.initials for s in problem.staff)
    raise RequestError(f"nobody on this round is called that, or draws there; initials: {known}", "for")
