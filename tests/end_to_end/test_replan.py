"""Replanning as a lead does it at the telephone: what she types, what she reads, and what can go wrong meanwhile."""

from __future__ import annotations

import json
import shlex
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from planner.cli.exit_codes import ExitCode
from planner.domain.revisions.replan import Replan
from planner.errors import InputError
from planner.library.writing import number_of
from tests.builders import make_problem
from tests.helpers import ROOT, planner

ORDERS = """order_number,patient_number,family_name,given_name,birth_date,ward,bed,test,priority
O1,P1,Sand,Ida,1950-01-31,Elm,1,CBC,routine
O2,P2,Reed,Max,1951-02-28,Elm,2,BMP,routine
O3,P3,Moor,Eva,1952-03-31,Elm,3,LFT,routine
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


def replan(folder: Path, *arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    return planner("replan", "outputs/small", *arguments, cwd=folder, **environment)


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


WRONG = ("--now", "05:06", "--stat", "44:LACT", "--stat", "3:LACCT,POT", "--refused", "Elm2x", "--stat", "3:POT")


def test_command_that_is_not_understood_changes_nothing_and_says_what_was_meant(folder: Path) -> None:
    done = replan(folder, *WRONG)
    assert (done.returncode, revisions(folder), done.stdout) == (ExitCode.USAGE, ["r1"], "")
    told = " ".join(done.stderr.split())
    assert told.startswith("Nothing was changed: 3 parts of the command cannot be applied.")
    assert "bed '44' is not in this round" in told
    assert "test 'LACCT' is not in the catalogue" in told
    assert "Similar: 2. Ask which bed was meant" in told and "Type:" not in told


def test_command_that_alone_can_be_meant_is_offered_and_works(folder: Path) -> None:
    name = read(folder, "r1")["problem"]["staff"][0]["name"]
    done = replan(folder, "--now", "05:06", "--stat", "3:LACT", "--late", f"{name[:-3]}{name[-2:]}=5")
    assert done.returncode == ExitCode.USAGE
    command = done.stderr.partition("Type:")[2].strip().splitlines()[0].strip()
    words = shlex.split(command)
    assert words[:2] == ["planner", "replan"] and "3:LACT" in words
    assert planner(*words[1:], cwd=folder).returncode == 0
    assert revisions(folder) == ["r1", "r2"]


def test_no_command_with_a_guessed_bed_is_printed_on_five_wards(tmp_path: Path) -> None:
    header = ORDERS.splitlines()[0]
    wards = ("Bramble", "Hazel", "Kite (South)", "Rowan-East", "Sorrel 2")
    rows = [
        f"O{n}{bed},P{n}{bed},Fam{n}{bed},Ida,195{n}-01-31,{ward},{bed},CBC,routine"
        for n, ward in enumerate(wards)
        for bed in ("2A", "3B")
    ]
    (tmp_path / "small.csv").write_text("\n".join([header, *rows, ""]))
    assert planner("plan", "small.csv", "--effort", "quick", cwd=tmp_path).returncode == 0
    for options in (
        ("--refused", "3B"),
        ("--stat", "3B:POT"),
        ("--refused", "3B", "--done", "3B", "--stat", "3B:POT", "--stat", "3B:LACT"),
        ("--refused", "Hazel 3D"),
        ("--gone", "Hazel 3D"),
        ("--refused", "Hazle 3B"),
        ("--late", "Nobody=5", "--refused", "3B"),
    ):
        done = replan(tmp_path, "--now", "05:06", *options)
        told = " ".join(done.stderr.split())
        assert (done.returncode, revisions(tmp_path)) == (ExitCode.USAGE, ["r1"]), options
        assert "Type:" not in told and "planner replan" not in told, told
        if "Hazel 3D" in options:
            assert "Similar: Hazel " in told, told
        elif "Hazle 3B" not in options:
            assert told.count("bed '3B' can be Bramble 3B or Hazel 3B or") == 1, told
            assert "write one of these" in told


def test_rest_of_a_command_is_applied_when_that_is_asked_for(folder: Path) -> None:
    done = replan(folder, *WRONG, "--apply-rest")
    assert (done.returncode, revisions(folder)) == (ExitCode.NEEDS_DECISION, ["r1", "r2"])
    assert "order S0506-1" in done.stdout
    assert "Not applied" in done.stdout


def test_typo_alone_never_makes_a_revision(folder: Path) -> None:
    for option in ("--gone", "--cancel", "--lost", "--refused", "--done", "--courier", "--moved"):
        value = {"--courier": "Shelf=+10", "--moved": "77=78"}.get(option, "77")
        done = replan(folder, "--now", "05:06", option, value, "--apply-rest")
        assert (done.returncode, revisions(folder)) == (ExitCode.USAGE, ["r1"]), option


def test_preview_writes_nothing_and_says_what_would_change(folder: Path) -> None:
    done = replan(folder, "--now", "05:06", "--stat", "3:LACT", "--preview")
    assert (done.returncode, revisions(folder)) == (0, ["r1"])
    assert "order S0506-1" in done.stdout
    assert "Preview: nothing was written" in done.stdout


def test_undo_takes_back_the_last_command_and_then_the_one_before(folder: Path) -> None:
    assert replan(folder, "--now", "05:06", "--stat", "3:LACT").returncode == 0
    assert replan(folder, "--now", "05:07", "--refused", "Elm 3").returncode == ExitCode.NEEDS_DECISION
    done = replan(folder, "--now", "05:08", "--undo")
    assert done.returncode == 0, done.stderr
    assert "taken back: bed 3: refused" in " ".join(done.stdout.split())
    plan = read(folder, "r4")
    orders = [o for route in plan["routes"] for stop in route["stops"] for o in stop.get("order_numbers", ())]
    assert sorted(orders) == ["O1", "O2", "O3", "S0506-1"]
    assert replan(folder, "--now", "05:09", "--undo").returncode == 0
    assert [e["what"]["kind"] for e in read(folder, "r5")["problem"]["replan"].get("log", [])] == []
    assert replan(folder, "--now", "05:10", "--undo").returncode == ExitCode.USAGE
    assert planner("check", "outputs/small", cwd=folder).returncode == 0


def test_what_was_known_already_is_said_where_it_is_read(folder: Path) -> None:
    assert replan(folder, "--now", "05:06", "--stat", "3:LACT").returncode == 0
    again = replan(folder, "--now", "05:07", "--stat", "3:LACT", COLUMNS="40")
    _, _, told = again.stdout.partition("Worth knowing")
    assert "stat LACT at bed 3" in " ".join(told.split())
    assert "planner check" not in again.stderr
    assert max(map(len, again.stdout.splitlines())) <= 40


@pytest.mark.parametrize("option", ["--done", "--orders"])
def test_file_that_is_not_there_changes_nothing(folder: Path, option: str) -> None:
    done = replan(folder, "--now", "05:06", option, "typo.csv")
    assert (done.returncode, revisions(folder)) == (ExitCode.USAGE, ["r1"])
    assert "typo.csv: there is no such file" in done.stderr


def test_report_that_is_no_table_changes_nothing(folder: Path) -> None:
    (folder / "done.csv").write_bytes(bytes(range(32)))
    done = replan(folder, "--now", "05:06", "--done", "done.csv")
    assert (done.returncode, revisions(folder)) == (ExitCode.NO_PLAN, ["r1"])
    assert "nothing of it can be used" in done.stderr


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


def test_newest_revision_that_cannot_be_read_says_how_to_go_on_from_the_one_before(folder: Path) -> None:
    (folder / "outputs/small/r2").mkdir()
    done = replan(folder, "--now", "05:06")
    assert (done.returncode, revisions(folder)) == (ExitCode.NO_PLAN, ["r1", "r2"])
    assert "To go on from revision 1, move outputs/small/r2 out of the folder" in done.stderr
    (folder / "outputs/small/r2").rename(folder / "elsewhere")
    assert replan(folder, "--now", "05:06").returncode == 0
    assert revisions(folder) == ["r1", "r2"]


def test_killed_process_leaves_the_revision_before_whole(folder: Path) -> None:
    # Killed with everything written and nothing renamed yet; test_killed.py kills at every step before and after.
    before = {path.name: path.read_bytes() for path in (folder / "outputs/small/r1").iterdir()}
    code = (
        "import os, signal, sys; os.rename = lambda *args: os.kill(os.getpid(), signal.SIGKILL); "
        "from planner.cli.app import main; main()"
    )
    command = [sys.executable, "-c", code, "replan", "outputs/small", "--now", "05:06", "--stat", "3:LACT"]
    killed = subprocess.run(command, cwd=folder, env={"PYTHONPATH": str(ROOT)}, capture_output=True, check=False)
    assert killed.returncode == -signal.SIGKILL, killed.stderr
    assert next((folder / "outputs/small").glob(".unfinished-*/plan.json"), None)
    assert {path.name: path.read_bytes() for path in (folder / "outputs/small/r1").iterdir()} == before
    done = replan(folder, "--now", "05:06", "--stat", "3:LACT")
    assert done.returncode == 0, done.stderr
    events = read(folder, "r2")["problem"]["replan"]["log"]
    assert [(event["what"]["kind"], event["what"]["order_ids"]) for event in events] == [("stat", ["S0506-1"])]


def test_revision_that_came_in_between_is_not_passed_over(folder: Path) -> None:
    # Planned from r1 while somebody wrote r2: an r3 of parent 1 would be the newest, and lack what r2 was told.
    assert replan(folder, "--now", "05:06").returncode == 0
    problem = make_problem(replan=Replan(parent=1, now_s=18_400, past=()))
    with pytest.raises(InputError, match="run the same command again"):
        number_of(problem, folder / "outputs/small")
    second = make_problem(replan=Replan(parent=2, now_s=18_400, past=()))
    assert number_of(second, folder / "outputs/small") == 3


def test_check_makes_every_revision_again_and_finds_one_that_was_changed(folder: Path) -> None:
    assert replan(folder, "--now", "05:06", "--stat", "3:LACT", "--done", "1").returncode == 0
    visits = [stop for route in read(folder, "r2")["routes"] for stop in route["stops"] if stop["kind"] == "visit"]
    last = max(visits, key=lambda stop: stop["draw"])  # nobody has drawn there by 05:09
    cancelled = last["tubes"][0]["order_numbers"][0]
    assert replan(folder, "--now", "05:09", "--cancel", cancelled).returncode == 0
    same = planner("check", "outputs/small", cwd=folder)
    assert same.returncode == 0, same.stderr
    assert "2 replanned revisions made again" in same.stdout
    path = folder / "outputs/small/r3/plan.json"
    plan = read(folder, "r3")
    for event in (*plan["problem"]["replan"]["events"], *plan["problem"]["replan"]["log"][-1:]):
        event["what"]["order_id"] = "O2" if cancelled != "O2" else "O1"
    path.write_text(json.dumps(plan), encoding="utf-8")
    changed = planner("check", "outputs/small", cwd=folder)
    assert changed.returncode == ExitCode.REFUSED
    assert "revision-differs" in changed.stderr
