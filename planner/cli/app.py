"""The program ``planner``: its commands and what happens when something goes wrong."""

from __future__ import annotations

import sys

import typer

from planner import __version__
from planner.cli import catalogue, check, explain, names, new, plan, replan, sheet, tubes
from planner.cli.guard import GuardedCommand, report_error
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
app.command("plan", cls=GuardedCommand)(plan.plan)
app.command("explain", cls=GuardedCommand)(explain.explain)
app.command("replan", cls=GuardedCommand)(replan.replan)
app.command("tubes", cls=GuardedCommand)(tubes.tubes)
app.command("sheet", cls=GuardedCommand)(sheet.sheet)
app.command("check", cls=GuardedCommand)(check.check)
app.command("names", cls=GuardedCommand)(names.names)
app.command("new", cls=GuardedCommand)(new.new)
app.command("catalogue", cls=GuardedCommand)(catalogue.catalogue)


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
    """Run the command line; output that does not arrive is no success."""
    from planner.cli.streams import guard_streams, lost_output
    from planner.errors import OutputError

    guard_streams()
    try:
        app()
    except SystemExit:
        if fault := lost_output():
            what = (
                f"standard output could not be written ({fault.strerror}), so what it says may be cut off. Files that "
                "were written are whole: none is written in part"
            )
            sys.exit(report_error(OutputError(what)))
        raise
