"""Files and revision folders appear whole or not at all, and failures are said clearly."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from planner.errors import PlannerError
from planner.exporters import files
from planner.exporters.files import next_revision, remove_leftovers, write_atomic, write_revision


def test_revisions_are_numbered_from_one_and_never_overwritten(tmp_path: Path) -> None:
    assert next_revision(tmp_path / "new") == 1
    first = write_revision(tmp_path / "new", {"plan.json": b"one", "run.json": b"r"})
    second = write_revision(tmp_path / "new", {"plan.json": b"two"})
    assert (first.name, second.name) == ("r1", "r2")
    assert (first / "plan.json").read_bytes() == b"one"
    assert sorted(p.name for p in first.iterdir()) == ["plan.json", "run.json"]
    with pytest.raises(PlannerError, match="already there"):
        write_revision(tmp_path / "new", {"plan.json": b"three"}, revision=2)
    assert (second / "plan.json").read_bytes() == b"two"


def test_next_revision_follows_the_highest_number_not_the_last_name(tmp_path: Path) -> None:
    for name in ("r2", "r10", "r9", "r01", "rx", "notes"):
        (tmp_path / name).mkdir()
    (tmp_path / "r99").write_text("a file, not a revision")
    assert next_revision(tmp_path) == 11


def test_a_full_disk_leaves_no_part_of_a_revision(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real, calls = os.write, []

    def full_after_two_files(descriptor: int, data: bytes) -> int:
        calls.append(1)
        if len(calls) > 2:
            raise OSError(errno.ENOSPC, "No space left on device")
        return real(descriptor, data)

    monkeypatch.setattr(files.os, "write", full_after_two_files)
    with pytest.raises(PlannerError, match=r"disk is full.*r1"):
        write_revision(tmp_path, {"a": b"1", "b": b"2", "c": b"3"})
    assert list(tmp_path.iterdir()) == []


def test_a_failing_write_keeps_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "sheet.xlsx"
    write_atomic(target, b"old")

    def fail(_descriptor: int) -> None:
        raise OSError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(files.os, "fsync", fail)
    with pytest.raises(PlannerError, match=r"no permission to write .*sheet\.xlsx"):
        write_atomic(target, b"new")
    assert target.read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["sheet.xlsx"]


def test_a_file_in_the_way_of_the_folder_is_said(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file")
    with pytest.raises(PlannerError, match=r"out"):
        write_revision(tmp_path / "out", {"plan.json": b"x"})
    with pytest.raises(PlannerError, match="a part of this path is a file"):
        write_atomic(tmp_path / "out" / "deep" / "plan.json", b"x")


def test_short_writes_are_continued(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = os.write
    monkeypatch.setattr(files.os, "write", lambda descriptor, data: real(descriptor, bytes(data[:3])))
    write_atomic(tmp_path / "f", b"0123456789")
    assert (tmp_path / "f").read_bytes() == b"0123456789"


def test_leftovers_of_stopped_runs_are_removed_but_running_ones_are_not(tmp_path: Path) -> None:
    old, young = tmp_path / ".unfinished-old", tmp_path / ".unfinished-young"
    for folder in (old, young):
        folder.mkdir()
        (folder / "plan.json").write_bytes(b"x")
    now_s = young.stat().st_mtime
    os.utime(old, (now_s - 3600, now_s - 3600))
    assert remove_leftovers(tmp_path, now_s=now_s) == 1
    assert not old.exists()
    assert young.exists()
    assert next_revision(tmp_path) == 1


def test_names_that_leave_the_folder_are_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="plain file name"):
        write_revision(tmp_path, {"../plan.json": b"x"})
    assert list(tmp_path.iterdir()) == []


def test_next_sheet_sweeps_what_a_killed_one_left_in_the_revision(tmp_path: Path) -> None:
    """A killed `sheet` leaves a temporary file with patients' data beside the plan."""
    left = tmp_path / ".unfinished-abc"
    left.write_bytes(b"a name")
    os.utime(left, (0, 0))
    write_atomic(tmp_path / "round-sheet.html", b"x")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["round-sheet.html"]
