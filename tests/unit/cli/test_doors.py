"""What stands around the program: streams, code pages, odd options, folders that cannot be written to."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tomllib
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Any

import pytest
from typer.testing import CliRunner

from planner.cli.app import app
from planner.errors import InputError, OutputError, RequestError
from planner.exporters.files import write_revision
from planner.exporters.page.pdf import page_to_pdf
from planner.findings import Finding, Severity, Source
from planner.library.loading import InputDigest, parse_day
from planner.library.news import is_file
from planner.library.printing import print_time
from planner.loaders.formats.csv_files import clean

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[3]
ORDERS = "order_number,patient_number,birth_date,ward,bed,test\n1,P1,1950-01-31,Élm Ω,1→2,CBC\n"


def run(command: str, cwd: Path, **environment: str) -> subprocess.CompletedProcess[bytes]:
    """Run a shell command in which ``planner`` is this program."""
    line = command.replace("planner ", f"{sys.executable} -m planner ")
    return subprocess.run(
        ["bash", "-c", line],
        cwd=cwd,
        env=os.environ | {"PYTHONPATH": str(ROOT)} | environment,
        capture_output=True, check=False, timeout=120,
    )  # fmt: skip


@pytest.fixture
def here(tmp_path: Path) -> Path:
    (tmp_path / "list.csv").write_text(ORDERS, encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize("encoding", ["cp1252", "latin-1", "ascii"])
def test_other_code_pages_lose_no_line(encoding: str, here: Path) -> None:
    done = run("planner tubes list.csv", here, PYTHONIOENCODING=encoding)
    assert done.returncode == 0, done.stderr
    assert b"CBC" in done.stdout
    assert b"1?2" in done.stdout or encoding == "ascii"  # the command library writes UTF-8 where it finds ASCII


def test_json_stays_json_in_other_code_pages(here: Path) -> None:
    done = run("planner plan list.csv --json --effort quick --date 2026-03-10", here, PYTHONIOENCODING="cp1252")
    assert done.returncode == 0, done.stderr
    json.loads(done.stdout.decode("cp1252"))


@pytest.mark.parametrize("end", ["| head -c 1", ">&-", "2>&-", "2>&- >&-", "> /dev/full", "2> /dev/full"])
def test_closed_and_full_streams_are_no_bug(end: str, here: Path) -> None:
    done = run(f"set -o pipefail; planner catalogue {end}; exit $?", here)
    assert b"Traceback" not in done.stderr
    assert b"Exception ignored" not in done.stderr
    assert done.returncode == (4 if end == "> /dev/full" else 0), done.stderr


def test_lost_output_says_that_what_was_written_is_whole(here: Path) -> None:
    done = run("planner plan list.csv --effort quick --date 2026-03-10 > /dev/full", here)
    assert done.returncode == 4
    assert b"Files that were written are whole" in done.stderr
    assert {"plan.json", "run.json", "round-sheet.html"} <= {f.name for f in (here / "outputs/list/r1").iterdir()}


STOPPED_WHILE_LOADING = """
import sys
class Stop:
    def find_spec(self, name, path=None, target=None):
        if name == "planner.cli.app":
            raise KeyboardInterrupt
