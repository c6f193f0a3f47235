"""What is malformed becomes a finding: cases that once ended in a traceback, one for each kind of value."""

from __future__ import annotations

import json
import os
import threading
import zipfile
from collections.abc import Callable
from datetime import date
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook

from planner.errors import PlanFileError
from planner.exporters.plan_json import plan_from_json
from planner.findings import unread
from planner.loaders import Loaded, LoadOptions, load
from tests.unit.loaders.conftest import GOOD, HEAD
from tests.unit.loaders.messages.fhir.ward import WARD, bundle, on_ward, request
from tests.unit.loaders.messages.hl7.ward import message, order

DAY = LoadOptions(round_date=date(2026, 3, 10))
ORDERS = f"{HEAD}\n{GOOD}\n"
HUGE = "9" * 5000


def accounted(loaded: Loaded) -> int:
    """Return the number of orders, each planned or set aside, of a round of which nothing is lost."""
    if loaded.problem is None:
        assert unread(loaded.findings)
        return 0
    count = len(loaded.problem.orders) + len(loaded.problem.set_aside)
    assert count == loaded.num_orders_read
    return count


def broken_workbook(where: str) -> bytes:
    """Return a workbook of which the compressed bytes of one part are damaged."""
    book, data = Workbook(), BytesIO()
    book.active.title = "orders"
    for row in ORDERS.splitlines():
        book.active.append(row.split(","))
    book.save(data)
    with zipfile.ZipFile(BytesIO(data.getvalue())) as archive:
        info = archive.getinfo(where)
    raw = bytearray(data.getvalue())
    start = info.header_offset + 30 + len(info.filename)
    for i in range(start, start + info.compress_size):
        raw[i] ^= 0x5A
    return bytes(raw)


@pytest.mark.parametrize("where", ["xl/workbook.xml", "xl/worksheets/sheet1.xml", "[Content_Types].xml"])
def test_broken_deflate_stream(where: str, tmp_path: Path) -> None:
    (tmp_path / "round.xlsx").write_bytes(broken_workbook(where))
    loaded = load(tmp_path / "round.xlsx", DAY)
    assert loaded.problem is None
    assert "damaged-workbook" in {f.code for f in unread(loaded.findings)}


@pytest.mark.parametrize("number", [float("inf"), float("-inf"), float("nan"), 1e308, 10**300])
def test_numbers_beyond_measure_in_a_workbook(number: float, tmp_path: Path) -> None:
    book = Workbook()
    book.active.title = "orders"
    for row in ORDERS.splitlines():
        book.active.append([*row.split(","), "weight_kg" if row.startswith("order") else number])
    book.save(tmp_path / "round.xlsx")
    accounted(load(tmp_path / "round.xlsx", DAY))


@pytest.mark.parametrize("name", HEAD.split(","))
@pytest.mark.parametrize(
    "value",
    [HUGE, "-" + HUGE, "inf", "nan", "1e999", "9999-12-31", "0001-01-01", "9999-12-31 24:00", "31.12.9999", "٣", "²"],
)
def test_odd_values_in_every_column(name: str, value: str, load_text: Callable[..., Loaded]) -> None:
    cells = dict(zip(HEAD.split(","), GOOD.split(","), strict=True), **{name: value})
    loaded = load_text(f"{HEAD}\n{','.join(cells.values())}\nA2,2,B,C,1960-01-01,5,CBC,routine,\n")
    assert accounted(loaded) == 2


@pytest.mark.parametrize("offset", ["-1300", "-1400", "+1400", "+1430", "-2359", "+0001"])
def test_odd_offsets_of_a_message(offset: str, tmp_path: Path) -> None:
    text = message(order("N1", start=f"20260310060000{offset}"), sent=f"20260310040000{offset}")
    (tmp_path / "m.hl7").write_text(text)
    assert accounted(load(tmp_path, DAY)) == 1
    resource = request("N1", occurrenceDateTime=f"2026-03-10T06:00:00{offset[:3]}:{offset[3:]}")
    (tmp_path / "m.hl7").unlink()
    (tmp_path / "m.json").write_text(json.dumps(on_ward(resource)))
    assert accounted(load(tmp_path, DAY)) == 1


