"""What a replan prints behind its summary: nothing that was told is lost in what is only counted."""

from __future__ import annotations

import pytest

from planner.cli.replan_report import MOST_NOTES, told_lines
from planner.findings import Finding, Severity, Source
from planner.library.replan_findings import told_apart


def finding(code: str, severity: Severity, message: str = "this is so") -> Finding:
    return Finding(code=code, severity=severity, message=message)


@pytest.mark.parametrize(
    ("code", "severity", "place"),
    [
        ("bed-not-found", Severity.ERROR, "not_applied"),
        ("unknown-test", Severity.ERROR, "not_applied"),  # a loader's code: "14:POTT" ordered nothing
        ("test-unclear", Severity.ERROR, "not_applied"),
        ("not-a-table", Severity.ERROR, "not_applied"),
        ("patient-missing", Severity.ERROR, "not_applied"),
        ("change-known", Severity.NOTE, "notes"),
        ("no-add-on", Severity.NOTE, "notes"),
        ("stat-impossible", Severity.WARNING, "stats"),
        ("courier-waiting", Severity.ERROR, "to_do"),
        ("addon-cancelled", Severity.WARNING, "to_do"),
        ("need-by-missed", Severity.WARNING, "to_do"),
        ("blood-limit-reached", Severity.ERROR, "others"),  # of the plan, said at every revision
        ("file-format", Severity.NOTE, "others"),
        ("bed-differs", Severity.WARNING, "others"),
    ],
)
def test_every_finding_has_its_place(code: str, severity: Severity, place: str) -> None:
    told = told_apart([finding(code, severity)])
    filled = [name for name in ("not_applied", "notes", "stats", "to_do", "others") if getattr(told, name)]
    assert filled == [place]


def test_what_is_printed_says_where_and_fits_a_telephone() -> None:
    source = Source(file="done.csv", row=3, column="outcome")
    long = "'colected' is no outcome (collected?); write collected, partial, refused. The row is not used"
    wrong = Finding(code="outcome-unknown", severity=Severity.ERROR, message=long, source=source)
    lines = told_lines(told_apart([wrong, finding("change-known", Severity.NOTE)]), 40)
    assert lines[:4] == ["", "Worth knowing", "  this is so.", ""]
    assert "[done.csv: row 3, column outcome]" in " ".join(" ".join(lines).split())
    assert max(map(len, lines[2:3] + lines[5:])) <= 40


def test_many_notes_are_cut_short_and_that_is_said() -> None:
    lines = told_lines(told_apart([finding("change-known", Severity.NOTE)] * (MOST_NOTES + 3)), 80)
    assert lines[-1] == "  ... and 3 more; plan.json holds them all"
    assert len(lines) == 2 + MOST_NOTES + 1
