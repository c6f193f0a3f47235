"""Ways to damage lists, workbooks and plans; those for messages are in tests/property/message_cases.py."""

from __future__ import annotations

import copy
import io
import zipfile
from random import Random
from typing import Any

from tests.property.message_cases import damage

ODD_CELLS = (
    "", " ", "0", "-1", "1E5", "9" * 400, "inf", "nan", "2026", "24:00", "9999-12-31", "31.02.2026", "NA", "None",
    "=1+1", '"', "\x00",
    "\x1b[2J", "\u202e", "٣", "🩸", "A" * 5000, ";", ",", "\t",
    "no", "stat", "ORC|CA|ZQ001", "a\nb", "'", "null", "#N/A",
)  # fmt: skip
ODD_VALUES: tuple[Any, ...] = (
    None, True, False, 0, -1, 10**30, 1.5, -0.0, "", "x", "9" * 300, [], {}, [[]], {"a": 1},
    "2026-03-10T25:00:00+00:00",
)  # fmt: skip


def damaged_list(data: bytes, rng: Random, delimiter: str = ",") -> bytes:
    """Return a list with something lost, doubled, moved or odd in it."""
    if rng.random() < 0.3:
        return damage(data, rng)
    rows = [line.split(delimiter) for line in data.decode().splitlines()]
    for _ in range(rng.randint(1, 3)):
        rng.choice(_LIST_WAYS)(rows, rng)
        rows = [row for row in rows if row] or [[""]]
    other = rng.choice((delimiter, delimiter, delimiter, ";", "\t", "|"))
    text = rng.choice(("\n", "\n", "\r\n", "\r")).join(other.join(row) for row in rows) + "\n"
    made = text.encode(rng.choice(("utf-8", "utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252")), "replace")
    if rng.random() < 0.15 and len(made) > 2:
        at = rng.randrange(len(made))
        made = made[:at] + made[at + 1 :]
    return made


def _lose_cell(rows: list[list[str]], rng: Random) -> None:
    row = rng.choice(rows)
    del row[rng.randrange(len(row))]


def _odd_cell(rows: list[list[str]], rng: Random) -> None:
    row = rng.choice(rows)
    row[rng.randrange(len(row))] = rng.choice(ODD_CELLS)


def _more_cells(rows: list[list[str]], rng: Random) -> None:
    row = rng.choice(rows)
    row.insert(rng.randrange(len(row) + 1), rng.choice(ODD_CELLS))


def _move_row(rows: list[list[str]], rng: Random) -> None:
    row = rows.pop(rng.randrange(len(rows)))
    rows.insert(rng.randrange(len(rows) + 1), row)


def _sort(rows: list[list[str]], rng: Random) -> None:
    rows.sort(key=lambda row: row[min(len(row) - 1, rng.randrange(3))], reverse=rng.random() < 0.5)


def _double_row(rows: list[list[str]], rng: Random) -> None:
    rows.insert(rng.randrange(len(rows) + 1), list(rng.choice(rows)))


def _blank_rows(rows: list[list[str]], rng: Random) -> None:
    at = rng.randrange(len(rows) + 1)
    rows[at:at] = [[""] for _ in range(rng.choice((1, 3, 40)))]


def _title(rows: list[list[str]], rng: Random) -> None:
    rows.insert(0, [rng.choice(("Night list", "Ward:", "Printed 04:10")), *([""] * rng.randint(0, 5))])


def _stray_quote(rows: list[list[str]], rng: Random) -> None:
    row = rng.choice(rows)
    at = rng.randrange(len(row))
    row[at] = rng.choice(('"' + row[at], row[at] + '"', '"' + row[at] + '"'))


_LIST_WAYS = (
    _lose_cell, _lose_cell, _odd_cell, _odd_cell, _odd_cell, _more_cells, _move_row, _sort, _double_row, _blank_rows,
    _title, _stray_quote,
)  # fmt: skip


def damaged_workbook(data: bytes, rng: Random) -> bytes:
    """Return a workbook with damaged bytes, or with one part damaged inside a sound archive."""
    if rng.random() < 0.4:
        return damage(data, rng)
    made = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as new:
        names = old.namelist()
        victim = rng.choice([n for n in names if "sheet" in n or "shared" in n or "workbook" in n] or names)
        for name in names:
            part = old.read(name)
            if name == victim:
                if rng.random() < 0.15:
                    continue
                part = damage(part, rng)
            new.writestr(name, part)
    return made.getvalue()


def changed_document(document: Any, rng: Random) -> Any:
    """Change one value somewhere inside a JSON document, in place; return it."""
    holders: list[Any] = []
    waiting = [document]
    while waiting:
        item = waiting.pop()
        inner = item.values() if isinstance(item, dict) else item if isinstance(item, list) else ()
        if inner:
            holders.append(item)
        waiting += [value for value in inner if isinstance(value, dict | list)]
    for _ in range(rng.randint(1, 2)):
        holder = rng.choice(holders)
        key = rng.choice(list(holder) if isinstance(holder, dict) else range(len(holder))) if holder else None
        if key is None:
            continue
        way = rng.random()
        if way < 0.2:
            del holder[key]
        elif way < 0.35 and isinstance(holder, list):
            holder.append(holder[key])
        elif way < 0.5:
            other = rng.choice(holders)
            keys = list(other) if isinstance(other, dict) else list(range(len(other)))
            if keys:
                holder[key] = copy.deepcopy(other[rng.choice(keys)])
        else:
            holder[key] = rng.choice(ODD_VALUES)
    return document
