"""``planner.read``: a written plan from its folder, the outputs of a round (its newest revision) or one revision."""

from __future__ import annotations

import json
from dataclasses import dataclass, field, replace
from pathlib import Path

from planner.checker import check_plan
from planner.domain.plan import Plan
from planner.domain.problem import Problem
from planner.errors import CheckRefusedError, PlanFileError
from planner.exporters.files import revisions
from planner.exporters.plan_json import plan_from_json
from planner.exporters.plan_json.plan_file import PLAN_FILE, PlanFile
from planner.exporters.plan_json.seal import seal_of
from planner.findings import EDITED, Finding, Severity
from planner.library.planning import RoundPlan, needs_decision
from planner.prepared import draws_as_planned
from planner.solving.params import SolveParams
from planner.visits import order_windows

RUN_FILE = "run.json"
PLAN_SEAL = "plan_seal"
"""The key under which run.json notes the seal of plan.json."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Revision:
    """A written plan: its folder, and what its plan.json holds. ``is_new``: this call wrote it."""

    folder: Path
    file: PlanFile = field(repr=False)
    is_new: bool = False

    @property
    def number(self) -> int:
        """Its number: 3 of ``r3``."""
        return self.file.revision

    @property
    def problem(self) -> Problem:
        """The round that it plans."""
        return self.file.problem

    @property
    def plan(self) -> Plan:
        """Its plan."""
        return self.file.plan

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What was found when it was read and planned."""
        return self.file.findings

    @property
    def needs_decision(self) -> bool:
        """True when a person must decide something."""
        return needs_decision(self.problem, self.plan, self.findings)

    def round_plan(self) -> RoundPlan:
        """Return it as it was when it was planned; windows and draws, which no file holds, are worked out again."""
        windows, _without = order_windows(self.problem)
        params = SolveParams()
        draws = draws_as_planned(self.problem, self.plan, params)
        return RoundPlan(
            problem=self.problem, plan=self.plan, findings=self.findings, windows=windows, draws=draws, params=params
        )


def read(path: str | Path, *, accept_edited: bool = False) -> Revision:
    """Return a written plan, once the independent checker has passed it.

    Parameters
    ----------
    path
        The outputs of a round (its newest revision) or the folder of one revision.
    accept_edited
        Go on with a plan that was changed since it was written; it then carries a finding, which every sheet prints.

    Raises
    ------
    PlanFileError
        If there is no plan, it is damaged or of another version, or was changed and that is not accepted.
    CheckRefusedError
        If the checker refuses it; it carries the findings.
    """
    path = Path(path)
    return Revision(folder=plan_path(path).parent, file=read_checked(path, accepts_edited=accept_edited))


def is_written(path: Path) -> bool:
    """Return whether a path names outputs (and not a round to plan)."""
    return path.name == PLAN_FILE or (path / PLAN_FILE).is_file() or bool(revisions(path))


def plan_path(path: Path) -> Path:
    """Return the plan.json that a path stands for.

    Raises
    ------
    PlanFileError
        If there is no plan there.
    """
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
    file = plan_path(path)
    if file.exists() and not file.is_file():  # a pipe would be waited for
        raise PlanFileError(f"{file}: cannot be read (it is no ordinary file)")
    try:
        data = file.read_bytes()
    except OSError as error:
        raise PlanFileError(f"{file}: cannot be read ({error.strerror})") from error
    read = plan_from_json(data, str(file))
    return read if read.is_edited or _is_as_noted(file, data) else replace(read, is_edited=True)


def _is_as_noted(file: Path, data: bytes) -> bool:
    """Return whether a plan.json is the one whose digest run.json notes; a missing or older run.json notes none."""
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
    CheckRefusedError
        If the checker refuses it; it carries the findings.
    """
    file = read_plan(path)
    report = check_plan(file.problem, file.plan, judges_goals=file.has_goals)
    if not report.is_clean:
        message = f"{path}: the checker refuses this plan; nothing is written, do not use it"
        raise CheckRefusedError(tuple(report), message)
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
    return tuple(finding for finding in file.findings if finding.code == EDITED)
