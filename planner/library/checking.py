"""``planner.check``: what of a round would be planned, or whether a written plan keeps every rule."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Unpack

from planner import __version__
from planner.checker import check_plan
from planner.domain.draws import Draw
from planner.domain.plan import Plan, Unplanned
from planner.domain.problem import Problem
from planner.domain.wishes import Wish
from planner.errors import CheckRefusedError
from planner.exporters.files import revisions
from planner.exporters.plan_json.plan_file import PlanFile
from planner.findings import Finding
from planner.library.loading import LoadArguments, LoadedRound, load
from planner.library.planning import asks_for_person
from planner.library.written import is_written, plan_path, read_plan
from planner.loaders.build.said import with_texts
from planner.pipeline import plan_round
from planner.prepared import prepare_round
from planner.replanning.remake import Made, remade_faults
from planner.solving.params import Effort, SolveParams


@dataclass(frozen=True, slots=True, kw_only=True)
class InputCheck:
    """What of a round would be planned: in which draws, each with its minimal tube set, and what is left out and why.

    ``findings`` are those of reading and of choosing tubes.
    """

    loaded: LoadedRound
    draws: tuple[Draw, ...]
    left_out: tuple[Unplanned, ...]
    findings: tuple[Finding, ...]

    @property
    def problem(self) -> Problem:
        """The round."""
        return self.loaded.problem

    @property
    def num_to_plan(self) -> int:
        """The orders that would be planned, as far as they fit the round."""
        return self.loaded.num_orders_read - len(self.left_out)

    @property
    def needs_decision(self) -> bool:
        """True when a person must decide something: of an order left out, or of something given that was not read."""
        return asks_for_person(self.left_out, self.loaded.findings)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanCheck:
    """A written plan that keeps every rule. ``findings`` are what else the checker says.

    ``num_remade`` replanned revisions were made again from the first plan and the log of events, and are the same.
    ``is_edited``: the file was changed since it was written, so that what nobody can recompute may be wrong.
    ``has_goals``: False for a file of a version with other goals, which are not judged.
    """

    revision: int
    problem: Problem
    plan: Plan
    findings: tuple[Finding, ...]
    num_remade: int
    is_edited: bool
    has_goals: bool = True

    @property
    def needs_decision(self) -> bool:
        """True when the plan was changed since it was written."""
        return self.is_edited


def check(path: str | Path, **options: Unpack[LoadArguments]) -> InputCheck | PlanCheck:
    """Look at a round's input without planning it, or verify a written plan again. Nothing is written.

    Parameters
    ----------
    path
        A round to read, or the outputs of a round, or one revision of them.
    options
        Those of `planner.load`, for a round to read.

    Raises
    ------
    InputError, RequestError
        As `planner.load`.
    PlanFileError
        If the written plan is damaged or of another version.
    CheckRefusedError
        If the independent checker refuses the written plan, or a revision is not what its events make; it carries the
        findings.
    """
    path = Path(path)
    return check_written(path) if is_written(path) else check_input(load(path, **options))


def check_input(loaded: LoadedRound) -> InputCheck:
    """Return what of a round would be planned."""
    if not loaded.problem.orders:
        return InputCheck(loaded=loaded, draws=(), left_out=loaded.problem.set_aside, findings=loaded.findings)
    prepared = prepare_round(loaded.problem, SolveParams())
    return InputCheck(
        loaded=loaded,
        draws=prepared.draws,
        left_out=(*loaded.problem.set_aside, *prepared.unplanned),
        findings=(*loaded.findings, *prepared.findings),
    )


def check_written(path: Path) -> PlanCheck:
    """Return what the checker says of a written plan, all revisions of the round made again.

    Raises
    ------
    PlanFileError, CheckRefusedError
        As `check`.
    """
    file = read_plan(path)
    report = check_plan(file.problem, file.plan, judges_goals=file.has_goals)
    if not report.is_clean:
        message = f"refused: {len(report.errors)} findings; do not use this plan"
        raise CheckRefusedError(tuple(report), message)
    return PlanCheck(
        revision=file.revision,
        problem=file.problem,
        plan=file.plan,
        findings=tuple(report),
        num_remade=_num_remade(plan_path(path).parent.parent),
        is_edited=file.is_edited,
        has_goals=file.has_goals,
    )


def _num_remade(folder: Path) -> int:
    """Make every revision again from the first plan and the log of events; return how many were made.

    Raises
    ------
    CheckRefusedError
        If one differs.
    """
    files = {number: read_plan(folder / f"r{number}") for number in revisions(folder)}
    made = {number: Made(problem=file.problem, plan=file.plan) for number, file in files.items()}
    faults = tuple(remade_faults(made, lambda number, problem: _planned_again(files[number], problem), with_texts))
    if faults:
        message = f"refused: {len(faults)} revisions differ from what their events make; do not use this plan"
        raise CheckRefusedError(faults, message)
    return sum(file.problem.replan is not None and not file.problem.replan.notes for file in files.values())


def _planned_again(file: PlanFile, problem: Problem) -> Plan | None:
    """Return the plan of a round, made as the file's was; None where that cannot be repeated."""
    effort = Effort(file.params.get("effort", Effort.QUICK))
    stopped = any(finding.code in ("wall-clock-guard", "stopped-early") for finding in file.findings)
    if stopped or file.program_version != __version__:
        return None
    wish = file.params.get("wish")
    params = SolveParams(
        seed=int(file.params.get("seed", 1)),
        effort=effort,
        proves=effort != Effort.QUICK,
        wish=None if wish is None else Wish(wish),
    )
    planned = plan_round(problem, params)
    return None if planned.hit_wall_guard or planned.was_interrupted else planned.plan
