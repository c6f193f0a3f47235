"""The untidy round of three wards is what tests of beds need: equal bed numbers, equal names, nothing set aside."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from tests.three_wards import BEDS, WARDS, load_tables, patient_in, plan_quickly, three_ward_tables

pytestmark = pytest.mark.slow


def test_every_ward_has_the_same_beds(tmp_path: Path) -> None:
    problem = load_tables(three_ward_tables(), tmp_path / "round")
    beds = Counter(p.label for p in problem.places.values() if p.ward in WARDS and p.label in BEDS)
    assert beds == dict.fromkeys(BEDS, len(WARDS))
    assert not problem.set_aside
    first, second = (patient_in(problem, ward, "1A") for ward in WARDS[:2])
    assert (first.family_name, first.given_name) == (second.family_name, second.given_name)
    assert first.id != second.id
    assert len({person.name for person in problem.staff}) < len(problem.staff)


def test_all_of_it_can_be_planned(tmp_path: Path) -> None:
    planned = plan_quickly(load_tables(three_ward_tables(), tmp_path / "round"))
    assert not planned.plan.unplanned
    assert all(route.visits for route in planned.plan.routes), "each of the three has a bed, the two of one name too"
