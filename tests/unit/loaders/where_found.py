"""What a finding lacks that is to be reported with file, sheet, row and column."""

from __future__ import annotations

import re

from planner.findings import Finding

_ROW = re.compile(r"\brows? \d")
_COLUMN = re.compile(r"\bcolumns? ['\"]")
OF_NO_FILE = frozenset({"time-zone-assumed"})
"""What no file is at fault for: the policy does not say it, and the messages differ."""
OF_NO_COLUMN = frozenset({"missing-column"})
"""What names a column that is not there."""


def misplaced(finding: Finding) -> str:
    """Return what a finding does not say of its place; empty where it says what can be said.

    An option has no rows; of an electronic message the sheet names the resource, and JSON has no rows.
    """
    source = finding.source
    if source is None or not source.file:
        return "" if finding.code in OF_NO_FILE else "no file"
    if source.is_message or source.file.startswith("--"):
        return ""
    if source.row is None and (finding.order_ids or _ROW.search(finding.message)):
        return "no row"
    if finding.code in OF_NO_COLUMN:
        return ""
    return "no column" if not source.column and _COLUMN.search(finding.message) else ""
