"""The example that README shows: this version makes it again, byte for byte, and the checker passes it."""

from __future__ import annotations

import io
import os
import re
import shlex
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
GOLDEN = ROOT / "outputs/alder-ward/r1"
WHEN = "1773115200"
"""2026-03-10 04:00 UTC: when the kept files say that they were made."""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, subprocess.CompletedProcess[str]]:
    folder = tmp_path_factory.mktemp("golden")
    done = subprocess.run(
        [sys.executable, "-m", "planner", "plan", str(ROOT / "inputs/alder-ward"), "--out", "outputs/first-try"],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT), "SOURCE_DATE_EPOCH": WHEN, "TZ": "UTC"},
        capture_output=True,
        text=True,
        check=False,
    )
    return folder / "outputs/first-try/r1", done


def test_main_example_needs_no_decision(made: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    assert made[1].returncode == 0, made[1].stdout + made[1].stderr


def test_everything_that_a_round_writes_is_kept(made: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    # run.json says when and where the plan was made.
    written = {path.name for path in made[0].iterdir()} - {"run.json"}
    assert written == {path.name for path in GOLDEN.iterdir()}


SHEETS = ("round-sheet", "round-sheet-IS", "round-sheet-TW")


@pytest.mark.parametrize("name", ["plan.json", "specimens.csv", *(f"{sheet}.html" for sheet in SHEETS)])
def test_kept_file_is_made_again(made: tuple[Path, subprocess.CompletedProcess[str]], name: str) -> None:
    assert (made[0] / name).read_bytes() == (GOLDEN / name).read_bytes()


@pytest.mark.parametrize("name", [f"{sheet}.xlsx" for sheet in SHEETS])
def test_kept_workbook_is_made_again(made: tuple[Path, subprocess.CompletedProcess[str]], name: str) -> None:
    # Parts are compared, not the archive: another build of the compressor may pack the same content otherwise.
    def parts(path: Path) -> dict[str, bytes]:
        with zipfile.ZipFile(io.BytesIO(path.read_bytes())) as archive:
            return {name: archive.read(name) for name in archive.namelist() if not name.endswith(".png")}

    assert parts(made[0] / name) == parts(GOLDEN / name)


def test_sheet_of_the_kept_plan_is_the_sheet_that_was_planned(tmp_path: Path) -> None:
    kept = tmp_path / "alder-ward/r1"
    kept.mkdir(parents=True)
    (kept / "plan.json").write_bytes((GOLDEN / "plan.json").read_bytes())
    subprocess.run(
        [sys.executable, "-m", "planner", "sheet", str(kept)],
        env={**os.environ, "PYTHONPATH": str(ROOT), "SOURCE_DATE_EPOCH": WHEN, "TZ": "UTC"},
        capture_output=True,
        check=True,
    )
    assert (kept / "round-sheet.html").read_bytes() == (GOLDEN / "round-sheet.html").read_bytes()


def test_first_two_tiers_are_proven_and_nobody_is_late(made: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    for line in ("Left out .*proven: no plan does better", "Service .*proven with these visits", "  late draws +none"):
        assert re.search(rf"^  {line}$", made[1].stdout, re.MULTILINE)


def test_readme_shows_what_is_printed(made: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    shown = re.search(r"<!-- output -->\n```text\n(.*?)```", readme, re.DOTALL)
    assert shown is not None
    assert shown[1].strip() == made[1].stdout.strip()


def test_readme_shows_what_replanning_prints(made: tuple[Path, subprocess.CompletedProcess[str]]) -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    command = re.search(r"<!-- replan -->\n```bash\n\.venv/bin/planner (.*?)\n```", readme)
    shown = re.search(r"<!-- replan-output -->\n```text\n(.*?)```", readme, re.DOTALL)
    assert command is not None and shown is not None
    done = subprocess.run(
        [sys.executable, "-m", "planner", *shlex.split(command[1])],
        cwd=made[0].parents[2],
        env={**os.environ, "PYTHONPATH": str(ROOT), "SOURCE_DATE_EPOCH": WHEN, "TZ": "UTC"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == shown[1].strip()
