"""What further tables of the laboratory say of its tests: columns that are laid beside those of ``tests.csv``."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from functools import lru_cache
from importlib.resources import files

IMPORTANCE = "importance"
"""Column of a test that says how soon its result is acted on; a site may set it in its own table of tests."""


def with_supplements(cells: Mapping[str, str]) -> dict[str, str]:
    """Return a test's cells with those of the further tables, where the row does not fill them itself.

    ``importance.csv`` names tests by code and, for those that it does not name, sections.
    """
    by_test, by_section = _importance()
    found = by_test.get(cells.get("test", "")) or by_section.get(cells.get("section", "").strip(), "")
    return {IMPORTANCE: found, **{column: text for column, text in cells.items() if column != IMPORTANCE or text}}


@lru_cache(maxsize=1)
def _importance() -> tuple[dict[str, str], dict[str, str]]:
    by_test: dict[str, str] = {}
    by_section: dict[str, str] = {}
    text = (files("planner") / "laboratory" / "importance.csv").read_text(encoding="utf-8")
    for row in csv.DictReader(text.splitlines()):
        by_test |= dict.fromkeys(row["tests"].split(), row["importance"])
        sections = (part.strip() for part in row["sections"].split(";"))
        by_section |= dict.fromkeys(filter(None, sections), row["importance"])
    return by_test, by_section
