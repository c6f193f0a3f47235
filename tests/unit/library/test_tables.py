"""What the built-in tables say to a program is what the commands print."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

import planner
from planner.cli.app import app


def printed(*words: str) -> str:
    done = CliRunner().invoke(app, ["catalogue", *words])
    assert done.exit_code == 0, done.output
    return done.output


@pytest.mark.parametrize("words", [(), ("potassium",), ("glucose", "fasting")])
def test_tests_are_those_that_the_command_lists(words: tuple[str, ...]) -> None:
    tests = planner.catalogue(words)
    assert [line.split()[0] for line in printed(*words).splitlines() if line[0] != " "] == [test.code for test in tests]
    assert {test.code for test in tests} <= {test.code for test in planner.catalogue()}


def test_words_that_no_test_has_find_none() -> None:
    assert planner.catalogue(["no such test"]) == ()


def test_hazards_come_with_the_most_severe_first() -> None:
    severities = [hazard.severity for hazard in planner.hazards()]
    assert severities == sorted(severities, reverse=True) and severities[0] == 5
    tourniquet = planner.hazards(["Tourniquet"])
    assert 0 < len(tourniquet) < len(severities)
    page = printed("--hazards", "tourniquet")
    assert all(f"\n{hazard.id}  " in page for hazard in tourniquet)


def test_default_policy_is_what_the_command_prints() -> None:
    assert planner.default_policy() == printed("--policy")


@pytest.mark.slow
def test_starter_is_written_once(tmp_path: Path) -> None:
    path = planner.new(tmp_path / "round")
    assert planner.load(path).problem is not None
    with pytest.raises(planner.RequestError, match="is there already"):
        planner.new(tmp_path / "round")


def test_sign_off_refuses_what_is_not_there_and_nobody(tmp_path: Path) -> None:
    with pytest.raises(planner.RequestError, match="who confirms"):
        planner.sign_off(" ", tmp_path)
    with pytest.raises(planner.RequestError, match="no folder or file"):
        planner.sign_off("Head of laboratory", tmp_path / "away")
    assert list(tmp_path.iterdir()) == []
    done = planner.sign_off("Head of laboratory", tmp_path)
    assert done.file.exists()
    assert done.num_tests == len(planner.catalogue())


def test_sign_off_of_a_wrong_table_has_the_findings_and_writes_nothing(tmp_path: Path) -> None:
    (tmp_path / "tests.csv").write_text("test,max_rt_min\nBMP,soon\n", encoding="utf-8")
    with pytest.raises(planner.InputError) as refused:
        planner.sign_off("Head of laboratory", tmp_path)
    assert refused.value.findings
    assert [file.name for file in tmp_path.iterdir()] == ["tests.csv"]
