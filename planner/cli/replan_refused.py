"""What of a replan command was not understood, what was probably meant, and the command to type."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from planner.domain.changes import Refused


def refusal_lines(refused: Sequence[Refused], arguments: Sequence[str], width: int) -> list[str]:
    """Return what is printed: each fault, the command that was probably meant, and how to apply the rest alone."""
    from planner.exporters.terminal.summary import wrapped

    number = "1 part" if len(refused) == 1 else f"{len(refused)} parts"
    lines = [f"Nothing was changed: {number} of the command cannot be applied."]
    for fault in refused:
        message = fault.finding.message.removeprefix(f"--{fault.option}: ")
        where = f" [{fault.finding.source}]" if fault.finding.source and fault.finding.source.row else ""
        lines += wrapped(f"--{fault.option} {fault.typed!r}: {message}{where}", width)
    if command := meant_command(refused, arguments):
        lines += ["Type:", f"  {command}"]
    lines += wrapped("To apply the other parts alone, add --apply-rest.", width)
    return lines


def meant_command(refused: Sequence[Refused], arguments: Sequence[str]) -> str:
    """Return the command with what was probably meant in place of what is wrong; empty where nobody can say."""
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
