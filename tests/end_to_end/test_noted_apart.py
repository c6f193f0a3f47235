"""Samples that only notes tell apart, on three wards with equal beds: exit 3, listed with their bed, never one draw."""

from __future__ import annotations

import re

import pytest

from tests.end_to_end.test_sheets import words_of
from tests.helpers import planner
from tests.three_wards import three_ward_tables, write_tables

CASES = {
    "R0304": (("TNT", "0 h", "routine"), ("TNT", "3 h", "routine")),
    "K0201": (("POT", "now", "stat"), ("POT", "4 h after insulin", "routine")),
    "H0101": (("OGTT75", "fasting", "routine"), ("OGTT75", "1 hour", "routine"), ("OGTT75", "2 hour", "routine")),
    "R0301": (("CRP", "", "routine"), ("CRP", "", "routine")),
}
"""Orders of patients in Rail, East 3B, Kite (South) 1A, Heron 1A and Rail, East 1A: test, note, priority."""


@pytest.fixture(scope="module")
def said(tmp_path_factory: pytest.TempPathFactory) -> tuple[int, str]:
    """Return the exit code of a round with these orders, and what is printed."""
    tables = three_ward_tables()
    for patient, orders in CASES.items():
        tables["orders"] += [
            {"order_number": f"{patient}N{n}", "patient_number": patient, "test": test, "note": note, "priority": how}
            for n, (test, note, how) in enumerate(orders, start=1)
        ]
    folder = tmp_path_factory.mktemp("noted")
    write_tables(tables, folder / "three")
    done = planner("plan", "three", "--date", "2026-03-10", "--effort", "quick", cwd=folder, COLUMNS="4000")
    return done.returncode, words_of(done.stdout + done.stderr)


def test_samples_that_only_notes_tell_apart_are_decisions_of_their_bed(said: tuple[int, str]) -> None:
    code, words = said
    assert code == 3, words
    merged = re.findall(r"one draw of (\w+) serves orders ([\w, ]+)", words)
    assert [(test, ids.split(" (")[0].strip()) for test, ids in merged] == [("CRP", "R0301N1, R0301N2")]
    waiting = re.findall(r"bed ([\w(), ]+ \d[AB]), order (\w+N\d), \w+: Time of the draw missing", words)
    assert sorted(waiting) == [
        ("Heron 1A", "H0101N1"),
        ("Heron 1A", "H0101N2"),
        ("Heron 1A", "H0101N3"),
        ("Kite (South) 1A", "K0201N2"),
        ("Rail, East 3B", "R0304N1"),
        ("Rail, East 3B", "R0304N2"),
    ]
