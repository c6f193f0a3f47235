"""What of a replan command was not understood, and the command to type where only one can have been meant."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from planner.domain.revisions.changes import Refused


def refusal_lines(refused: Sequence[Refused], arguments: Sequence[str], width: int) -> list[str]:
    """Return what is printed: each fault once, the one command that can be meant, how to apply the rest alone."""
    from planner.domain.revisions.changes import by_fault
    from planner.exporters.terminal.summary import wrapped

    number = "1 part" if len(refused) == 1 else f"{len(refused)} parts"
    lines = [f"Nothing was changed: {number} of the command cannot be applied."]
    for fault in by_fault(refused):
        lines += wrapped(fault, width)
    if command := meant_command(refused, arguments):
        lines += ["Type:", f"  {command}"]
    lines += wrapped("To apply the other parts alone, add --apply-rest.", width)
    return lines


def meant_command(refused: Sequence[Refused], arguments: Sequence[str]) -> str:
    """Return the command with what alone can have been meant; empty where a part of it would be a guess.

    A bed, a patient or an order is never filled in: copied in haste, a guess goes to the wrong patient.
    """
    words = list(arguments)
    for fault in refused:
        if not fault.instead:
            return ""
        for n, word in enumerate(words):
            if word == fault.typed or word == f"--{fault.option}={fault.typed}":
                words[n] = word.replace(fault.wrong, fault.instead, 1)
                break
        else:
            return ""
    return shlex.join(["planner", *words])
