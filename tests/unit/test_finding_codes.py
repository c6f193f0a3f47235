"""The catalogue of finding codes: no code is dead, none is missing, each says in one line what it means."""

from __future__ import annotations

import ast
import re
from pathlib import Path
from typing import get_args

import pytest

import planner
from planner.checker import PRELIMINARY_RULES, RULES
from planner.checker.broken import code_of
from planner.finding_codes import CODES, Code

pytestmark = pytest.mark.slow

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
    codes = [code for part in get_args(Code) for code in get_args(part)]
    assert len(codes) == len(set(codes))
    assert set(codes) == CODES


def test_code_is_a_slug_with_its_meaning_in_one_line_beside_it() -> None:
    text = (ROOT / "finding_codes.py").read_text(encoding="utf-8")
    lines = re.findall(r'^    "([a-z0-9]+(?:-[a-z0-9]+)*)",  # .+[^.]$', text, re.MULTILINE)
    assert sorted(lines) == sorted(CODES)