sys.meta_path.insert(0, Stop())
from planner.__main__ import main
main()
"""


def test_a_stop_while_the_program_loads_has_no_traceback() -> None:
    # 130: 128 and the number of SIGINT (POSIX shells)
    done = subprocess.run([sys.executable, "-c", STOPPED_WHILE_LOADING], capture_output=True, check=False)
    assert (done.returncode, done.stderr) == (130, b"")


def test_both_ways_to_begin_are_the_same() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    assert project["project"]["scripts"] == {"planner": "planner.__main__:main"}


def test_control_characters_of_data_do_not_reach_the_terminal() -> None:
    source = Source(file="a\x1b[2J.csv", column="bed\u202e")
    text = str(Finding(code="bed-missing", severity=Severity.ERROR, message="bed \x1b]0;x\x07 \x9b5m", source=source))
    assert not {c for c in text if ord(c) < 32 or 126 < ord(c) < 160 or c == "\u202e"}


def test_control_characters_of_orders_do_not_reach_the_terminal(tmp_path: Path) -> None:
    rows = ["order_number,patient_number,birth_date,ward,bed,test", "1\x1b[31m,P1,1950-01-31,Elm,\x1b[2J3,XYZ\x07"]
    (tmp_path / "list.csv").write_text("\n".join([*rows, "2,P2,1950-01-31,Elm,4,CBC", ""]), encoding="utf-8")
    for command in ("check", "tubes"):
        done = CliRunner().invoke(app, [command, str(tmp_path / "list.csv")])
        assert done.exit_code == 3
        assert not {"\x1b", "\x07"} & set(done.output), command


@pytest.mark.parametrize("text", ["1" * 256, "a\0b", "12," * 2000, "/dev/null/x"])
def test_done_text_that_is_no_file_name(text: str) -> None:
    assert not is_file(text)


@pytest.mark.parametrize("text", ["9" * 30, "1e9", "²", "-1", " 12", "x"])
def test_source_date_epoch_that_is_none_is_refused(text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", text)
    with pytest.raises(InputError, match="SOURCE_DATE_EPOCH"):
        print_time()
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "0")
    assert print_time() == datetime(1970, 1, 1, tzinfo=UTC)


@pytest.mark.parametrize("text", ["9999-12-31", "0001-01-01", "2200-01-01"])
def test_day_at_the_end_of_time_is_wrong_usage(text: str) -> None:
    with pytest.raises(RequestError, match="1971"):
        parse_day(text)


def test_round_with_a_file_that_may_not_be_opened_has_a_digest(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = Path.open

    def refused(path: Path, mode: str) -> IO[Any]:
        if path.name == "staff.csv":
            raise PermissionError(13, "Permission denied")
        return real(path, mode)

    (here / "staff.csv").write_text("name\n", encoding="utf-8")
    before = InputDigest(here, ()).with_options({})
    monkeypatch.setattr(Path, "open", refused)
    assert InputDigest(here, ()).with_options({}) != before


def test_browser_that_fails_is_no_bug_of_ours(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PLANNER_BROWSER", "false")
    with pytest.raises(OutputError, match="by hand"):
        page_to_pdf(b"<html></html>")


@pytest.mark.parametrize("kind", ["file", "dangling link", "link to a file"])
def test_out_that_is_no_folder_is_told(kind: str, tmp_path: Path) -> None:
    out = tmp_path / "out"
    if kind == "file":
        out.write_text("x", encoding="utf-8")
    elif kind == "link to a file":
        (tmp_path / "there").write_text("x", encoding="utf-8")
        out.symlink_to(tmp_path / "there")
    else:
        out.symlink_to(tmp_path / "nowhere")
    with pytest.raises(OutputError) as caught:
        write_revision(out, {"plan.json": b"{}"})
    expected = "leads nowhere" if kind == "dangling link" else "is a file, not a folder"
    assert expected in str(caught.value)
    assert "already there" not in str(caught.value)


def test_out_is_looked_at_before_anything_is_planned(here: Path) -> None:
    (here / "out").write_text("x", encoding="utf-8")
    done = run("planner plan list.csv --out out --effort quick", here)
    assert done.returncode == 4
    assert b"is a file, not a folder" in done.stderr


@pytest.mark.parametrize("text", ["=1+11", "@SUM(A1)", "+1", "-5"])
def test_guarded_cell_is_read_as_it_was(text: str) -> None:
    assert clean(f"'{text}") == text
    assert clean("'tis") == "'tis"


@pytest.mark.skipif(os.name != "posix", reason="only here may a name be no text")
def test_round_whose_name_is_no_text(here: Path) -> None:
    (here / "list.csv").rename(Path(os.fsdecode(os.fsencode(here) + b"/l\xff.csv")))
    done = run("planner plan l*.csv --effort quick --date 2026-03-10", here)
    assert done.returncode == 0, done.stderr
    assert b"Written" in done.stdout
