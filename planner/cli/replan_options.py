"""The options of ``planner replan``: what happened, in the shorthand that a lead types with one hand on the phone."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

_TOLD = "What was told"
"""Heading of the options for changes in the help text."""

OutPath = Annotated[
    Path,
    typer.Argument(
        metavar="OUT",
        help="The outputs of a round, such as outputs/<round>: its newest revision is replanned.",
        show_default=False,
    ),
]
Now = Annotated[
    str,
    typer.Option(
        "--now",
        metavar="HH:MM",
        help="The time it is. What the plan has before it is past and stays. Default: none; say it.",
        show_default=False,
    ),
]
Done = Annotated[
    list[str] | None,
    typer.Option(
        "--done",
        metavar="FILE|BEDS|NAME=HH:MM[,NAME=HH:MM]",
        help="What was done: the progress file that the sheet saves, the beds that were collected, such as "
        '12,14B,3, or "AB=06:20,CD=06:15": all that the last sheet has for that person by that time. May be given '
        "several times. Of whom anything is told, whatever is not told is still to come. "
        "Default: visits due to have ended by --now count as done, and the sheet says so.",
        show_default=False,
    ),
]
OrdersFile = Annotated[
    list[Path] | None,
    typer.Option(
        "--orders",
        metavar="FILE",
        help="A list of new orders, read as 'plan' reads one; a patient who is new needs a bed. The whole list may be "
        "given again: what the round has already is recognised. Default: no new orders.",
        show_default=False,
    ),
]
Stat = Annotated[
    list[str] | None,
    typer.Option(
        "--stat",
        metavar="BED:TEST[,TEST]",
        help='Tests wanted at once for the patient in a bed, such as "14:POT,LACT" (code, LOINC code or name). "14:POT '
        'again" orders once more what was ordered so before. Default: none.',
        rich_help_panel=_TOLD,
        show_default=False,
    ),
]
DoseOption = Annotated[
    list[str] | None,
    typer.Option(
        "--dose",
        metavar="ORDER=HH:MM",
        help="The dose on which the order's time depends is given at that time: the next dose of a trough, the last "
        "dose (or the end of the infusion) of any other level. Default: as the order states.",
        rich_help_panel=_TOLD,
        show_default=False,
    ),
]
TimeOption = Annotated[
    list[str] | None,
    typer.Option(
        "--time",
        metavar="ORDER=HH:MM",
        help="The order is to be drawn at that time. Default: as the order states.",
        rich_help_panel=_TOLD,
        show_default=False,
    ),
]
CancelOption = Annotated[
    list[str] | None,
    typer.Option(
        "--cancel",
        metavar="ORDER",
        help="Number of an order that is no longer wanted. One that is drawn already stays. Default: none.",
        rich_help_panel=_TOLD,
        show_default=False,
    ),
]
AwayOption = Annotated[
    list[str] | None,
    typer.Option(
        "--away",
        metavar="BED=HH:MM-HH:MM",
        help="The patient in a bed is away for that time; no visit then. One time alone: from now until then. In every "
        "option a patient number or an order number may stand for the bed. Default: as the plan knows.",
        rich_help_panel=_TOLD,
        show_default=False,
    ),
]
MovedOption = Annotated[
    list[str] | None,
    typer.Option(
        "--moved",
        metavar="BED=BED",
        help="The patient of the first bed lies in the second now; 14= without a second bed is --gone 14. Beds in "
        "other options are those after all moves. For a bed that no map and no list has: --new-bed. Default: nobody "
        "moved.",
        rich_help_panel=_TOLD,
        show_default=False,
    ),
]
NewBedOption = Annotated[
    list[str] | None,
    typer.Option(
        "--new-bed",
        metavar="BED",
        help="There is a bed that the map and the lists lack, written with its ward, so that --moved can name it. "
        "Default: a bed that is not known is taken for a slip.",
        rich_help_panel=_TOLD,
        show_default=False,
    ),
]
GoneOption = Annotated[
    list[str] | None,
    typer.Option(
        "--gone",
        metavar="BED",
        help="The patient in a bed has left or has died; what is still open is listed, not drawn. Default: nobody.",
        rich_help_panel=_TOLD,
        show_default=False,
    ),
]
DrawnOption = Annotated[
    list[str] | None,
    typer.Option(
        "--drawn",
        metavar="BED=HH:MM[ by NAME]",
        help="The patient in a bed was drawn at that time, by that person; no name: by the person who had the bed on "
        'the sheet of that time. "BED by NAME" without a time: as the sheet of that person had it. Default: none.',
        rich_help_panel=_TOLD,
        show_default=False,
    ),
]
RefusedOption = Annotated[
    list[str] | None,
    typer.Option(
        "--refused",
        metavar="BED[=HH:MM][ by NAME]",
        help="The patient in a bed refused; nobody is sent there again for it. Default: nobody.",
        rich_help_panel=_TOLD,
        show_default=False,
    ),
]
UnidentifiedOption = Annotated[
    list[str] | None,
    typer.Option(
        "--unidentified",
        metavar="BED[=HH:MM][ by NAME]",
        help="The patient in a bed could not be identified, so nothing was drawn; nobody is sent there before the ward "
        "has settled who it is and orders again. Default: none.",
        rich_help_panel=_TOLD,
        show_default=False,
    ),
]
FailedOption = Annotated[
    list[str] | None,
    typer.Option(
        "--failed",
        metavar="BED[=HH:MM][ by NAME]",
        help="Two attempts failed at a bed: somebody else tries. Default: none.",
        rich_help_panel=_TOLD,
        show_default=False,
    ),
]
NeverCameOption = Annotated[
    list[str] | None,
    typer.Option(
        "--never-came",
        metavar="NAME",
        help="Somebody did not come at all: nothing is assumed drawn by them, and the others take their visits. "
        "Default: everybody came.",
        rich_help_panel=_TOLD,
        show_default=False,
    ),
]
UndoOption = Annotated[
    bool,
    typer.Option(
        "--undo",
        help="Take back what the last command reported; the revision that it made stays on file. Other options of "
        "this command count. Default: nothing is taken back.",
        show_default=False,
    ),
]
AlternativesOption = Annotated[
    bool,
    typer.Option(
        "--alternatives",
        help="Show up to three plans to choose from (fewest changes, least late, least effort, where they differ) and "
        "write none; --take writes one. Default: the plan that the policy's prices ask for.",
        show_default=False,
    ),
]
TakeOption = Annotated[
    int | None,
    typer.Option(
        "--take",
        metavar="NUMBER",
        help="Write the plan of that number in the list of --alternatives, for the same news. Default: the plan that "
        "the policy's prices ask for.",
        show_default=False,
    ),
]
PreviewOption = Annotated[
    bool,
    typer.Option(
        "--preview",
        help="Show what would change and write nothing. Default: the next revision is written.",
        show_default=False,
    ),
]
ApplyRestOption = Annotated[
    bool,
    typer.Option(
        "--apply-rest",
        help="Apply what was understood although parts of the command were not. Default: then nothing is changed.",
        show_default=False,
    ),
]
VerboseOption = Annotated[
    bool,
    typer.Option(
        "--verbose",
        help="Print everything: the whole change notes, what is assumed, all notes. Default: at most 25 lines; the "
        "sheets hold the rest.",
        show_default=False,
    ),
]
LateOption = Annotated[
    list[str] | None,
    typer.Option(
        "--late",
        metavar="NAME=MINUTES",
        help="Somebody (name or initials) is held up for so many minutes from now, or from the begin of a shift still "
        "to come; or until a time, AB=06:10. Default: everybody goes on.",
        rich_help_panel=_TOLD,
        show_default=False,
    ),
]
LostOption = Annotated[
    list[str] | None,
    typer.Option(
        "--lost",
        metavar="NAME",
        help="Somebody collects no more; the others take the visits that are left. Default: everybody stays.",
        rich_help_panel=_TOLD,
        show_default=False,
    ),
]
JoinOption = Annotated[
    list[str] | None,
    typer.Option(
        "--join",
        metavar="NAME=HH:MM[-HH:MM]",
        help="Somebody more collects from that time on, from the base; to the end of the round unless a second time is "
        "given. Default: nobody joins.",
        rich_help_panel=_TOLD,
        show_default=False,
    ),
]
CourierOption = Annotated[
    list[str] | None,
    typer.Option(
        "--courier",
        metavar="PLACE=HH:MM[,HH:MM]",
        help='The departures still to come at a place; "Shelf=+15": the next one leaves 15 minutes later; "Shelf=none":'
        " nobody comes any more. Default: the plan's departures.",
        rich_help_panel=_TOLD,
        show_default=False,
    ),
]
RecollectOption = Annotated[
    list[str] | None,
    typer.Option(
        "--recollect",
        metavar="ORDER",
        help="Number of an order that was drawn and must be drawn again. Default: none.",
        rich_help_panel=_TOLD,
        show_default=False,
    ),
]
