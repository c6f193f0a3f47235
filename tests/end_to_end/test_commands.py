"""The commands as a user types them: exit codes, what is written, what is said."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path

import pytest

from tests.helpers import planner

ROOT = Path(__file__).parents[2]
INPUTS = ROOT / "inputs"


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, subprocess.CompletedProcess[str]]:
    """The messy order list, planned once with quick effort; shared by tests that only look."""
    folder = tmp_path_factory.mktemp("planned")
    return folder, planner("plan", INPUTS / "night-export.csv", "--effort", "quick", cwd=folder)


def test_list_with_open_questions_is_planned_and_exits_3(
    planned: tuple[Path, subprocess.CompletedProcess[str]],
) -> None:
    folder, done = planned
    assert done.returncode == 3, done.stderr
    assert "Needs a decision" in done.stdout
    written = sorted(p.name for p in (folder / "outputs/night-export/r1").iterdir())
    sheets = [f"{stem}.{ending}" for stem in ("round-sheet-P1", "round-sheet") for ending in ("html", "xlsx")]
    assert written == ["plan.json", *sheets, "run.json", "specimens.csv"]


def test_every_order_read_is_planned_or_listed(planned: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    # 41 rows follow the heading row of the list, the totals row among them (counted in the file by hand).
    plan = json.loads((planned[0] / "outputs/night-export/r1/plan.json").read_text(encoding="utf-8"))
    served = {o for r in plan["routes"] for s in r["stops"] for t in s.get("tubes", ()) for o in t["order_numbers"]}
    listed = [u["order_number"] for u in plan["unplanned"]]
    assert len(served) + len(listed) == 41
    assert not served & set(listed)


def test_same_input_again_writes_nothing(planned: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    folder, _ = planned
    again = planner("plan", INPUTS / "night-export.csv", "--effort", "quick", cwd=folder)
    assert again.returncode == 3
    assert "nothing was written" in again.stdout
    assert [p.name for p in (folder / "outputs/night-export").iterdir()] == ["r1"]


def test_changed_input_becomes_the_next_revision(tmp_path: Path) -> None:
    orders = tmp_path / "list.csv"
    lines = [
        "order_number,patient_number,birth_date,test,ward,bed",
        "1,P1,1950-01-31,CBC,Elm,1",
        "2,P2,1950-01-31,CBC,Elm,2",
    ]
    orders.write_text("\n".join(lines[:2]), encoding="utf-8")
    planner("plan", orders, "--date", "2026-03-10", "--effort", "quick", cwd=tmp_path)
    orders.write_text("\n".join(lines), encoding="utf-8")
    done = planner("plan", orders, "--date", "2026-03-10", "--effort", "quick", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert sorted(p.name for p in (tmp_path / "outputs/list").iterdir()) == ["r1", "r2"]


def test_list_that_was_not_read_is_said_first_and_again(tmp_path: Path) -> None:
    head, order = "order_number,patient_number,test,ward,bed", "{0},P{0},CBC,Elm,{0}"
    for number, name in enumerate(("orders.csv", "orders-late.csv"), start=1):
        (tmp_path / name).write_text(f"{head}\n{order.format(number)}\n", encoding="utf-8")
    for _ in range(2):  # the second run finds the revision of the first
        done = planner(
            "plan", tmp_path, "--date", "2026-03-10", "--effort", "quick", "--out", tmp_path / "out/r", cwd=tmp_path
        )
        assert done.returncode == 3, done.stderr
        assert done.stdout.startswith("Not read or not used")
        assert "orders-late.csv" in done.stdout


@pytest.mark.parametrize("hash_seed", ["1", "2"])
def test_same_bytes_whatever_the_hash_seed(
    planned: tuple[Path, subprocess.CompletedProcess[str]], tmp_path: Path, hash_seed: str
) -> None:
    planner("plan", INPUTS / "night-export.csv", "--effort", "quick", cwd=tmp_path, PYTHONHASHSEED=hash_seed)
    there = planned[0] / "outputs/night-export/r1/plan.json"
    assert (tmp_path / "outputs/night-export/r1/plan.json").read_bytes() == there.read_bytes()


def test_workbook_is_the_same_bytes_with_a_source_date(tmp_path: Path) -> None:
    for name in ("one", "two"):
        planner(
            "plan",
            INPUTS / "night-export.csv",
            "--effort",
            "quick",
            "--out",
            name,
            cwd=tmp_path,
            SOURCE_DATE_EPOCH="1770000000",
        )
    assert (tmp_path / "one/r1/round-sheet.xlsx").read_bytes() == (tmp_path / "two/r1/round-sheet.xlsx").read_bytes()


def test_written_plan_passes_the_check_again(planned: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    done = planner("check", "outputs/night-export", cwd=planned[0])
    assert done.returncode == 0, done.stdout + done.stderr


def test_tampered_plan_is_refused_with_5(
    planned: tuple[Path, subprocess.CompletedProcess[str]], tmp_path: Path
) -> None:
    copy = tmp_path / "r1"
    shutil.copytree(planned[0] / "outputs/night-export/r1", copy)
    text = (copy / "plan.json").read_text(encoding="utf-8")
    data = json.loads(text)
    data["goals"][0]["value"] += 1
    (copy / "plan.json").write_text(json.dumps(data), encoding="utf-8")
    done = planner("check", copy, cwd=tmp_path)
    assert done.returncode == 5
    assert "do not use this plan" in done.stderr


def test_damaged_plan_is_said_so_with_4(tmp_path: Path) -> None:
    (tmp_path / "r1").mkdir()
    (tmp_path / "r1/plan.json").write_text('{"schema": "coll', encoding="utf-8")
    done = planner("check", "r1", cwd=tmp_path)
    assert done.returncode == 4
    assert "Traceback" not in done.stderr


def test_nothing_to_plan_exits_4_and_writes_nothing(tmp_path: Path) -> None:
    (tmp_path / "empty.csv").write_text("order_number,patient_number,test\n", encoding="utf-8")
    done = planner("plan", "empty.csv", cwd=tmp_path)
    assert done.returncode == 4
    assert not (tmp_path / "outputs").exists()


def test_list_of_which_nothing_can_be_planned_exits_4_and_names_every_order(tmp_path: Path) -> None:
    rows = ["order_number,patient_number,test,ward,bed,status", "77,P1,CBC,Elm,1,cancelled", "78,P2,NOSUCH,Elm,2,"]
    (tmp_path / "list.csv").write_text("\n".join(rows), encoding="utf-8")
    done = planner("plan", "list.csv", cwd=tmp_path)
    assert done.returncode == 4
    assert "order 77" in done.stderr and "order 78" in done.stderr
    assert not (tmp_path / "outputs").exists()


def test_stat_held_from_a_stated_ingestion_is_said_first_and_others_are_drawn_now(tmp_path: Path) -> None:
    # Bed numbers are equal on the two wards. Paracetamol is held for 4 h from one stated ingestion, 02:30 to 06:30; the
    # other stats are drawn at once: without an ingestion time, 4.5 h after lithium, fed with insulin.
    head = "order_number,patient_number,birth_date,test,ward,bed,priority,last_dose_at,last_ate_at"
    rows = [
        "A1,P1,1960-05-01,APAP,Elm,3A,stat,02:30,",
        "A2,P2,1960-05-01,APAP,Oak,3A,stat,,",
        "L1,P3,1960-05-01,LI,Elm,4A,stat,00:30,",
        "I1,P4,1960-05-01,INS,Oak,4A,stat,,03:30",
        "C1,P4,1960-05-01,CBC,Oak,4A,routine,,",
        "C2,P4,1960-05-01,CBC,Oak,4A,routine,,",
    ]
    (tmp_path / "list.csv").write_text("\n".join([head, *rows]), encoding="utf-8")
    done = planner("plan", "list.csv", "--date", "2026-03-10", "--effort", "quick", "--out", "out", cwd=tmp_path)
    assert done.returncode == 3, done.stderr
    said = " ".join(done.stdout.split())
    assert said.startswith("Planned, but somebody must decide")
    assert "order A1, bed Elm 3A: stat APAP is held until 06:30" in said
    assert "Bed Oak 4A: one draw of CBC serves orders C1, C2" in said
    plan = json.loads((tmp_path / "out/r1/plan.json").read_text(encoding="utf-8"))
    drawn = {o: s["draw"] for r in plan["routes"] for s in r["stops"] for o in s.get("order_numbers", ())}
    assert drawn["A1"][11:16] >= "06:30"
    assert all(drawn[order][11:16] < "05:30" for order in ("A2", "L1", "I1"))
    assert planner("check", "out", cwd=tmp_path).returncode == 0


def test_path_that_is_not_there_exits_4(tmp_path: Path) -> None:
    done = planner("plan", "no-such-round", cwd=tmp_path)
    assert done.returncode == 4
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    "arguments",
    [("plan",), ("plan", "x", "--start", "5 o'clock"), ("plan", "x", "--date", "10.3."), ("fly",)],
)
def test_wrong_usage_exits_2(tmp_path: Path, arguments: tuple[str, ...]) -> None:
    assert planner(*arguments, cwd=tmp_path).returncode == 2


def test_starter_workbook_plans_without_edits(tmp_path: Path) -> None:
    assert planner("new", "mine", cwd=tmp_path).returncode == 0
    done = planner("plan", "mine", "--effort", "quick", cwd=tmp_path)
    assert done.returncode == 0, done.stdout + done.stderr
    assert (tmp_path / "outputs/mine/r1/round-sheet.xlsx").is_file()


def test_starter_workbook_is_not_written_over(tmp_path: Path) -> None:
    planner("new", "mine", cwd=tmp_path)
    assert planner("new", "mine", cwd=tmp_path).returncode == 2


def test_tubes_alone_writes_nothing(tmp_path: Path) -> None:
    done = planner("tubes", INPUTS / "night-export.csv", cwd=tmp_path)
    assert done.returncode == 3
    assert "proven minimal" in done.stdout
    assert not any(tmp_path.iterdir())


def test_sheet_is_written_again_for_one_person_on_letter_paper(
    planned: tuple[Path, subprocess.CompletedProcess[str]], tmp_path: Path
) -> None:
    shutil.copytree(planned[0] / "outputs", tmp_path / "outputs")
    done = planner("sheet", "outputs/night-export", "--for", "P1", "--paper", "letter", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "outputs/night-export/r1/round-sheet-P1-letter.xlsx").is_file()


def test_sheet_for_a_stranger_is_wrong_usage(planned: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    assert planner("sheet", "outputs/night-export", "--for", "Nobody", cwd=planned[0]).returncode == 2


def test_json_summary_is_json_with_goals(tmp_path: Path) -> None:
    done = planner("plan", INPUTS / "night-export.csv", "--effort", "quick", "--json", cwd=tmp_path)
    assert [g["name"] for g in json.loads(done.stdout)["goals"]] == ["left-out", "service", "effort"]


def test_no_patient_name_reaches_the_terminal(planned: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    rows = (INPUTS / "night-export.csv").read_text(encoding="cp1252").splitlines()
    heading = next(row.split(";") for row in rows if "Surname" in row)
    names = {row.split(";")[heading.index("Surname")] for row in rows[rows.index(";".join(heading)) + 1 :]} - {""}
    assert len(names) >= 10
    printed = planned[1].stdout + planned[1].stderr
    assert [name for name in names if name in printed] == []


def test_outputs_inside_the_round_do_not_change_it(tmp_path: Path) -> None:
    (tmp_path / "round").mkdir()
    rows = ["order_number,patient_number,birth_date,test,ward,bed", "1,P1,1950-01-31,CBC,Elm,1"]
    (tmp_path / "round/orders.csv").write_text("\n".join(rows), encoding="utf-8")
    arguments = ("plan", "round", "--date", "2026-03-10", "--effort", "quick", "--out", "round/out")
    assert planner(*arguments, cwd=tmp_path).returncode == 0
    assert "nothing was written" in planner(*arguments, cwd=tmp_path).stdout


def test_orders_left_out_are_no_saving(tmp_path: Path) -> None:
    done = planner("plan", INPUTS / "short-staffed", "--effort", "quick", "--json", cwd=tmp_path)
    data = json.loads(done.stdout)
    plan = json.loads((tmp_path / data["folder"] / "plan.json").read_text(encoding="utf-8"))
    # Culture sets apart, no order of this round needs more than one tube: one tube an order is at most one tube
    # for each planned order, and a second bottle for each culture set.
    served = [o for r in plan["routes"] for s in r["stops"] for t in s.get("tubes", ()) for o in t["order_numbers"]]
    assert data["orders_planned"] < data["orders"]
    assert data["one_tube_per_order"]["tubes"] <= len(served)
