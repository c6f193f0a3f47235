"""The catalogue of finding codes: no code is dead, none is missing, each says in one line what it means."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

import planner
from planner import finding_codes
from planner.checker import PRELIMINARY_RULES, RULES
from planner.checker.broken import code_of
from planner.finding_codes import CODES
from planner.findings import Finding, Severity

ROOT = Path(planner.__file__).parent


def texts_in_the_package() -> set[str]:
    """Return all string literals of the package, the catalogue of codes itself left out."""
    files = [file for file in ROOT.rglob("*.py") if file.name != "finding_codes.py"]
    nodes = (node for file in files for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))))
    return {node.value for node in nodes if isinstance(node, ast.Constant) and isinstance(node.value, str)}


def test_every_code_is_used() -> None:
    rules = {code_of(rule) for rule in (*PRELIMINARY_RULES, *RULES)}
    assert sorted(set(CODES) - rules - texts_in_the_package()) == []


def test_no_code_stands_in_two_catalogues() -> None:
    parts = [
        value for name, value in vars(finding_codes).items() if name.endswith("_CODES") and isinstance(value, dict)
    ]
    assert sum(len(part) for part in parts) == len(CODES)


@pytest.mark.parametrize("code", sorted(CODES))
def test_code_is_a_slug_with_a_meaning_of_one_line(code: str) -> None:
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", code)
    assert CODES[code] and "\n" not in CODES[code] and not CODES[code].endswith(".")


def test_finding_with_an_unknown_code_cannot_be_made() -> None:
    with pytest.raises(ValueError, match="unknown finding code"):
        Finding(code="no-such-code", severity=Severity.NOTE, message="")
