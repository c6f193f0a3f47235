"""``planner replan``: the next revision of a plan, from what happened and what was told since."""

from __future__ import annotations

import hashlib
import json
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from planner import __version__
from planner.cli.beside import second_process
from planner.cli.options import Effort, EffortOption, Json, Paper, PaperOption, Seed
from planner.cli.replan_options import (
    AwayOption,
    CancelOption,
    CourierOption,
    Done,
    DoseOption,
    GoneOption,
    JoinOption,
    LateOption,
    LostOption,
    MovedOption,
    Now,
    OrdersFile,
    OutPath,
    RecollectOption,
    Stat,
    TimeOption,
    is_file,
    parse_changes,
    parse_now,
    read_changes,
    read_done,
)
from planner.cli.replan_report import report

if TYPE_CHECKING:
    from planner.exporters.plan_json.plan_file import PlanFile

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
    join: JoinOption = None,
    courier: CourierOption = None,
    recollect: RecollectOption = None,
    effort: EffortOption = Effort.QUICK,
    seed: Seed = 1,
    paper: PaperOption = Paper.A4,
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
        "join": join,
        "courier": courier,
        "recollect": recollect,
    }
    with second_process(load_printing) as beside:
        changes = parse_changes(told)
        from planner.cli.revision import planned, write
        from planner.replanning.addons.late import late_addons, late_partials
        from planner.replanning.next_problem import next_problem
        from planner.replanning.urgent.impossible import impossible_stats
        from planner.solving.params import SolveParams

        folder, newest = _newest(out)
        now_s = parse_now(now, newest.problem)
        _require_later(newest, now_s, now)
        options = {"effort": effort.value, "seed": seed, "paper": paper.value}
        _require_files(done, orders)
        digest = _digest(now, {"done": done or (), "orders": [str(path) for path in orders or ()]}, told, options)
        revision = folder / f"r{newest.revision}"
        if newest.inputs_digest == digest:
            report(newest.problem, newest.plan, newest.findings, revision, as_json, is_new=False)
            return
        reports, of_reports = read_done(done, newest.problem, newest.plan, now_s)
        looked_up, of_changes = read_changes(changes, orders, newest.problem)
        following = next_problem(
            newest.problem, newest.plan, parent=newest.revision, now_s=now_s, reports=reports, changes=looked_up
        )
        params = SolveParams(
            seed=seed, effort=effort.value, wall_limit_s=WALL_LIMIT_S, proves=effort is not Effort.QUICK
        )
        loading = (*of_reports, *of_changes, *following.findings)
        read = [str(path) for path in (*(done or ()), *(orders or ())) if Path(path).is_file()]
        findings, the_plan, _is_whole = planned(following.problem, params, folder, loading)
        findings = (
            *findings,
            *late_addons(following.problem, the_plan),
            *late_partials(following.problem, the_plan),
            *impossible_stats(following.problem, the_plan, params),
        )
        revision = write(following.problem, the_plan, findings, folder, digest, options, read, paper, began_s, beside)
        report(following.problem, the_plan, findings, revision, as_json, is_new=True)


def _newest(out: Path) -> tuple[Path, PlanFile]:
    """Return the folder of a round's outputs and its newest revision.

    Raises
    ------
    PlanFileError
        If there is none, or it is damaged or of another version.
    typer.BadParameter
        If an older revision is named.
    """
    from planner.cli.written import plan_path, read_plan
    from planner.errors import PlanFileError
    from planner.exporters.files import revisions

    folder = plan_path(out).parent.parent
    numbers = revisions(folder)
    named = plan_path(out).parent.name
    if numbers and named != f"r{numbers[-1]}":
        raise typer.BadParameter(f"{out} is not the newest revision, {folder / f'r{numbers[-1]}'} is; name {folder}")
    try:
        return folder, read_plan(folder)
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
    faults = [
        f"--done: {text}: there is no such file" for text in done or () if is_file(text) and not Path(text).is_file()
    ]
    faults += [f"--orders: {path}: there is no such file" for path in orders or () if not path.is_file()]
    if faults:
        raise typer.BadParameter("\n".join(faults))


def _digest(
    now: str, files: Mapping[str, Sequence[str]], told: dict[str, list[str] | None], options: dict[str, Any]
) -> str:
    """Return the digest of all that a replan is given, files by the option that names them and their contents."""
    digest = hashlib.sha256()
    given = [__version__, now.strip(), sorted((k, sorted(v)) for k, v in told.items() if v), sorted(options.items())]
    digest.update(json.dumps(given).encode())
    for option, names in files.items():
        for name in names:
            path = Path(name)
            content = path.read_bytes() if path.is_file() else name.encode()
            digest.update(f"{option} {len(content)} ".encode() + content)
    return digest.hexdigest()
