"""The exit codes of every command; README lists them."""

from __future__ import annotations

from enum import IntEnum


class ExitCode(IntEnum):
    """What a command's exit status tells a script."""

    OK = 0
    """Done; a plan needs no person."""
    BUG = 1
    """Our fault: an error that nobody foresaw."""
    USAGE = 2
    """The command was called in a wrong way."""
    NEEDS_DECISION = 3
    """A plan was written (or a round checked), but orders, or input that was not read, need a person; all is listed."""
    NO_PLAN = 4
    """No plan: the input cannot be read, there is nothing to plan, or the plan cannot be written."""
    REFUSED = 5
    """The checker refused the plan, with and without the orders that it named; nothing but the report is written."""
