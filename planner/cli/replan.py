"""``planner replan``: the next revision of a plan, from what happened and what was told since."""

from __future__ import annotations

import hashlib
import json
import sys
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from planner import __version__
from planner.cli.beside import second_process
from planner.cli.options import AcceptEdited, Effort, EffortOption, Json, Paper, PaperOption, Seed
from planner.cli.replan_options import (
    ApplyRestOption,
    AwayOption,
    CancelOption,
    CourierOption,
    Done,
    DoseOption,
    DrawnOption,
    FailedOption,
    GoneOption,
    JoinOption,
    LateOption,
    LostOption,
    MovedOption,
    NeverCameOption,
    Now,
    OrdersFile,
    OutPath,
    PreviewOption,
    RecollectOption,
    RefusedOption,
    Stat,
    TimeOption,
    UndoOption,
    VerboseOption,
    check_reports,
    is_file,
    is_there,
    parse_changes,
    parse_now,
    read_changes,
    read_done,
)
from planner.cli.replan_refused import refuse
from planner.cli.replan_report import Written, report

if TYPE_CHECKING:
    from planner.exporters.plan_json.plan_file import PlanFile
    from planner.replanning.next_problem import TakenBack

WALL_LIMIT_S = 30.0
"""The guard for a stalled machine: somebody waits at the phone."""


def replan(
    out: OutPath,
    now: Now,
    done: Done = None,
    orders: OrdersFile = None,
    stat: Stat = None,
    dose: DoseOption = None,
    time_of: TimeOption = None,
    cancel: CancelOption = None,
    away: AwayOption = None,
    moved: MovedOption = None,
    gone: GoneOption = None,
    late: LateOption = None,
    lost: LostOption = None,
    drawn: DrawnOption = None,
    refused: RefusedOption = None,
    failed: FailedOption = None,
    never_came: NeverCameOption = None,
    join: JoinOption = None,
    courier: CourierOption = None,
    recollect: RecollectOption = None,
    undo: UndoOption = False,
    preview: PreviewOption = False,
    apply_rest: ApplyRestOption = False,
    verbose: VerboseOption = False,
    effort: EffortOption = Effort.QUICK,
    seed: Seed = 1,
    paper: PaperOption = Paper.A4,
    accept_edited: AcceptEdited = False,
    as_json: Json = False,
) -> None:
    """Replan a round that has begun: what happened stays, the rest is planned anew with few changes.

    Writes the next revision beside the last one, which stays as it is. Each phlebotomist gets a change note to be
    read out over the phone. The same command again changes nothing.
    """
    from planner.cli.outputs import load_printing

    began_s = time.monotonic()
    told = {
        "stat": stat,
        "dose": dose,
        "time": time_of,
        "cancel": cancel,
        "away": away,
        "moved": moved,
        "gone": gone,
        "late": late,
        "lost": lost,
        "never-came": never_came,
        "join": join,
        "courier": courier,
        "recollect": recollect,
    }
    outcomes = {"drawn": drawn, "refused": refused, "failed": failed}
    with second_process(load_printing) as beside:
        changes = parse_changes(told)
        check_reports(outcomes)
        from planner.cli.revision import planned, write
        from planner.cli.written import edited_before
        from planner.replanning.addons.late import late_addons, late_partials
        from planner.replanning.next_problem import next_problem
        from planner.replanning.urgent.impossible import impossible_stats
        from planner.solving.params import SolveParams

        folder, newest = _newest(out, accept_edited)
        now_s = parse_now(now, newest.problem)
        _require_later(newest, now_s, now)
        options = {"effort": effort.value, "seed": seed, "paper": paper.value}
        _require_files(done, orders)
        digest = _digest(
            now, {"done": done or (), "orders": [str(path) for path in orders or ()]}, told | outcomes, options, undo
        )
        revision = folder / f"r{newest.revision}"
        if newest.inputs_digest == digest:
            report(newest.problem, newest.plan, newest.findings, revision, as_json, Written.BEFORE, verbose)
            return
        base, back = (newest, None) if not undo else _without_last(folder, newest)
        reports, of_reports, not_read = read_done(done, base.problem, base.plan, now_s, outcomes)
        looked_up, of_changes, not_found = read_changes(changes, orders, base.problem)
        following = next_problem(
            base.problem,
            base.plan,
            parent=newest.revision,
            now_s=now_s,
            reports=reports,
            changes=looked_up,
            taken_back=back,
        )
        assert following.problem.replan is not None
        if not apply_rest or not (following.problem.replan.events or undo):
            refuse((*not_read, *not_found, *following.refused), sys.argv[1:])
        params = SolveParams(
            seed=seed, effort=effort.value, wall_limit_s=WALL_LIMIT_S, proves=effort is not Effort.QUICK
        )
        loading = (*of_reports, *of_changes, *following.findings)
        read = [str(path) for path in (*(done or ()), *(orders or ())) if is_there(path)]
        findings, the_plan, _is_whole = planned(following.problem, params, folder, loading)
        findings = (
            *edited_before(newest),
            *findings,
            *late_addons(following.problem, the_plan),
            *late_partials(following.problem, the_plan),
            *impossible_stats(following.problem, the_plan, params),
        )
        if preview:
            report(following.problem, the_plan, findings, revision, as_json, Written.NOTHING, verbose)
            return
        revision = write(following.problem, the_plan, findings, folder, digest, options, read, paper, began_s, beside)
        report(following.problem, the_plan, findings, revision, as_json, Written.NOW, verbose)


