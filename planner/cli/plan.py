"""``planner plan``: the whole path from a round's input to checked, written outputs."""

from __future__ import annotations

import sys
import time
from pathlib import Path
from typing import Annotated

import typer

from planner.cli.options import (
    AdultsOnly,
    DateOrderOption,
    Day,
    EffortOption,
    IgnorePolicy,
    Json,
    Paper,
    PaperOption,
    Phlebotomists,
    PriceOption,
    RoundPath,
    Seed,
    Site,
    Start,
)
from planner.library.beside import second_process
from planner.solving.params import Effort
from planner.solving.stopping import CTRL_C


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
    price: PriceOption = None,
    paper: PaperOption = Paper.A4,
    as_json: Json = False,
) -> None:
    """Plan a round: read, choose tubes, schedule visits, check, and write plan and round sheet.

    Outputs go to a new revision folder (r1, r2, ...); nothing is overwritten, and the same input again changes nothing.
    """
    from planner.library.printing import load_printing

    began_s = time.monotonic()
    with CTRL_C.heard(), second_process(load_printing) as beside:
        import planner
        from planner.cli.revision import finish, searched
        from planner.exporters.files import require_folder
        from planner.library.loading import priced, require_orders
        from planner.library.writing import default_out, options_of, written_from
        from planner.loaders.policy.prices import read_prices

        read_prices(price or ())  # a slip is said before a file is read
        loaded = planner.load(
            path,
            start=start,
            day=day,
            phlebotomists=phlebotomists,
            date_order=None if date_order is None else date_order.value,
            ignore_policy=ignore_policy,
            adults_only=adults_only,
            site=site,
        )
        require_orders(loaded)
        loaded = priced(loaded, price or ())
        folder = out or default_out(loaded.name)
        require_folder(folder)
        again, trouble = written_from(loaded.digest, options_of(effort.value, seed, paper.value), folder)
        if trouble is not None:
            print(f"planner: {trouble}; planning a new revision beside it", file=sys.stderr)
        if again is not None:
            finish(again.round_plan(), again.folder, as_json, is_new=False)
            return
        made = searched(
            folder,
            loaded.problem.round_name,
            lambda listener: planner.plan(loaded, effort=effort.value, seed=seed, listener=listener),
        )
        revision = planner.write(made, folder, paper=paper.value, beside=beside, began_s=began_s)
        finish(made, revision.folder, as_json, is_new=revision.is_new)
