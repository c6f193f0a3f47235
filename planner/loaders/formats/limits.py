"""How large input may be: beyond these sizes a file is no round's list, and is refused before it is read.

All are engineering choices, several times what a hospital's round needs; below them the time grows with the size.
"""

from __future__ import annotations

MAX_FILE_BYTES = 64_000_000
"""Of one file: some 100,000 orders as messages, half a million as a list."""

MAX_UNPACKED_BYTES = 64_000_000
"""Of all parts of a workbook together, once unpacked."""

MAX_ROWS = 150_000
"""Of one list or sheet."""

MAX_CELLS = 2_000_000
"""Of one sheet of a workbook, empty ones included."""

MAX_MESSAGES = 100_000
"""Of one file of HL7 v2 messages."""

MAX_DEPTH = 60
"""Of brackets within brackets in JSON; FHIR data nest some 20 levels deep."""


def too_many(what: str, found: int, limit: int) -> str:
    """Return what to say of a file that holds more than may be."""
    return f"{found:,} {what} are more than the {limit:,} that are read; keep only what belongs to this round"
