"""``planner.write``: a plan and its sheets as the next revision of a round's outputs, whole or not at all."""

from __future__ import annotations

import json
import platform
import time
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from planner import __version__
from planner.domain.problem import Problem
from planner.errors import InputError, PlanFileError
from planner.exporters.files import next_revision, require_folder, revisions, write_atomic, write_revision
from planner.exporters.plan_json import PLAN_FILE, plan_to_json
from planner.exporters.plan_json.plan_file import PlanFile
from planner.exporters.plan_json.seal import seal_of
from planner.exporters.specimens import specimens_csv
from planner.findings import Finding
from planner.library.beside import Beside
from planner.library.planning import Digest, RoundPlan
from planner.library.printing import print_time, sheets
from planner.library.written import PLAN_SEAL, RUN_FILE, Revision, read_plan
from planner.solving.params import Effort

REPORT_FILE = "check-report.txt"
SPECIMENS_FILE = "specimens.csv"


def write(
    made: RoundPlan,
    out: str | Path,
    *,
    paper: str = "a4",
    beside: Beside | None = None,
    began_s: float | None = None,
) -> Revision:
    """Write plan.json, workbook, page, specimen list and run record into a new folder ``out``/r1, r2, ...

    The same input again writes nothing: the revision that is there is returned. The files appear all at once.

    Parameters
    ----------
    made
        What `planner.plan` or `planner.replan` returned.
    out
        The folder of the round's outputs; made when it is not there. A replanned round goes beside its parent.
    paper
        ``"a4"`` or ``"letter"``.
    beside
        A second process that prints (`planner.library.beside.second_process`). Default: this one.
    began_s
        ``time.monotonic()`` when the work began, for run.json. Default: now.

    Raises
    ------
    OutputError
        If the disk is full, the folder may not be written to or is none, or another run was first.
    InputError
        If another revision was written while a replanned one was planned.
    """
    began_s = time.monotonic() if began_s is None else began_s
    out, options = Path(out), options_of(made.params.effort, made.params.seed, paper)
    require_folder(out)
    is_replanned = made.problem.replan is not None
    again, _trouble = written_from(made.digest, options, out, is_newest=is_replanned)
    if again is not None:
        return again
    number = number_of(made.problem, out)
    printed = sheets(
        made.problem, made.plan, made.windows, revision=number, findings=made.findings, paper=paper, beside=beside
    )
    file = _plan_file(made, number, options)
    data = plan_to_json(
        file.problem,
        file.plan,
        revision=number,
        parent=file.parent,
        inputs_digest=file.inputs_digest,
        params=file.params,
        findings=file.findings,
    )
    files = {
        PLAN_FILE: data,
        SPECIMENS_FILE: specimens_csv(made.problem, made.plan),
        **printed(),
        RUN_FILE: run_record(options, read=made.sources, seconds=time.monotonic() - began_s, plan=data),
    }
    folder = write_revision(out, files, revision=number)
    return Revision(folder=folder, file=file, is_new=True)


def _plan_file(made: RoundPlan, number: int, options: Mapping[str, Any]) -> PlanFile:
    """Return what plan.json is to hold; a plan whose search was stopped is never taken for the plan of its input."""
    digest = "" if made.digest is None else made.digest.with_options(options)
    replan = made.problem.replan
    return PlanFile(
        program_version=__version__,
        revision=number,
        parent=None if replan is None else replan.parent,
        inputs_digest=digest if made.is_whole or replan is not None else f"stopped early {digest}",
        params={**options, **({} if made.params.wish is None else {"wish": made.params.wish.value})},
        problem=made.problem,
        plan=made.plan,
        findings=made.findings,
    )


def options_of(effort: str, seed: int, paper: str) -> dict[str, Any]:
    """Return the options that change a plan or its sheets, as plan.json notes them; an `Effort` is the text it means.

    Raises
    ------
    ValueError
        If the effort is none.
    """
    return {"effort": Effort(effort).value, "seed": seed, "paper": paper}


def written_from(
    digest: Digest | None, options: Mapping[str, object], out: str | Path, *, is_newest: bool = False
) -> tuple[Revision | None, PlanFileError | None]:
    """Return the newest revision of a folder when it, or what it was replanned from, was made from the same input.

    ``is_newest``: only the newest itself counts, as for a replan, which was made from what was reported.
    The second value says why the revisions cannot be compared; a new one is then planned beside them.
    """
    out = Path(out)
    if digest is None or not revisions(out):
        return None, None
    try:
        newest = first = read_plan(out)
        seen: set[int] = set()
        while first.parent is not None and not is_newest:
            if first.parent in seen:
                raise PlanFileError(f"{out}: the revisions go on from one another in a ring")
            seen.add(first.parent)
            first = read_plan(out / f"r{first.parent}")
        if newest.is_edited:
            raise PlanFileError(f"{out}: revision {newest.revision} was changed since it was written")
    except PlanFileError as error:
        return None, error
    if first.inputs_digest != digest.with_options(options):
        return None, None
    return Revision(folder=out / f"r{newest.revision}", file=newest), None


def number_of(problem: Problem, out: Path) -> int:
    """Return the number of the revision that is about to be written.

    Raises
    ------
    InputError
        If somebody replanned the same revision meanwhile: what was told there would be missing in a later one.
    """
    number = next_revision(out)
    if problem.replan is None or number == problem.replan.parent + 1:
        return number
    raise InputError(
        f"revision {number - 1} was written while this one was planned from revision {problem.replan.parent}; "
        "nothing is written, run the same command again"
    )


def write_check_report(out: str | Path, said: str, findings: Sequence[Finding]) -> Path:
    """Write what the checker found in a plan that it refused; return the file.

    Raises
    ------
    OutputError
        If it cannot be written.
    """
    file = Path(out) / REPORT_FILE
    write_atomic(file, "\n".join([said, *map(str, findings), ""]).encode())
    return file


def run_record(options: Mapping[str, Any], *, read: Iterable[str], seconds: float, plan: bytes) -> bytes:
    """Return run.json: when, where and with what the files of a revision were made; never part of the plan.

    ``plan`` are the bytes of plan.json, whose seal it notes.
    """
    record = {
        "made_at": print_time().isoformat(timespec="seconds"),
        "program": f"planner {__version__}",
        "python": platform.python_version(),
        "system": platform.system(),
        "seconds": round(seconds, 2),
        "options": dict(options),
        "read": list(read),
        PLAN_SEAL: seal_of(json.loads(plan)),
    }
    return (json.dumps(record, indent=2, ensure_ascii=False, sort_keys=True) + "\n").encode("utf-8", "replace")


def default_out(name: str) -> Path:
    """Return the folder of a round's outputs when no other is asked for."""
    return Path("outputs") / name
