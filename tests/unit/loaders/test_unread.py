"""What is given and cannot be read is an error of its own: no plan is made as if it had not been there."""

from __future__ import annotations

import os
import zipfile
from io import BytesIO
from pathlib import Path

import pytest
from typer.testing import CliRunner

from planner.cli.app import app
from planner.findings import Severity, unread
from planner.loaders import LoadOptions, load
from tests.unit.loaders.conftest import GOOD, HEAD

ORDERS = f"{HEAD}\n{GOOD}\n"
STAFF = "name,initials,from,until\nKim Fell,KF,05:00,09:00\n"


def cut_workbook() -> bytes:
    """Return a workbook that lost its second half."""
    from openpyxl import Workbook

    book, data = Workbook(), BytesIO()
    book.active.title = "patients"
    book.active.append(["patient_number", "bed"])
    book.save(data)
    return data.getvalue()[: len(data.getvalue()) // 2]


BESIDE = {
    "policy that is no TOML": ("policy.toml", b"[blood\nchild_ul_per_kg = 1\n", 4),
    "policy with an unknown key": ("policy.toml", b"[blood]\nchild_limit = 1\n", 4),
    "policy with a wrong type": ("policy.toml", b"time_zone = 7\n", 4),
    "policy in another encoding": ("policy.toml", "time_zone = 'Europe/Dublin' # Küche\n".encode("cp1252"), 4),
    "policy sheet without headings": ("policy.csv", b"time_zone;Europe/Dublin\nround.start_at;04:00\n", 4),
    "damaged workbook": ("patients.xlsx", cut_workbook(), 3),
    "late orders": ("orders-late.csv", ORDERS.replace("A1", "A2").encode(), 3),
    "table of another name": ("diet.csv", b"patient,meal\n1,soup\n", 3),
    "bundle that breaks off": ("more.json", b'{"resourceType": "Bundle", "entry": [{"resource": {"resou', 3),
    "bundle that is one page of several": (
        "more.json",
        b'{"resourceType": "Bundle", "link": [{"relation": "next", "url": "p2"}], "entry": []}',
        3,
    ),
    "batch that says it has more": ("more.hl7", b"BHS|^~\\&|W\rBTS|3\r", 3),
    "empty file": ("staff.csv", b"", 3),
    "document": ("orders.docx", b"PK", 3),
    "picture": ("map.png", b"\x89PNG", 3),
    "folder": ("ward-2/orders.csv", ORDERS.encode(), 3),
    "staff that lacks a column": ("staff.csv", b"name,from\nKim Fell,05:00\n", 3),
}


CODES = {"document": "unknown-file", "folder": "folder-not-read", "late orders": "unknown-table"}


@pytest.mark.slow
@pytest.mark.parametrize("case", BESIDE)
def test_nothing_given_is_left_out_without_a_decision(case: str, tmp_path: Path) -> None:
    name, data, expected = BESIDE[case]
    (tmp_path / "orders.csv").write_text(ORDERS, encoding="utf-8")
    assert CliRunner().invoke(app, ["check", str(tmp_path)]).exit_code == 0
    (tmp_path / name).parent.mkdir(exist_ok=True)
    (tmp_path / name).write_bytes(data)
    done = CliRunner().invoke(app, ["check", str(tmp_path)])
    assert done.exit_code == expected, done.output
    loaded = load(tmp_path)
    assert (loaded.problem is None) == (expected == 4)
    assert unread(loaded.findings)
    if case in CODES:
        assert CODES[case] in {f.code for f in unread(loaded.findings)}
    if expected == 4:
        ignored = CliRunner().invoke(app, ["check", str(tmp_path), "--ignore-policy"])
        assert ignored.exit_code == 3, ignored.output
        assert len(load(tmp_path, LoadOptions(ignores_policy=True)).problem.orders) == 1


@pytest.mark.parametrize("name", ["policy.toml", "staff.csv", "night.hl7", "orders2.csv"])
@pytest.mark.parametrize("kind", ["folder", "pipe"])
def test_what_is_named_as_input_and_is_no_file_is_said(kind: str, name: str, tmp_path: Path) -> None:
    """An empty folder, or a pipe that would be waited for, in the place of a file."""
    (tmp_path / "orders.csv").write_text(ORDERS, encoding="utf-8")
    (tmp_path / name).mkdir() if kind == "folder" else os.mkfifo(tmp_path / name)
    done = CliRunner().invoke(app, ["check", str(tmp_path)])
    assert done.exit_code == (4 if name == "policy.toml" else 3), done.output
    assert name in done.output


def test_pipe_in_the_place_of_a_plan_is_refused(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "plan.json")
    done = CliRunner().invoke(app, ["sheet", str(tmp_path / "plan.json")])
    assert done.exit_code == 4, done.output
    (tmp_path / "r1").mkdir()
    os.mkfifo(tmp_path / "r1/plan.json")
    done = CliRunner().invoke(app, ["sheet", str(tmp_path)])
    assert done.exit_code == 4, done.output


@pytest.mark.parametrize("day", ["9999-12-31", "0001-01-01", "1970-12-31", "2200-01-01"])
def test_day_at_the_end_of_time_in_the_policy(day: str, tmp_path: Path) -> None:
    (tmp_path / "orders.csv").write_text(ORDERS, encoding="utf-8")
    (tmp_path / "policy.toml").write_text(f"time_zone = 'Europe/Dublin'\n[round]\nday = {day}\n", encoding="utf-8")
    done = CliRunner().invoke(app, ["check", str(tmp_path)])
    assert done.exit_code == 4, done.output
    assert "no day of a round" in " ".join(done.output.split())


@pytest.mark.parametrize("name", ["staff.csv", "policy.toml"])
def test_file_that_may_not_be_opened(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "orders.csv").write_text(ORDERS, encoding="utf-8")
    (tmp_path / name).write_text(STAFF if name == "staff.csv" else "", encoding="utf-8")
    real = Path.read_bytes

    def refused(path: Path) -> bytes:
        if path.name == name:
            raise PermissionError(13, "Permission denied")
        return real(path)

    monkeypatch.setattr(Path, "read_bytes", refused)
    done = CliRunner().invoke(app, ["check", str(tmp_path)])
    assert done.exit_code == (3 if name == "staff.csv" else 4), done.output


def test_two_policies_are_not_laid_over_one_another(tmp_path: Path) -> None:
    (tmp_path / "orders.csv").write_text(ORDERS, encoding="utf-8")
    (tmp_path / "policy.toml").write_text("time_zone = 'Europe/Dublin'\n", encoding="utf-8")
    (tmp_path / "policy.csv").write_text("key,value\ntime_zone,Europe/Paris\n", encoding="utf-8")
    loaded = load(tmp_path)
    assert loaded.problem is None
    assert "policy-twice" in {f.code for f in loaded.findings if f.severity is Severity.ERROR}
    kept = load(tmp_path, LoadOptions(ignores_policy=True)).problem
    assert kept.clock.zone_name == "Europe/Dublin"


@pytest.mark.slow
def test_what_is_no_input_is_left_alone(tmp_path: Path) -> None:
    """Written revisions, empty folders, and what systems and spreadsheet programs leave behind."""
    (tmp_path / "orders.csv").write_text(ORDERS, encoding="utf-8")
    for name in (".DS_Store", "Thumbs.db", "~$orders.xlsx", "outputs/round/r1/plan.json", "__MACOSX/._orders.csv"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_bytes(b"x")
    (tmp_path / "empty").mkdir()
    assert not unread(load(tmp_path).findings)


def test_sheet_of_remarks_is_no_lost_table(tmp_path: Path) -> None:
    from openpyxl import Workbook

    book = Workbook()
    book.active.title = "orders"
    for row in ORDERS.splitlines():
        book.active.append(row.split(","))
    book.create_sheet("remarks").append(["bring the small trolley"])
    book.save(tmp_path / "round.xlsx")
    assert zipfile.is_zipfile(tmp_path / "round.xlsx")
    assert not unread(load(tmp_path / "round.xlsx").findings)
    book.create_sheet("orders (2)").append(HEAD.split(","))
    book["orders (2)"].append(GOOD.replace("A1", "A2").split(","))
    book.save(tmp_path / "round.xlsx")
    assert [f.source.sheet for f in unread(load(tmp_path / "round.xlsx").findings)] == ["orders (2)"]
