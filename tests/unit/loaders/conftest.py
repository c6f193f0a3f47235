"""Small rounds written to a temporary folder and read back."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook

from planner.findings import Finding, Report, Severity
from planner.loaders import Loaded, LoadOptions, load
from tests.unit.loaders.where_found import misplaced

HEAD = "order_number,patient_number,family_name,given_name,birth_date,bed,test,priority,collect_at"
GOOD = "A1,0000123,Okafor,Ada,1960-05-31,4,CBC,routine,"


@pytest.fixture
def load_text(tmp_path: Path) -> Callable[..., Loaded]:
    """Write one list (text or bytes) and read it."""

    def write_and_load(content: str | bytes, name: str = "list.csv", **options: Any) -> Loaded:
        data = content.encode() if isinstance(content, str) else content
        (tmp_path / name).write_bytes(data)
        return load(tmp_path / name, LoadOptions(**options))

    return write_and_load


@pytest.fixture
def load_rows(load_text: Callable[..., Loaded]) -> Callable[..., Loaded]:
    """Write rows under `HEAD` and read them."""

    def write_and_load(*rows: str, head: str = HEAD, **options: Any) -> Loaded:
        return load_text("\n".join([head, *rows]) + "\n", **options)

    return write_and_load


@pytest.fixture
def load_folder(tmp_path: Path) -> Callable[..., Loaded]:
    """Write a folder of text tables and read it."""

    def write_and_load(files: Mapping[str, str], **options: Any) -> Loaded:
        folder = tmp_path / "round"
        folder.mkdir(exist_ok=True)
        for name, text in files.items():
            (folder / name).write_text(text, encoding="utf-8")
        return load(folder, LoadOptions(**options))

    return write_and_load


@pytest.fixture
def load_book(tmp_path: Path) -> Callable[..., Loaded]:
    """Write a workbook of sheets (rows of values), change it if asked, and read it."""

    def write_and_load(
        sheets: Mapping[str, Sequence[Sequence[Any]]],
        change: Callable[[Workbook], None] | None = None,
        **options: Any,
    ) -> Loaded:
        book = Workbook()
        book.remove(book.worksheets[0])
        for title, rows in sheets.items():
            sheet = book.create_sheet(title)
            for row in rows:
                sheet.append(list(row))
        if change:
            change(book)
        book.save(tmp_path / "round.xlsx")
        return load(tmp_path / "round.xlsx", LoadOptions(**options))

    return write_and_load


@pytest.fixture(autouse=True)
def nothing_is_lost(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every load of these tests keeps every order: planned or set aside, under ids that stand once."""
    import planner.loaders

    original = planner.loaders.build_problem

    def checked(*arguments: Any) -> Any:
        problem, count = original(*arguments)
        if problem is not None:
            ids = [o.id for o in problem.orders] + [u.order_id for u in problem.set_aside]
            assert len(ids) == count
            assert len(set(ids)) == count
        return problem, count

    monkeypatch.setattr(planner.loaders, "build_problem", checked)


@pytest.fixture(autouse=True)
def _every_finding_says_where(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Walk over what the tests of this room provoke: each finding names the file, row and column that are at fault."""
    found: list[Finding] = []
    add = Report.add

    def recorded(self: Report, *args: Any, **kwargs: Any) -> None:
        add(self, *args, **kwargs)
        found.append(self.findings[-1])

    monkeypatch.setattr(Report, "add", recorded)
    yield
    said = [finding for finding in found if finding.severity is not Severity.NOTE]
    assert not {f"{f.code}: {fault}: {f.message}" for f in said if (fault := misplaced(f))}
