"""Options that several commands take, with the help text that says what the default does."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from planner.solving.params import Effort


class DateOrder(StrEnum):
    """How dates such as 03/04/2026 are to be read."""

    DMY = "dmy"
    MDY = "mdy"
    YMD = "ymd"


class Paper(StrEnum):
    """Paper of the printed sheets."""

    A4 = "a4"
    LETTER = "letter"


RoundPath = Annotated[
    Path,
    typer.Argument(
        metavar="ROUND",
        help="A folder of tables (CSV), one workbook (.xlsx), or a single order list with nothing else.",
        show_default=False,
    ),
]
Site = Annotated[
    Path | None,
    typer.Option(
        "--site",
        metavar="DIR",
        exists=True,
        file_okay=False,
        help="Folder with the site's own tables for all its rounds: names, tests, tubes, sign-off. Default: the "
        "policy's site_folder, if it is set.",
        show_default=False,
    ),
]
Start = Annotated[
    str | None,
    typer.Option(
        "--start",
        metavar="HH:MM",
        help="Begin of the round when no staff table says so. Default: the policy's start_at (05:00 unless set).",
        show_default=False,
    ),
]
Day = Annotated[
    str | None,
    typer.Option(
        "--date",
        metavar="YYYY-MM-DD",
        help="Day of the round. Default: the policy's, else the day the orders agree on, else today.",
        show_default=False,
    ),
]
Phlebotomists = Annotated[
    int | None,
    typer.Option(
        "--phlebotomists",
        min=1,
        max=40,
        help="People who walk when no staff table says so. Default: the policy's phlebotomists (1 unless set).",
        show_default=False,
    ),
]
DateOrderOption = Annotated[
    DateOrder | None,
    typer.Option(
        "--date-order",
        help="Order of day (d), month (m) and year (y) where dates could be read two ways. "
        "Default: found out from each column; a column that stays unclear is an error.",
        show_default=False,
    ),
]
IgnorePolicy = Annotated[
    bool,
    typer.Option(
        "--ignore-policy",
        help="Go on although the policy has errors: what cannot be read of it takes its default value, and the exit "
        "code is 3. Default: a policy with errors is refused with exit code 4.",
    ),
]
AdultsOnly = Annotated[
    bool,
    typer.Option(
        "--adults-only",
        help="No ward has children: a patient without a birth date is treated as an adult. Default: an unknown "
        "age needs a decision, unless the policy lists the ward under adult_wards or child_wards.",
    ),
]
AcceptEdited = Annotated[
    bool,
    typer.Option(
        "--accept-edited",
        help="Go on with a plan.json that was changed since it was written, as long as the checker passes it; every "
        "sheet then says so. Default: it is refused.",
    ),
]
EffortOption = Annotated[
    Effort,
    typer.Option(
        "--effort",
        help="How much work the search may do; work, not seconds. Default: normal for a plan, quick for a replan.",
        show_default=False,
    ),
]
Seed = Annotated[
    int,
    typer.Option("--seed", min=0, max=2**31 - 1, help="Another seed searches in another order. Default: 1."),
]
PriceOption = Annotated[
    list[str] | None,
    typer.Option(
        "--price",
        metavar="NAME=NUMBER",
        help="Try another price within a tier of goals, in this plan only: moved_stop=5 (minutes, where it is a time). "
        "May be repeated; planner catalogue --policy lists the names under \\[prices]. Default: the site's prices.",
        show_default=False,
    ),
]
Json = Annotated[
    bool,
    typer.Option("--json", help="Print the summary as JSON on standard output. Default: text for a person."),
]
PaperOption = Annotated[Paper, typer.Option("--paper", help="Paper that the sheet is laid out for. Default: a4.")]
