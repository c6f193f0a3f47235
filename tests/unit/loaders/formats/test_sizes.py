"""What is larger than any round is refused at once, with what to do; below that the time grows with the size."""

from __future__ import annotations

import json
import time
import zipfile
from collections.abc import Callable
from datetime import date
from io import BytesIO
from pathlib import Path

import pytest

from planner.findings import unread
from planner.loaders import Loaded, LoadOptions, load
from planner.loaders.formats.limits import MAX_FILE_BYTES
from tests.unit.loaders.conftest import GOOD, HEAD
from tests.unit.loaders.messages.fhir.ward import on_ward, request

pytestmark = pytest.mark.slow

DAY = LoadOptions(round_date=date(2026, 3, 10))
SOON_S = 4.0
"""Seconds of processor time within which something is refused, on a slow machine that is busy."""


def refused(path: Path) -> Loaded:
    """Load what is to be refused, and soon."""
    start = time.process_time()
    loaded = load(path, DAY)
    assert time.process_time() - start < SOON_S
    assert loaded.problem is None
    assert unread(loaded.findings)
    return loaded


def workbook_of(sheet: bytes) -> bytes:
    """Return a small workbook with this text as the data of its only sheet."""
    from openpyxl import Workbook

    book, data, made = Workbook(), BytesIO(), BytesIO()
    book.active.title = "orders"
    book.save(data)
    with zipfile.ZipFile(data) as old, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as new:
        for info in old.infolist():
            part = old.read(info)
            if info.filename == "xl/worksheets/sheet1.xml":
                part = part.replace(b"<sheetData/>", b"<sheetData>" + sheet + b"</sheetData>")
                part = part.replace(b"<sheetData></sheetData>", b"<sheetData>" + sheet + b"</sheetData>")
            new.writestr(info, part)
    return made.getvalue()


@pytest.mark.parametrize(
    "sheet",
    [b"<row/>" * 500_000, b"<row><c/></row>" * 400_000, b"<row>" + b"<c/>" * 3_000_000, b"<row> </row>" * 9_000_000],
    ids=["rows", "rows of a cell", "cells of a row", "unpacked size"],
)  # fmt: skip
def test_small_workbook_that_unpacks_to_a_great_many_cells(sheet: bytes, tmp_path: Path) -> None:
    data = workbook_of(sheet)
    assert len(data) < 400_000
    (tmp_path / "round.xlsx").write_bytes(data)
    assert {f.code for f in refused(tmp_path / "round.xlsx").findings} & {"input-too-large", "huge-workbook"}


@pytest.mark.parametrize("name", ["orders.csv", "m.hl7", "b.json", "orders.xlsx"])
def test_huge_file_is_not_even_opened(name: str, tmp_path: Path) -> None:
    with (tmp_path / name).open("wb") as file:
        file.truncate(MAX_FILE_BYTES + 1)  # a file of zeros that takes no room on the disk
    assert "input-too-large" in {f.code for f in refused(tmp_path).findings}


def test_list_of_too_many_lines(tmp_path: Path) -> None:
    (tmp_path / "orders.csv").write_text(f"{HEAD}\n" + f"{GOOD}\n" * 200_000, encoding="utf-8")
    assert "input-too-large" in {f.code for f in refused(tmp_path).findings}


def test_file_of_too_many_messages(tmp_path: Path) -> None:
    (tmp_path / "m.hl7").write_bytes(b"MSH|^~\\&|W\r" * 200_000)
    assert "input-too-large" in {f.code for f in refused(tmp_path).findings}


@pytest.mark.parametrize(
    "text",
    [
        "[" * 5_000_000, '{"a":' * 1_000_000, "[" * 100_000 + "]" * 100_000,
        '{"resourceType":' * 300_000, '{"resource":{' * 300_000, '"' * 5_000_000,
    ],
    ids=["lists", "objects", "closed", "types", "resources", "quotes"],
)  # fmt: skip
def test_nested_json(text: str, tmp_path: Path) -> None:
    (tmp_path / "b.json").write_text(text, encoding="utf-8")
    refused(tmp_path)


def test_damaged_bundle_is_salvaged_in_time(tmp_path: Path) -> None:
    """A file of 5 MB that breaks off: every resource that is whole is read once, not from every place on."""
    resources = ", ".join(f'{{"resource": {{"resourceType": "Basic", "id": "{i}"}}}}' for i in range(100_000))
    (tmp_path / "b.json").write_text(f'{{"resourceType": "Bundle", "entry": [{resources}, "', encoding="utf-8")
    start = time.process_time()
    load(tmp_path, DAY)
    assert time.process_time() - start < 10 * SOON_S


def test_brackets_inside_texts_are_no_nesting(tmp_path: Path) -> None:
    good = request("N1", note=[{"text": "[{" * 200 + '\\"'}])
    (tmp_path / "b.json").write_text(json.dumps(on_ward(good)), encoding="utf-8")
    assert len(load(tmp_path, DAY).problem.orders) == 1


def test_time_grows_with_the_size(load_text: Callable[..., Loaded]) -> None:
    """Eight times the rows may take sixteen times the time, not 64 times."""

    def seconds(number: int) -> float:
        rows = (f"A{i},{i // 3},Name{i // 3},Ada,1960-05-31,{i // 3},CBC,routine," for i in range(number))
        start = time.process_time()
        assert len(load_text("\n".join([HEAD, *rows]) + "\n", round_date=date(2026, 3, 10)).problem.orders) == number
        return time.process_time() - start

    assert seconds(8000) < 16 * max(seconds(1000), 0.1)
