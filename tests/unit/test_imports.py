"""Who may import whom: reads the import lines and keeps the directions that make the parts replaceable.

The domain knows no file, no solver, no terminal; solver variables stay in `tubes` and `scheduling`; the checker owes
the planner nothing.
"""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import planner

pytestmark = pytest.mark.slow

ROOT = Path(planner.__file__).parent
NOUNS = {"domain", "units", "errors", "findings", "finding_codes"}
ALLOWED: dict[str, set[str]] = {
    "__init__": {"library", "errors", "findings", "domain"},
    "__main__": {"cli"},
    "finding_codes": set(),
    "findings": {"finding_codes"},
    "units": set(),
    "errors": {"findings"},
    "domain": {"units", "errors", "findings", "finding_codes"},
    "walking": NOUNS,
    "columns": set(),
    "loaders": NOUNS | {"walking", "columns"},
    "solving": {"domain", "units", "errors"},
    "visits": NOUNS,
    "tubes": NOUNS | {"solving", "visits"},
    "scheduling": NOUNS | {"solving", "visits"},
    "checker": {"domain", "units", "findings", "finding_codes"},
    "exporters": NOUNS | {"columns", "version"},
    "prepared": NOUNS | {"visits", "tubes", "scheduling", "solving"},
    "regrouping": NOUNS | {"visits", "scheduling", "solving", "prepared"},
    "pipeline": NOUNS | {"visits", "scheduling", "solving", "checker", "prepared", "regrouping"},
    "replanning": NOUNS | {"walking", "visits", "tubes", "scheduling", "solving", "checker", "prepared", "pipeline"},
    "explaining": NOUNS | {"visits", "scheduling", "solving", "prepared", "pipeline", "replanning"},
    "library": NOUNS
    | {"loaders", "visits", "tubes", "scheduling", "solving", "checker", "prepared", "pipeline"}
    | {"replanning", "explaining", "exporters", "version"},
}
"""Part of the package, and the parts that it may use; `cli` may use everything. "version" is the package itself."""

THIRD_PARTY: dict[str, set[str]] = {
    "loaders": {"openpyxl", "networkx"},
    "walking": {"networkx"},
    "solving": {"ortools"},
    "tubes": {"ortools"},
    "scheduling": {"ortools", "numpy", "numba"},
    "exporters": {"openpyxl", "matplotlib", "PIL"},
    "cli": {"typer"},
}
"""Part of the package, and the libraries that it may use; no other part uses any."""


def part_of(file: Path) -> str:
    return file.relative_to(ROOT).parts[0].removesuffix(".py")


def imported(file: Path) -> Iterator[str]:
    """Yield the dotted names of what a file imports, also inside functions."""
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{file}: relative import"
            module = node.module or ""
            yield from ([f"planner.{alias.name}" for alias in node.names] if module == "planner" else [module])


def parts_used(file: Path) -> set[str]:
    names = (name.split(".") for name in imported(file))
    used = {name[1] if len(name) > 1 else "version" for name in names if name[0] == "planner"}
    return {"version" if name == "__version__" else name for name in used}


def libraries_used(file: Path) -> set[str]:
    return {name.split(".")[0] for name in imported(file)} - set(sys.stdlib_module_names) - {"planner"}


FILES = sorted(ROOT.rglob("*.py"))


@pytest.mark.parametrize("part", sorted({part_of(file) for file in FILES} - {"cli"}))
def test_part_uses_only_what_it_may(part: str) -> None:
    for file in FILES:
        if part_of(file) == part:
            assert parts_used(file) - {part} <= ALLOWED[part], file


def test_libraries_are_used_only_where_they_belong() -> None:
    for file in FILES:
        assert libraries_used(file) <= THIRD_PARTY.get(part_of(file), set()), file


def test_every_part_that_is_named_by_another_exists_in_the_table() -> None:
    assert {used for file in FILES for used in parts_used(file)} <= {*ALLOWED, "cli", "version"}


def test_reader_of_imports_sees_them_in_every_form(tmp_path: Path) -> None:
    file = tmp_path / "module.py"
    file.write_text(
        "import planner.tubes.model\nfrom planner import __version__, cli\n"
        "def late() -> None:\n    from planner.visits.windows import x\n    import ortools.sat\n",
        encoding="utf-8",
    )
    assert parts_used(file) == {"tubes", "version", "cli", "visits"}
    assert libraries_used(file) == {"ortools"}


def test_nothing_else_of_the_domain_reads_what_is_derived() -> None:
    derived = ROOT / "domain/derived"
    for file in FILES:
        if part_of(file) == "domain" and derived not in file.parents:
            assert not [name for name in imported(file) if name.startswith("planner.domain.derived")], file