@pytest.mark.parametrize(
    "time", ["99991231235959+0000", "99991231240000", "00010101000000-1400", "20260310240000+1400"]
)
def test_years_at_the_end_of_time_in_a_message(time: str, tmp_path: Path) -> None:
    (tmp_path / "m.hl7").write_text(message(order("N1", start=time), sent=time))
    assert accounted(load(tmp_path)) == 1


@pytest.mark.parametrize(
    "repeat",
    [
        {"period": 0.1, "periodUnit": "s"},
        {"period": 0, "periodUnit": "d"},
        {"period": 1e-9, "periodUnit": "h"},
        {"period": 1e400, "periodUnit": "h"},
        {"period": 1, "periodUnit": "s", "boundsPeriod": {"start": "2026-03-10T05:00:00Z"}},
        {"count": int(HUGE[:4000]), "period": 1, "periodUnit": "h"},
        {"boundsDuration": {"value": 1e300, "unit": "d"}, "boundsPeriod": {"start": "9999-12-31"}},
        {"boundsDuration": {"value": 366, "unit": "d"}, "boundsPeriod": {"start": "9999-12-31T00:00:00Z"}},
    ],
)
def test_odd_repeats_of_a_request(repeat: dict[str, Any], tmp_path: Path) -> None:
    (tmp_path / "m.json").write_text(json.dumps(on_ward(request("N1", occurrenceTiming={"repeat": repeat}))))
    accounted(load(tmp_path, DAY))


@pytest.mark.parametrize("url", ["urn:x/Patient/p1", "http://h/Location/b", "http://h/ServiceRequest/id-N2"])
def test_full_url_over_another_resource(url: str, tmp_path: Path) -> None:
    found = bundle(*WARD, request("N1"), request("N2"))
    for entry in found["entry"]:
        entry["fullUrl"] = url
    (tmp_path / "m.json").write_text(json.dumps(found))
    assert accounted(load(tmp_path, DAY)) == 2


@pytest.mark.parametrize("number", ["Infinity", "-Infinity", "NaN", "1e999", HUGE])
def test_numbers_beyond_measure_in_a_resource(number: str, tmp_path: Path) -> None:
    text = json.dumps(on_ward(request("N1", quantityQuantity={"value": 12345})))
    (tmp_path / "m.json").write_text(text.replace("12345", number))
    accounted(load(tmp_path, DAY))


def test_plan_file_with_a_number_of_many_digits() -> None:
    with pytest.raises(PlanFileError):
        plan_from_json(f'{{"schema": {HUGE}}}'.encode())


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_round_that_is_neither_file_nor_folder(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "orders.csv")
    for path in (Path(os.devnull), tmp_path / "orders.csv", tmp_path):
        found: list[Loaded] = []
        reader = threading.Thread(target=lambda p=path, into=found: into.append(load(p, DAY)), daemon=True)
        reader.start()
        reader.join(5)
        assert found, f"{path}: it waits for ever"
        assert found[0].problem is None
        assert unread(found[0].findings)


@pytest.mark.skipif(os.name != "posix", reason="only here may a name be no text")
def test_names_that_are_no_text(tmp_path: Path) -> None:
    folder = Path(os.fsdecode(os.fsencode(tmp_path) + b"/r\xff"))
    folder.mkdir()
    for name, text in ((b"orders\xfe.csv", ORDERS), (b"note\xfd.doc", "x"), (b"more\xfc.hl7", message(order("N1")))):
        Path(os.fsdecode(os.fsencode(folder) + b"/" + name)).write_text(text)
    loaded = load(folder, DAY)
    assert accounted(loaded) == 2
    for text in (loaded.problem.round_name, *loaded.sources, *map(str, loaded.findings)):
        text.encode()


def test_folder_that_may_not_be_listed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(path: Path) -> Any:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "iterdir", refused)
    loaded = load(tmp_path, DAY)
    assert loaded.problem is None
    assert unread(loaded.findings)
