"""The hazard table: whole, and true of what it names."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

import pytest
from typer.testing import CliRunner

from planner.cli.app import app
from planner.domain.hazards import Hazard
from planner.loaders.catalogue.hazards import load_hazards

ROOT = Path(__file__).parents[3]
HAZARDS = load_hazards()
NUM_REVIEWED = 68
"""So many hazards were found when the program was reviewed; their rows come first, under their numbers."""


@cache
def names_of_tests(file: str) -> frozenset[str]:
    """Return the names of the test functions of a file."""
    tree = ast.parse((ROOT / file).read_text(encoding="utf-8"))
    return frozenset(
        node.name for node in tree.body if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")
    )


def printed(*words: str) -> str:
    result = CliRunner().invoke(app, ["catalogue", "--hazards", *words])
    assert result.exit_code == 0, result.output
    return result.stdout


def test_table_is_whole_and_numbered() -> None:
    assert len(HAZARDS) >= NUM_REVIEWED
    assert [hazard.id for hazard in HAZARDS] == [f"H{n:02d}" for n in range(1, len(HAZARDS) + 1)]
    assert len({hazard.hazard for hazard in HAZARDS}) == len(HAZARDS)


@pytest.mark.parametrize("hazard", HAZARDS, ids=lambda hazard: hazard.id)
def test_row_says_how_what_and_where(hazard: Hazard) -> None:
    assert 1 <= hazard.severity <= 5
    for text in (hazard.hazard, hazard.sequence, hazard.harm, hazard.control):
        assert text and text == text.strip() and not text.endswith(".")
    assert hazard.places
    for place in hazard.places:
        assert (ROOT / "planner" / place).is_file(), place


@pytest.mark.parametrize("hazard", HAZARDS, ids=lambda hazard: hazard.id)
def test_tests_that_a_row_names_are_there(hazard: Hazard) -> None:
    assert hazard.tests or hazard.severity < 4
    for node_id in hazard.tests:
        file, _, name = node_id.partition("::")
        assert name in names_of_tests(file), node_id


def test_page_has_every_hazard_the_most_severe_first() -> None:
    text = printed()
    at = [text.index(f"\n{hazard.id}  ") for hazard in sorted(HAZARDS, key=lambda hazard: -hazard.severity)]
    assert at == sorted(at)
    assert " ".join(text.split()).count(" Not controlled: ") == len(HAZARDS)
    assert "SEVERITY 5 of 5: death or lasting harm is possible" in text
    assert max(map(len, text.splitlines())) <= 80


def test_page_says_of_each_hazard_what_is_not_controlled() -> None:
    said = " ".join(printed("h12").split())
    (hazard,) = [h for h in HAZARDS if h.id == "H12"]
    assert f"Done about it: {hazard.control}. Not controlled: {hazard.not_controlled}." in said


def test_words_choose_hazards_and_nothing_found_is_said() -> None:
    assert "H39  Latex allergy" in printed("LATEX")
    assert "H01" not in printed("latex")
    for words in (["zorblax"], ["latex", "zorblax"]):
        result = CliRunner().invoke(app, ["catalogue", "--hazards", *words])
        assert (result.exit_code, result.stdout) == (2, "")


def test_hazards_and_policy_are_not_printed_together() -> None:
    assert CliRunner().invoke(app, ["catalogue", "--hazards", "--policy"]).exit_code == 2
