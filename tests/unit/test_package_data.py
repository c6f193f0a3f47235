"""What the package reads at run time is installed with it: an editable install would hide a file that is left out."""

from __future__ import annotations

import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[2]
FOR_READERS = {".md"}
"""Documents beside the code: people read them, the program does not."""


def test_every_file_that_the_program_reads_is_installed() -> None:
    settings = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    patterns = settings["tool"]["setuptools"]["package-data"]["planner"]
    package = ROOT / "planner"
    installed = {path for pattern in patterns for path in package.glob(pattern)}
    needed = {
        path
        for path in package.rglob("*")
        if path.is_file() and path.suffix not in {".py", ".pyc", ".nbi", ".nbc"} | FOR_READERS
    }
    assert len(needed) > 20
    assert sorted(str(path.relative_to(package)) for path in needed - installed) == []
