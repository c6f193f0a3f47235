"""Finds a written plan from the folder a person names: a round's outputs (its newest revision) or one revision."""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from planner.cli.exit_codes import ExitCode
from planner.cli.reading import print_findings
from planner.errors import PlanFileError

if TYPE_CHECKING:
    from planner.exporters.plan_json.plan_file import PlanFile
    from planner.findings import Finding


def is_written(path: Path) -> bool:
    """Return whether a path names outputs (and not a round to plan)."""
    from planner.exporters.files import revisions
    from planner.exporters.plan_json.plan_file import PLAN_FILE

    return path.name == PLAN_FILE or (path / PLAN_FILE).is_file() or bool(revisions(path))


def plan_path(path: Path) -> Path:
    """Return the plan.json that a path stands for.

    Raises
    ------
    PlanFileError
        If there is no plan there.
    """
    from planner.exporters.files import revisions
    from planner.exporters.plan_json.plan_file import PLAN_FILE

    if path.name == PLAN_FILE and path.is_file():
        return path
    if (path / PLAN_FILE).is_file():
        return path / PLAN_FILE
    numbers = revisions(path)
    if not numbers:
        raise PlanFileError(f"{path}: no plan here; name a folder such as outputs/<round> or outputs/<round>/r1")
    return path / f"r{numbers[-1]}" / PLAN_FILE


def read_plan(path: Path) -> PlanFile:
    """Return the plan that a path stands for.

    Raises
    ------
    PlanFileError
        If there is none, or it is damaged or of another version.
    """
    from planner.exporters.plan_json import plan_from_json

    file = plan_path(path)
    try:
        data = file.read_bytes()
    except OSError as error:
        raise PlanFileError(f"{file}: cannot be read ({error.strerror})") from error
    read = plan_from_json(data, str(file))
    return read if read.is_edited or _is_as_noted(file, data) else replace(read, is_edited=True)


def _is_as_noted(file: Path, data: bytes) -> bool:
    """Return whether a plan.json is the one whose digest run.json notes; a missing or older run.json notes none."""
    from planner.cli.outputs import PLAN_SEAL, RUN_FILE
    from planner.exporters.plan_json.seal import seal_of

    try:
        noted = json.loads((file.parent / RUN_FILE).read_bytes())[PLAN_SEAL]
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return True
    return bool(noted == seal_of(json.loads(data.decode("utf-8-sig"))))


def read_checked(path: Path, *, accepts_edited: bool) -> PlanFile:
    """Return the plan that a path stands for, once the independent checker has passed it.

    A plan that was changed since it was written needs ``accepts_edited``; it then carries a finding that is printed on
    every sheet.

    Raises
    ------
    PlanFileError
        If there is none, it is damaged or of another version, or was changed and that is not accepted.
    typer.Exit
        With code 5, if the checker refuses it.
    """
    from planner.checker import check_plan
    from planner.findings import EDITED, Finding, Severity

    file = read_plan(path)
    report = check_plan(file.problem, file.plan)
    if not report.is_clean:
        print_findings(report)
        print(f"planner: {path}: the checker refuses this plan; nothing is written, do not use it", file=sys.stderr)
        raise typer.Exit(ExitCode.REFUSED)
    if not file.is_edited:
        return file
    if not accepts_edited:
        raise PlanFileError(
            f"{path}: the plan was changed since it was written. Plan the round again, or go on with what stands in "
            "it: --accept-edited, which is then printed on every sheet"
        )
    if any(finding.code == EDITED for finding in file.findings):
        return file
    message = "the plan was changed by hand since it was written: its reasons, bounds and needles are not ours"
    edited = Finding(code=EDITED, severity=Severity.WARNING, message=message)
    return replace(file, findings=(edited, *file.findings))


def edited_before(file: PlanFile) -> tuple[Finding, ...]:
    """Return the finding that a plan was changed by hand; every revision that goes on from it carries it on."""
    from planner.findings import EDITED

    return tuple(finding for finding in file.findings if finding.code == EDITED)
