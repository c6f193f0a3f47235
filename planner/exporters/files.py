"""Writes files and revision folders so that they appear whole or not at all."""

from __future__ import annotations

import errno
import os
import re
import shutil
import tempfile
import time
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from planner.errors import OutputError

LEFTOVER_AFTER_S = 60
"""A temporary file or folder untouched for so long belongs to a run that was stopped; the next run removes it."""

_TEMPORARY = ".unfinished-"
_REVISION = re.compile(r"r([1-9][0-9]*)")


def write_atomic(path: Path, data: bytes) -> None:
    """Write a file so that a reader sees the old content or the new, never a part.

    Raises
    ------
    OutputError
        If the folder cannot be written to, or the disk is full; the old file is then untouched.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        remove_leftovers(path.parent)
        handle, name = tempfile.mkstemp(prefix=_TEMPORARY, dir=path.parent)
        temporary = Path(name)
        try:
            with os.fdopen(handle, "wb") as file:
                _write_and_sync(file.fileno(), data)
            temporary.chmod(0o644)
            temporary.replace(path)
        except BaseException:
            temporary.unlink(missing_ok=True)
            raise
        _sync_folder(path.parent)
    except OSError as error:
        raise _as_output_error(path, error) from error


def revisions(out_dir: Path) -> list[int]:
    """Return the numbers of the revisions that a folder holds, ascending."""
    if not out_dir.is_dir():
        return []
    matches = (_REVISION.fullmatch(entry.name) for entry in out_dir.iterdir() if entry.is_dir())
    return sorted(int(match[1]) for match in matches if match)


def next_revision(out_dir: Path) -> int:
    """Return the number that the next revision gets: one more than the highest, 1 in a new folder."""
    return max(revisions(out_dir), default=0) + 1


def require_folder(out_dir: Path) -> None:
    """Refuse a folder for outputs that is something else, before anybody plans for it.

    Raises
    ------
    OutputError
        If its path names a file, or a link to one or to nothing.
    """
    if out_dir.is_symlink() and not out_dir.exists():
        raise OutputError(f"cannot write into {out_dir}: the link leads nowhere; remove it or name another folder")
    for part in (out_dir, *out_dir.parents):
        if part.exists():
            if not part.is_dir():
                raise OutputError(f"cannot write into {out_dir}: {part} is a file, not a folder; name another folder")
            return


def write_revision(out_dir: Path, files: Mapping[str, bytes], *, revision: int | None = None) -> Path:
    """Write all files of a revision into a new folder ``r1``, ``r2``, ... and return it.

    The files go into a temporary sibling folder, which is then renamed: the revision appears whole or not at all.
    A revision is never overwritten.

    Parameters
    ----------
    out_dir
        The folder of the round; made when it is not there.
    files
        Contents by file name.
    revision
        The number that the contents speak of (see `next_revision`); None takes the next one.

    Raises
    ------
    OutputError
        If the disk is full, the folder may not be written to, or the revision is there already.
    """
    number = next_revision(out_dir) if revision is None else revision
    target = out_dir / f"r{number}"
    try:
        require_folder(out_dir)
        out_dir.mkdir(parents=True, exist_ok=True)
        remove_leftovers(out_dir)
        temporary = Path(tempfile.mkdtemp(prefix=_TEMPORARY, dir=out_dir))
        try:
            _fill(temporary, files)
            if target.exists():
                raise FileExistsError(errno.EEXIST, "already there", str(target))
            temporary.rename(target)
        except BaseException:
            shutil.rmtree(temporary, ignore_errors=True)
            raise
        _sync_folder(out_dir)
    except OSError as error:
        raise _as_output_error(target, error) from error
    return target


def remove_leftovers(out_dir: Path, *, now_s: float | None = None) -> int:
    """Remove what stopped runs left unfinished and return how many things that were."""
    oldest_s = (time.time() if now_s is None else now_s) - LEFTOVER_AFTER_S
    removed = 0
    for entry in sorted(out_dir.glob(f"{_TEMPORARY}*")):
        with suppress(FileNotFoundError):
            if entry.stat().st_mtime > oldest_s:
                continue
            shutil.rmtree(entry) if entry.is_dir() else entry.unlink()
            removed += 1
    return removed


def _fill(folder: Path, files: Mapping[str, bytes]) -> None:
    folder.chmod(0o755)
    for name, data in files.items():
        if Path(name).name != name or name in ("", ".", ".."):
            raise ValueError(f"not a plain file name: {name!r}")
        with (folder / name).open("wb") as file:
            _write_and_sync(file.fileno(), data)
    _sync_folder(folder)


def _write_and_sync(descriptor: int, data: bytes) -> None:
    """Write everything (a full disk may take a part at first, then refuses) and wait until the disk has it."""
    view = memoryview(data)
    while view:
        view = view[os.write(descriptor, view) :]
    os.fsync(descriptor)


def _sync_folder(folder: Path) -> None:
    """Make a rename last through a power cut; other systems than POSIX do not open folders."""
    if os.name != "posix":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _as_output_error(path: Path, error: OSError) -> OutputError:
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return OutputError(f"the disk is full: {path} was not written; free some space and run the command again")
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return OutputError(
            f"no permission to write {path}; allow it, or write elsewhere: plan has --out, and a folder of written "
            "plans can be copied and its copy be named"
        )
    if error.errno in (errno.EEXIST, errno.ENOTEMPTY):
        return OutputError(
            f"{path} is already there: another run was first, and revisions are never overwritten; nothing is written, "
            "run the command again"
        )
    if error.errno == errno.ENOTDIR:
        return OutputError(f"cannot write {path}: a part of this path is a file, not a folder")
    return OutputError(f"cannot write {path}: {error.strerror or type(error).__name__}")
