"""``planner sheet``: writes the sheets of a plan again."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner.cli.options import AcceptEdited, Paper, PaperOption
from planner.cli.written import plan_path, read_checked

if TYPE_CHECKING:
    from planner.domain.plan import Plan
    from planner.domain.problem import Problem


def sheet(
    path: Annotated[
        Path,
        typer.Argument(
            metavar="OUT",
            help="The folder of a written plan: outputs/<round> (its newest revision) or outputs/<round>/r1.",
            show_default=False,
        ),
    ],
    only: Annotated[
        str | None,
        typer.Option(
            "--for",
            metavar="NAME",
            help="Name or initials of one phlebotomist; a bed, patient number or order number stands for whoever draws "
            "there. Default: everybody.",
            show_default=False,
        ),
    ] = None,
    paper: PaperOption = Paper.A4,
    large_print: Annotated[
        bool, typer.Option("--large-print", help="Letters 1.4 times as large, across the paper. Default: ordinary.")
    ] = False,
    accept_edited: AcceptEdited = False,
    pdf: Annotated[
        bool,
        typer.Option(
            "--pdf", help="Write a PDF too; needs Chromium, Chrome or Edge installed. Default: workbook and HTML page."
        ),
    ] = False,
) -> None:
    """Write the round sheet of a plan again: for one person, on other paper, in large print, as PDF.

    The plan itself stays as it is.
    """
    from planner.cli.outputs import sheets
    from planner.cli.reading import print_findings
    from planner.exporters.files import write_atomic
    from planner.exporters.page.pdf import HOW_TO_INSTALL, find_browser
    from planner.findings import Report

    file = read_checked(path, accepts_edited=accept_edited)
    only = None if only is None else _person(file.problem, file.plan, only)
    if pdf and find_browser() is None:
        raise typer.BadParameter(HOW_TO_INSTALL, param_hint="--pdf")
    report = Report()
    made = sheets(
        file.problem,
        file.plan,
        revision=file.revision,
        findings=file.findings,
        paper=paper.value,
        only=only,
        large_print=large_print,
        with_pdf=pdf,
        report=report,
    )()
    print_findings(report)
    folder = plan_path(path).parent
    for name, data in made.items():
        stem, _, ending = name.partition(".")
        words = [stem, *([only] if only else []), *([paper.value] if paper is not Paper.A4 else [])]
        words += ["large"] if large_print else []
        target = folder / f"{_file_name('-'.join(words))}.{ending}"
        write_atomic(target, data)
        typer.echo(f"{target} written")


def _person(problem: Problem, plan: Plan, text: str) -> str:
    """Return the initials of the phlebotomist whom a text means, or who draws the patient whom it means.

    Raises
    ------
    typer.BadParameter
        If it means nobody, or several.
    """
    from planner.domain.people import find_people
    from planner.loaders.during.visit_book import VisitBook

    people = find_people(problem.staff, text)
    visits = [] if people else VisitBook(problem, plan, problem.begin_s).named(text)[0]
    coming = [v for v in visits if v.outcome is None] or visits
    found = people or {r.phlebotomist for r in plan.routes if any(v in coming for v in r.visits)}
    if len(found) == 1:
        return problem.staff[next(iter(found))].initials
    if len(people) > 1:
        known = ", ".join(problem.staff[n].initials for n in people)
        what = f"{len(people)} phlebotomists are called that; give the initials: {known}"
        raise typer.BadParameter(what, param_hint="--for")
    known = ", ".join(s.initials for s in problem.staff)
    raise typer.BadParameter(
        f"nobody on this round is called that, or draws there; initials: {known}", param_hint="--for"
    )


def _file_name(words: str) -> str:
    """Return words as the name of a file: no blanks, nothing that means something to a system."""
    return re.sub(r"[^\w.-]+", "-", words).strip("-.")
