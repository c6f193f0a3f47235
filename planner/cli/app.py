"""The program ``planner``: its commands and what happens when something goes wrong."""

from __future__ import annotations

import sys

import typer

from planner import __version__
from planner.cli import catalogue, check, explain, names, new, plan, replan, sheet, tubes
from planner.cli.exit_codes import ExitCode
from planner.cli.terminal import has_room_for_boxes

app = typer.Typer(
    name="planner",
    help="Plans a ward's blood-collection round: an order list in, minimal tube sets, a timed route for each "
    "phlebotomist and a printable round sheet out. A planning aid: local policy, the laboratory's handbook and the "
    "collector's judgement come first.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode="rich" if has_room_for_boxes() else None,
    epilog="Exit codes: 0 done, 1 our bug, 2 wrong usage, 3 plan written but something needs a decision, "
    "4 no plan, 5 the checker refused the plan, 130 stopped with Ctrl-C before anything was written.",
)
app.command("plan")(plan.plan)
app.command("explain")(explain.explain)
app.command("replan")(replan.replan)
app.command("tubes")(tubes.tubes)
app.command("sheet")(sheet.sheet)
app.command("check")(check.check)
app.command("names")(names.names)
app.command("new")(new.new)
app.command("catalogue")(catalogue.catalogue)


def _show_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"planner {__version__}")
        raise typer.Exit


@app.callback()
def _options(
    version: bool = typer.Option(
        False, "--version", callback=_show_version, is_eager=True, help="Print the version and stop. Default: off."
    ),
) -> None:
    """Hold the options that all commands share."""


def main() -> None:
    """Run the command line; an error that the program knows ends in one line and its exit code."""
    from planner.cli.streams import guard_streams, lost_output
    from planner.errors import CheckRefusedError, InputError, OutputError, PlanFileError, PlannerError

    guard_streams()
    try:
        app()
    except SystemExit:
        if fault := lost_output():
            _say(OutputError(f"standard output could not be written ({fault.strerror}); what it says may be cut off"))
            sys.exit(ExitCode.NO_PLAN)
        raise
    except (InputError, PlanFileError, OutputError) as error:
        _say(error)
        sys.exit(ExitCode.NO_PLAN)
    except CheckRefusedError as error:
        _say(error)
        sys.exit(ExitCode.REFUSED)
    except PlannerError as error:
        _say(error)
        sys.exit(ExitCode.BUG)


def _say(error: Exception) -> None:
    print(f"planner: {error}", file=sys.stderr)
