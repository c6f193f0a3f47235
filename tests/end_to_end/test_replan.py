"""Replanning as a lead does it at the telephone: what she types, what she reads, and what can go wrong meanwhile."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from planner.cli.exit_codes import ExitCode
from planner.cli.revision import number_of
from planner.domain.replan import Replan
from planner.errors import InputError
from tests.builders import make_problem
from tests.end_to_end.test_commands import ROOT, planner

ORDERS = """order_number,patient_number,ward,bed,test,priority
O1,P1,Elm,1,CBC,routine
O2,P2,Elm,2,BMP,routine
O3,P3,Elm,3,LFT,routine
"""


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a round of three beds from 05:00, one collector, planned once."""
    folder = tmp_path_factory.mktemp("replan")
    (folder / "small.csv").write_text(ORDERS)
    assert planner("plan", "small.csv", "--effort", "quick", cwd=folder).returncode == 0
    return folder


@pytest.fixture
def folder(first: Path, tmp_path: Path) -> Path:
    """A copy of it, to be replanned."""
    subprocess.run(["cp", "-r", str(first / "outputs"), str(tmp_path)], check=True)
    return tmp_path


def replan(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    return planner("replan", "outputs/small", *arguments, cwd=folder)


def revisions(folder: Path) -> list[str]:
    return sorted(path.name for path in (folder / "outputs/small").iterdir())


def read(folder: Path, revision: str) -> Any:
    return json.loads((folder / "outputs/small" / revision / "plan.json").read_text(encoding="utf-8"))


def test_stat_is_planned_and_the_same_command_again_writes_nothing(folder: Path) -> None:
    before = (folder / "outputs/small/r1/plan.json").read_bytes()
    done = replan(folder, "--now", "05:06", "--stat", "3:LACT")
    assert done.returncode == 0, done.stderr
    assert "order S0506-1" in done.stdout
    again = replan(folder, "--now", "05:06", "--stat", "3:LACT")
    assert (again.returncode, revisions(folder)) == (0, ["r1", "r2"])
    assert "nothing was written" in again.stdout
    assert (folder / "outputs/small/r1/plan.json").read_bytes() == before
    plan = read(folder, "r2")
    assert plan["parent"] == 1
    orders = [o for route in plan["routes"] for stop in route["stops"] for o in stop.get("order_numbers", ())]
    assert sorted(orders) == ["O1", "O2", "O3", "S0506-1"]


def test_stat_that_nobody_can_reach_in_time_says_who_is_there_first(folder: Path) -> None:
    # The one collector is held up until 05:50; the stat of 05:06 is wanted by 05:21.
    done = replan(folder, "--now", "05:06", "--stat", "3:LACT", "--late", "P1=05:50")
    _, _, told = done.stdout.partition("Stat tests that are not in time")
    assert "wanted by 05:21" in " ".join(told.split())
    assert "First there: P1 could draw at 05:5" in " ".join(told.split())
    assert [f["code"] for f in read(folder, "r2")["findings"]].count("stat-impossible") == 1
    assert "stat-impossible" not in done.stderr


def test_what_was_not_understood_is_printed_and_is_no_success(folder: Path) -> None:
    done = replan(folder, "--now", "05:06", "--stat", "44:LACT")
    assert done.returncode == ExitCode.NEEDS_DECISION
    assert "Not applied" in done.stdout
    assert "bed '44' is not in this round" in done.stdout


@pytest.mark.parametrize("option", ["--done", "--orders"])
def test_file_that_is_not_there_changes_nothing(folder: Path, option: str) -> None:
    done = replan(folder, "--now", "05:06", option, "typo.csv")
    assert (done.returncode, revisions(folder)) == (ExitCode.USAGE, ["r1"])
    assert "typo.csv: there is no such file" in done.stderr


def test_time_before_the_last_revision_is_refused(folder: Path) -> None:
    assert replan(folder, "--now", "05:06").returncode == 0
    done = replan(folder, "--now", "05:05")
    assert (done.returncode, revisions(folder)) == (ExitCode.USAGE, ["r1", "r2"])


def test_damaged_plan_is_told_and_left(folder: Path) -> None:
    path = folder / "outputs/small/r1/plan.json"
    path.write_bytes(path.read_bytes()[:2000])
    done = replan(folder, "--now", "05:06")
    assert (done.returncode, revisions(folder)) == (ExitCode.NO_PLAN, ["r1"])
    assert "is damaged" in done.stderr


def test_killed_process_leaves_the_revision_before_whole(folder: Path) -> None:
    before = {path.name: path.read_bytes() for path in (folder / "outputs/small/r1").iterdir()}
    command = [sys.executable, "-m", "planner", "replan", "outputs/small", "--now", "05:06", "--stat", "3:LACT"]
    process = subprocess.Popen(
        command, cwd=folder, env={"PYTHONPATH": str(ROOT)}, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    time.sleep(1.0)
    process.send_signal(signal.SIGKILL)
    process.wait()
    assert {path.name: path.read_bytes() for path in (folder / "outputs/small/r1").iterdir()} == before
    done = replan(folder, "--now", "05:06", "--stat", "3:LACT")
    assert done.returncode == 0, done.stderr
    assert read(folder, revisions(folder)[-1])["problem"]["replan"]["known"] == [
        "stat LACT at bed Elm 3 (order S0506-1)"
    ]


def test_revision_that_came_in_between_is_not_passed_over(folder: Path) -> None:
    # Planned from r1 while somebody wrote r2: an r3 of parent 1 would be the newest, and lack what r2 was told.
    assert replan(folder, "--now", "05:06").returncode == 0
    problem = make_problem(replan=Replan(parent=1, now_s=18_400, given=(), known=(), past=()))
    with pytest.raises(InputError, match="run the same command again"):
        number_of(problem, folder / "outputs/small")
    second = make_problem(replan=Replan(parent=2, now_s=18_400, given=(), known=(), past=()))
    assert number_of(second, folder / "outputs/small") == 3