def _without_last(folder: Path, newest: PlanFile) -> tuple[PlanFile, TakenBack]:
    """Return the revision that stands when the last command is taken back, and what is taken back.

    Raises
    ------
    typer.BadParameter
        If there is no command to take back.
    """
    from planner.cli.written import read_plan
    from planner.exporters.files import revisions
    from planner.replanning.remake import Made, before_the_last_command, taken_back

    files = {n: newest if n == newest.revision else read_plan(folder / f"r{n}") for n in revisions(folder)}
    made = {n: Made(problem=file.problem, plan=file.plan) for n, file in files.items()}
    base = before_the_last_command(made, newest.revision)
    if base is None or base not in files:
        raise typer.BadParameter(
            f"--undo: revision {newest.revision} was planned afresh; there is nothing to take back"
        )
    return files[base], taken_back(made, newest.revision, base)


def _newest(out: Path, accepts_edited: bool) -> tuple[Path, PlanFile]:
    """Return the folder of a round's outputs and its newest revision.

    Raises
    ------
    PlanFileError
        If there is none, or it is damaged or of another version.
    typer.BadParameter
        If an older revision is named.
    """
    from planner.cli.written import plan_path, read_checked
    from planner.errors import PlanFileError
    from planner.exporters.files import revisions

    folder = plan_path(out).parent.parent
    numbers = revisions(folder)
    named = plan_path(out).parent.name
    if numbers and named != f"r{numbers[-1]}":
        raise typer.BadParameter(f"{out} is not the newest revision, {folder / f'r{numbers[-1]}'} is; name {folder}")
    try:
        return folder, read_checked(folder, accepts_edited=accepts_edited)
    except PlanFileError as error:
        raise PlanFileError(f"{error}{_way_out(folder, numbers)}") from error


def _way_out(folder: Path, numbers: Sequence[int]) -> str:
    """Return what to do about a newest revision that cannot be read: the one before can be gone on from."""
    if len(numbers) < 2:
        return ""
    return (
        f". To go on from revision {numbers[-2]}, move {folder / f'r{numbers[-1]}'} out of the folder, and give again "
        "what it was told"
    )


def _require_later(newest: PlanFile, now_s: int, now: str) -> None:
    """Refuse a time before that of the last revision.

    Raises
    ------
    typer.BadParameter
        If it is earlier.
    """
    before = newest.problem.replan
    if before is not None and now_s < before.now_s:
        last = newest.problem.clock.format_clock(before.now_s)
        raise typer.BadParameter(
            f"--now {now} is before {last}, when revision {newest.revision} was made; what happened stays"
        )


def _require_files(done: Sequence[str] | None, orders: Sequence[Path] | None) -> None:
    """Refuse a file that is not there: replanned without it, what it tells would be taken not to have happened.

    Raises
    ------
    typer.BadParameter
        If one is missing; each has its line.
    """
    faults = [f"--done: {text}: there is no such file" for text in done or () if is_file(text) and not is_there(text)]
    faults += [f"--orders: {path}: there is no such file" for path in orders or () if not is_there(path)]
    if faults:
        raise typer.BadParameter("\n".join(faults))


def _digest(
    now: str,
    files: Mapping[str, Sequence[str]],
    told: dict[str, list[str] | None],
    options: dict[str, Any],
    undo: bool,
) -> str:
    """Return the digest of all that a replan is given, files by the option that names them and their contents."""
    digest = hashlib.sha256()
    values = sorted((name, sorted(texts)) for name, texts in told.items() if texts)
    given = [__version__, now.strip(), values, sorted(options.items()), *(["undo"] if undo else [])]
    digest.update(json.dumps(given).encode())
    for option, names in files.items():
        for name in names:
            path = Path(name)
            content = path.read_bytes() if is_there(path) else name.encode()
            digest.update(f"{option} {len(content)} ".encode() + content)
    return digest.hexdigest()
