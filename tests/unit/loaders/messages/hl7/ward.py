"""Messages of an invented ward, one field at a time: every test states only what it is about."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from planner.domain.orders import Order
from planner.domain.plan import Unplanned
from planner.loaders import Loaded, LoadOptions, load

HEADER = "MSH|^~\\&|WARDS|HILL|LAB|HILL|{sent}||{kind}|{control}|P|2.5.1"
PATIENT = "PID|1||0000417^^^HILL^MR||Moss^Ada^^^^^L||19520309|F"
VISIT = "PV1|1|I|Birch^04^A^HILL"


def segment(name: str, **fields: str) -> str:
    """Return a segment from its fields, written as f2='PL1'."""
    values = {int(key[1:]): value for key, value in fields.items()}
    return "|".join([name, *(values.get(i, "") for i in range(1, max(values, default=0) + 1))])


def order(
    number: str = "N1",
    *,
    control: str = "NW",
    test: str = "CBC^Full blood count^L",
    start: str = "20260310060000+0100",
    orc: dict[str, str] | None = None,
    obr: dict[str, str] | None = None,
    tq1: dict[str, str] | None = None,
    more: Iterable[str] = (),
) -> list[str]:
    """Return the segments of one order; the dictionaries add fields to its ORC, OBR and TQ1."""
    timing = {"f1": "1", **({"f7": start} if start else {}), **(tq1 or {})}
    return [
        segment("ORC", **{"f1": control, "f2": number, **(orc or {})}),
        *([segment("TQ1", **timing)] if len(timing) > 1 else []),
        segment("OBR", **{"f1": "1", "f2": number, "f4": test, **(obr or {})}),
        *more,
    ]


def message(
    *segments: str | list[str],
    control: str = "M1",
    kind: str = "OML^O21^OML_O21",
    sent: str = "20260309180000+0100",
    patient: str = PATIENT,
    visit: str = VISIT,
) -> str:
    """Return a message; segments are joined by CR."""
    lines = [HEADER.format(sent=sent, kind=kind, control=control), patient, visit]
    for item in segments:
        lines += [item] if isinstance(item, str) else item
    return "\r".join(line for line in lines if line) + "\r"


def read(folder: Path, *texts: str | bytes, options: LoadOptions | None = None, **files: str) -> Loaded:
    """Return what is read of a folder with these messages, one file each, and these other files."""
    for i, text in enumerate(texts, start=1):
        data = text if isinstance(text, bytes) else text.encode()
        (folder / f"m{i}.hl7").write_bytes(data)
    for name, text in files.items():
        (folder / name.replace("_toml", ".toml").replace("_csv", ".csv")).write_text(text, encoding="utf-8")
    return load(folder, options)


def planned(loaded: Loaded) -> dict[str, Order]:
    """Return the orders to plan by number."""
    return {str(o.id): o for o in loaded.problem.orders} if loaded.problem else {}


def aside(loaded: Loaded) -> dict[str, Unplanned]:
    """Return the orders set aside by number."""
    return {str(o.order_id): o for o in loaded.problem.set_aside} if loaded.problem else {}


def reasons(loaded: Loaded) -> dict[str, str]:
    """Return why orders are set aside, by number."""
    return {number: order.reason.value for number, order in aside(loaded).items()}
