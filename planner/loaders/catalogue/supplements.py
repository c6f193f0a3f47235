"""What further tables of the laboratory say of its tests and tubes: columns beside those of the two large tables.

A site sets such a column in its own table of tests or tubes, like any other.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from functools import lru_cache
from importlib.resources import files

_IMPORTANCE = "importance"
_CAPILLARY_TEST = "capillary_min_ml"
_CAPILLARY_TUBE = ("capillary_rank", "capillary_sizes", "capillary_name")


def supplements_of_test(cells: Mapping[str, str]) -> dict[str, str]:
    """Return a test's cells with its importance and its least volume from the skin, where the row does not fill them.

    ``importance.csv`` names tests by code and, for those that it does not name, sections.
    """
    code = cells.get("test", "")
    by_test, by_section = _importance()
    found = {
        _IMPORTANCE: by_test.get(code) or by_section.get(cells.get("section", "").strip(), ""),
        _CAPILLARY_TEST: _rows("capillary_tests.csv", "test").get(code, {}).get(_CAPILLARY_TEST, ""),
    }
    return _filled_up(cells, found)


def supplements_of_tube(cells: Mapping[str, str]) -> dict[str, str]:
    """Return a tube kind's cells with what is said of it in draws from the skin, where the row does not fill them."""
    row = _rows("capillary_tubes.csv", "code").get(cells.get("code", ""), {})
    return _filled_up(cells, {column: row.get(column, "") for column in _CAPILLARY_TUBE})


def _filled_up(cells: Mapping[str, str], found: Mapping[str, str]) -> dict[str, str]:
    """Return the cells, those of the further tables last; a column that the row has, empty or not, is the row's."""
    return {**cells, **{column: cells.get(column, text) for column, text in found.items()}}


@lru_cache(maxsize=2)
def _rows(file: str, key: str) -> dict[str, dict[str, str]]:
    return {row[key]: row for row in _read(file)}


@lru_cache(maxsize=1)
def _importance() -> tuple[dict[str, str], dict[str, str]]:
    by_test: dict[str, str] = {}
    by_section: dict[str, str] = {}
    for row in _read("importance.csv"):
        by_test |= dict.fromkeys(row["tests"].split(), row["importance"])
        sections = (part.strip() for part in row["sections"].split(";"))
        by_section |= dict.fromkeys(filter(None, sections), row["importance"])
    return by_test, by_section


def _read(file: str) -> list[dict[str, str]]:
    text = (files("planner") / "laboratory" / file).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))
