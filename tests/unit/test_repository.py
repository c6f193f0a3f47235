"""The repository itself: its top level, README's commands, and no trace of anybody's machine."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
ALLOWED = {"README.md", "DEVELOPERS.md", "pyproject.toml", "planner", "inputs", "outputs", "tests"}


def tracked() -> list[str]:
    done = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        pytest.skip("not a git checkout: what belongs to the repository is not known")
    return done.stdout.splitlines()


def test_top_level_holds_the_agreed_names_only() -> None:
    names = {name.split("/")[0] for name in tracked()}
    assert {name for name in names if not name.startswith(".")} == ALLOWED


def test_readme_begins_with_the_job() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    first = text.split("\n\n")[1]
    assert "phlebotomists" in first
    assert "round sheet" in first


@pytest.mark.parametrize("marker", ["main-job", "tests"])
def test_readme_has_each_command_once(marker: str) -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert len(re.findall(rf"<!-- {marker} -->\n```bash\npython3 -m venv [^\n]*\n```", text)) == 1


@pytest.mark.slow
def test_no_path_of_anybodys_machine() -> None:
    folders = "|".join(("wor" + "k", "hom" + "e", "roo" + "t", "User" + "s"))
    bad = re.compile(rf"(?<![\w.])/(?:{folders})/\w")
    found = [
        name
        for name in tracked()
        if name != "tests/unit/test_repository.py" and name.endswith((".py", ".md", ".toml", ".csv", ".json"))
        if bad.search((ROOT / name).read_text(encoding="utf-8", errors="replace"))
    ]
    assert found == []


def test_file_that_a_document_names_is_where_it_says() -> None:
    """A module or table in backticks stands below the root, `planner/` or the folder of the document."""
    named = re.compile(r"`([\w./-]+\.py|[\w.-]+/[\w./-]+\.(?:csv|md|txt))`")
    documents = [n for n in tracked() if n.endswith(".md") and n != "README.md" and not n.startswith(("in", "out"))]
    lost = [
        f"{document}: {file}"
        for document in documents
        for file in named.findall((ROOT / document).read_text(encoding="utf-8"))
        if not any((base / file).is_file() for base in (ROOT, ROOT / "planner", (ROOT / document).parent))
    ]
    assert lost == []
