"""Birth dates of which only a part is known: nothing is made up, and the youngest age that they allow is used."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from planner.checker.ages import is_under, may_be_born_after
from planner.domain.methods import is_neonate
from planner.domain.orders import Patient
from planner.domain.patients.ages import is_child, is_limited
from planner.domain.patients.births import PartialDate, agree, earliest_birth, latest_birth, more_exact
from planner.domain.policy import BloodPolicy
from planner.exporters.plan_json.codec import decode, encode
from planner.units import RoundClock
from tests.builders import make_patient, make_problem


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("2026", date(2026, 1, 1), date(2026, 12, 31)),
        ("2024-02", date(2024, 2, 1), date(2024, 2, 29)),
        ("2025-12", date(2025, 12, 1), date(2025, 12, 31)),
    ],
)
def test_a_part_allows_a_span_of_days(text: str, first: date, last: date) -> None:
    born = PartialDate.fromisoformat(text)
    assert (earliest_birth(born), latest_birth(born), born.isoformat()) == (first, last, text)


@pytest.mark.parametrize("text", ["26", "2026-13", "2026-00", "2026-2", "0000", "2026-02-01", ""])
def test_what_is_no_month_or_year_is_refused(text: str) -> None:
    with pytest.raises(ValueError):
        PartialDate.fromisoformat(text)


def test_dates_agree_where_one_day_is_allowed_by_both() -> None:
    year, month, day = PartialDate(2026), PartialDate(2026, 2), date(2026, 2, 9)
    assert agree(year, month) and agree(month, day) and agree(day, day)
    assert not agree(month, date(2026, 3, 1)) and not agree(PartialDate(2025), month)
    assert more_exact(year, day) == day and more_exact(month, year) == month


@pytest.mark.parametrize("born", [date(1960, 2, 29), PartialDate(2026), PartialDate(2026, 2), None])
def test_birth_dates_survive_being_written_and_read(born: object) -> None:
    patient = make_patient(birth_date=born)
    written = encode(patient)
    assert written.get("birth_date") == (born.isoformat() if born else None)
    assert decode(Patient, written) == patient


# By hand: whoever was born in 2012 may have been born on 31 December, and turned 13 on 31 December 2025.
@pytest.mark.parametrize(
    ("born", "age"),
    [
        (PartialDate(2012), 13),
        (PartialDate(2012, 3), 13),  # born 31 March at the latest; the round is on 10 March
        (PartialDate(2012, 2), 14),
        (PartialDate(2026), 0),  # today at the latest
        (PartialDate(2026, 3), 0),
        (date(2012, 3, 10), 14),
        (date(2012, 3, 11), 13),
    ],
)
def test_a_part_means_the_youngest_age_that_it_allows(born: object, age: int) -> None:
    assert make_patient(birth_date=born).age_years(date(2026, 3, 10)) == age


def test_planner_and_checker_agree_on_every_age() -> None:
    """Two ways to reckon, for each day around each birthday that matters and each part of a date."""
    policy = BloodPolicy()
    for today in (date(2026, 3, 10), date(2026, 2, 28), date(2028, 2, 29), date(2026, 12, 31), date(2026, 1, 1)):
        problem = make_problem(clock=RoundClock(today))
        births: list[object] = []
        for years in (0, 14, 18):
            anniversary = date(today.year - years, today.month, min(today.day, 28))
            births += [anniversary + timedelta(days=n) for n in range(-40, 40) if years or n <= 0]
            births += [PartialDate(anniversary.year + n) for n in (-1, 0, 1) if years or n < 1]
            births += [PartialDate(anniversary.year - (n < 0), m) for n in (-1, 0) for m in range(1, 13)]
        for born in births:
            patient = make_patient(birth_date=born)
            assert is_child(problem, patient) == is_under(policy, patient, 14, today), (born, today)
            assert is_limited(problem, patient) == is_under(policy, patient, 18, today), (born, today)
            assert is_neonate(patient, today) == may_be_born_after(patient, today - timedelta(days=28)), (born, today)
