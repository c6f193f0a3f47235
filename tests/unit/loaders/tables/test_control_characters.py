"""Control characters inside codes, numbers and times: such a row is nobody's guess, it is set aside."""

from __future__ import annotations

from datetime import date

import pytest

from planner.loaders import LoadOptions, load
from tests.unit.loaders.messages.hl7.ward import message, order, read, reasons

CELLS = {
    "order_number": "A1", "patient_number": "0000417", "family_name": "Moss", "birth_date": "1952-03-09",
    "ward": "Elm", "bed": "3A", "test": "CBC", "priority": "stat", "status": "active", "collect_at": "06:30",
    "note": "x",
}  # fmt: skip
OTHER = {**CELLS, "order_number": "A2", "patient_number": "0000418", "ward": "Fir", "test": "TSH"}


def loaded(folder, **cells):
    text = "\n".join(",".join(row[name] for name in CELLS) for row in ({**CELLS, **cells}, OTHER))
    (folder / "orders.csv").write_text(f"{','.join(CELLS)}\n{text}\n", encoding="utf-8")
    return load(folder, LoadOptions(round_date=date(2026, 3, 10)))


@pytest.mark.parametrize("character", ["\x07", "\x1b", "\x7f", "\x85"])
@pytest.mark.parametrize(
    "name", ["order_number", "patient_number", "ward", "bed", "test", "priority", "status", "collect_at"]
)
def test_a_code_with_a_control_character_is_set_aside(tmp_path, name, character):
    # ISO 6429, C0 and C1 control functions
    result = loaded(tmp_path, **{name: CELLS[name][:1] + character + CELLS[name][1:]})
    assert [str(o.test) for o in result.problem.orders] == ["TSH"]
    assert len(result.problem.set_aside) == 1
    assert "control-character" in {f.code for f in result.findings}


@pytest.mark.parametrize("name", ["note", "family_name"])
def test_words_for_people_may_hold_one(tmp_path, name):
    result = loaded(tmp_path, **{name: "a\x07b"})
    assert len(result.problem.orders) == 2


def test_a_code_of_a_message_too(tmp_path):
    result = read(tmp_path, message(order("N1", test="CR\x07EA^Creatinine^L"), order("N2")))
    assert reasons(result) == {"N1": "unreadable"}
