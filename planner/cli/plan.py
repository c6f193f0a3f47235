"""``planner plan``: the whole path from a round's input to checked, written outputs."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Annotated

import typer

from planner import __version__
from planner.cli.beside import second_process
from planner.cli.options import (
    AdultsOnly,
    DateOrderOption,
    Day,
    Effort,
    EffortOption,
    IgnorePolicy,
    Json,
    Paper,
    PaperOption,
    Phlebotomists,
    RoundPath,
    Seed,
    Site,
    Start,
)
from planner.cli.reading import inputs_digest, read_round, require_problem, round_name

WALL_LIMIT_S = {Effort.QUICK: 60.0, Effort.NORMAL: 120.0, Effort.THOROUGH: 1800.0}
"""The guard for a stalled machine: several times what the work takes on two slow cores."""


def plan(
    path: RoundPath,
    start: Start = None,
    day: Day = None,
    phlebotomists: Phlebotomists = None,
    date_order: DateOrderOption = None,
    ignore_policy: IgnorePolicy = False,
    adults_only: AdultsOnly = False,
    site: Site = None,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="DIR", help="Where revisions go. Default: outputs/<name of the round>."),
    ] = None,
    effort: EffortOption = Effort.NORMAL,
    seed: Seed = 1,
    paper: PaperOption = Paper.A4,
    as_json: Json = False,
) -> None:
    """Plan a round: read, choose tubes, schedule visits, check, and write plan and round sheet.

    Outputs go to a new revision folder (r1, r2, ...); nothing is overwritten, and the same input again changes nothing.
    """
    from planner.cli.outputs import load_printing

    began_s = time.monotonic()
    with second_process(load_printing) as beside:
        from planner.cli.outputs import WORKBOOK_FILE, default_out
        from planner.cli.revision import finish, planned, same_as_newest, write
        from planner.exporters.files import require_folder
        from planner.solving.params import SolveParams

        params = SolveParams(seed=seed, effort=effort.value, wall_limit_s=WALL_LIMIT_S[effort])
        loaded = read_round(
            path,
            start=start,
            day=day,
            phlebotomists=phlebotomists,
            date_order=date_order,
            ignore_policy=ignore_policy,
            adults_only=adults_only,
            site=site,
        )
        problem = require_problem(loaded)
        folder = out or default_out(round_name(path))
        require_folder(folder)
        options = {"effort": effort.value, "seed": seed, "paper": paper.value}
        said = [__version__, problem.clock, start, phlebotomists, date_order, ignore_policy, *options.items()]
        digest = inputs_digest(path, [*said, *(["adults only"] if adults_only else [])], loaded.site)
        again = same_as_newest(folder, digest)
        if again is not None:
            finish(again.problem, again.plan, again.findings, folder / f"r{again.revision}", as_json, is_new=False)
            return
        findings, the_plan, is_whole = planned(problem, params, folder, loaded.findings)
        digest = digest if is_whole else f"stopped early {digest}"
        revision = write(problem, the_plan, findings, folder, digest, options, loaded.sources, paper, began_s, beside)
        assert (revision / WORKBOOK_FILE).is_file()
        finish(problem, the_plan, findings, revision, as_json, is_new=True)
