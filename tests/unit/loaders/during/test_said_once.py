"""A fault that every row of a file has is one finding; five wards with equal bed numbers."""

from __future__ import annotations

from pathlib import Path

from tests.replan_builders import five_wards
from tests.unit.loaders.during.test_progress import codes
from tests.unit.loaders.during.test_tubes_told import read


def test_file_of_an_unknown_format_is_one_finding(tmp_path: Path) -> None:
    of = five_wards()
    rows = [f"3,1,tube,1A,{number},O{number[1:]},1,collected,,,,,," for number in of[0].patients]
    reports, findings = read(tmp_path, *rows, of=of)
    assert (reports, codes(findings)) == ((), ["progress-format"])
    assert findings[-1].source is not None and findings[-1].source.row == 2


def test_bed_that_differs_is_said_once_for_a_visit_and_each_bed_that_is_written(tmp_path: Path) -> None:
    """Two tubes each of two patients, under a bed that the plan has not; then one more bed for the second."""
    of = five_wards()
    first, second, *_ = of[0].patients
    rows = [
        f"2,1,tube,{bed},{number},O{number[1:]},{tube},collected,,05:12:00,,,,"
        for number, bed, tube in (
            (first, "9Z", 1), (first, "9z", 2), (second, "9Z", 1), (second, "9Z", 2), (second, "8Y", 2)
        )
    ]  # fmt: skip
    reports, findings = read(tmp_path, *rows, of=of)
    assert [r.order_ids for r in reports] == [(f"O{first[1:]}",), (f"O{second[1:]}",)]
    assert codes(findings) == ["bed-differs"] * 3
    assert [f.order_ids for f in findings if f.code == "bed-differs"] == [
        (f"O{n[1:]}",) for n in (first, second, second)
    ]
