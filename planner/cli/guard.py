"""The one place in which an error that the program knows becomes a line on standard error and an exit code."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any

import typer
from typer.core import TyperCommand

from planner.cli.exit_codes import ExitCode
from planner.errors import (
    CheckRefusedError,
    InputError,
    OutputError,
    PlanFileError,
    PlannerError,
    RequestError,
)

if TYPE_CHECKING:
    from planner.domain.revisions.changes import NotUnderstoodError

EXIT_CODES: dict[type[PlannerError], ExitCode] = {
    RequestError: ExitCode.USAGE,
    InputError: ExitCode.NO_PLAN,
    PlanFileError: ExitCode.NO_PLAN,
    OutputError: ExitCode.NO_PLAN,
    CheckRefusedError: ExitCode.REFUSED,
}
"""The exit code of each kind of error; any other is our bug."""


class GuardedCommand(TyperCommand):
    """A command whose known errors end it with their exit code."""

    def invoke(self, ctx: Any) -> Any:
        """Run the command."""
        try:
            return super().invoke(ctx)
        except RequestError as error:
            from planner.domain.revisions.changes import NotUnderstoodError

            if isinstance(error, NotUnderstoodError):
                raise typer.Exit(_report_refused(error)) from error
            hint = f"--{error.parameter}" if error.parameter else None
            raise typer.BadParameter(str(error), ctx=ctx, param_hint=hint) from error
        except PlannerError as error:
            raise typer.Exit(report_error(error)) from error


def report_error(error: PlannerError) -> ExitCode:
    """Print an error with its findings, none left out, and return its exit code."""
    from planner.cli.terminal import print_findings

    print_findings(getattr(error, "findings", ()), limit=None)
    print(f"planner: {error}", file=sys.stderr)
    return next((code for kind, code in EXIT_CODES.items() if isinstance(error, kind)), ExitCode.BUG)


def _report_refused(error: NotUnderstoodError) -> ExitCode:
    """Print what of a command was not understood, and what alone can have been meant; return the exit code."""
    from planner.cli.replan_refused import refusal_lines
    from planner.cli.terminal import text_width

    for line in refusal_lines(error.refused, sys.argv[1:], text_width()):
        print(line, file=sys.stderr)
    return ExitCode.USAGE
