"""Who is late, lost or joins during a round."""

from __future__ import annotations

from dataclasses import replace

from tests.builders import (
    clock,
    make_phlebotomist,
)
from tests.unit.replanning.told import NOW_S, STAFF, codes, given, next_revision, tell, ward_round


def test_late_counts_from_now_or_from_a_shift_to_come() -> None:
    changed = tell("late AB=20", "late Carl Dee-Dale=20", "late ab=06:40")
    # AB works: 05:42 + 20 min, then told until 06:40; CD begins at 06:00: + 20 min
    assert changed.people.ready_s == {0: clock("06:40"), 1: clock("06:20")}
    assert given(changed)[:2] == (
        "AB late by 20 minutes (not before 06:02)",
        "CD late by 20 minutes (not before 06:20)",
    )


def test_what_was_told_of_people_is_remembered() -> None:
    problem, plan = next_revision(tell("late CD=20", "lost AB"), ward_round()[1])
    later = tell("late CD=20", "lost AB", of=(problem, plan), now="06:10")
    assert later.people.ready_s == {1: clock("06:20")}
    assert later.people.lost == {0}
    assert codes(later) == ["change-known", "change-known"]
    assert "CD=HH:MM" in later.findings[1].message  # how to say another delay
    assert tell(of=(problem, plan), now="06:21").people.ready_s == {}


def test_lost_person_stays_in_the_staff() -> None:
    changed = tell("lost Dale")
    assert changed.people.lost == {1}
    assert changed.problem.staff == STAFF
    assert given(changed) == ("CD collects no more (from 05:42)",)


def test_name_of_nobody_or_of_several_is_a_finding() -> None:
    problem, plan = ward_round()
    twins = replace(problem, staff=(*STAFF, make_phlebotomist("EF", name="Ann Fox")))
    changed = tell("lost Ann", "late Zoe=5", of=(twins, plan))
    assert codes(changed) == ["person-not-found", "person-not-found"]
    assert "AB" in changed.findings[0].message and "CD" not in changed.findings[0].message


def test_joining_person_starts_at_the_base_at_the_end_of_the_staff() -> None:
    changed = tell("join Ann Bright=06:00", "join Nora West=05:00-08:00")
    assert changed.problem.staff[:2] == STAFF
    ann, nora = changed.problem.staff[2:]
    assert (ann.initials, ann.from_s, ann.until_s, ann.starts_at) == ("AB3", clock("06:00"), clock("09:00"), "BASE")
    assert (nora.initials, nora.from_s, nora.until_s) == ("NW", NOW_S, clock("08:00"))  # nobody joins before now
    again = tell("join Nora West=05:00-08:00", "join ab=06:00", of=next_revision(changed, ward_round()[1]))
    assert codes(again) == ["change-known", "person-known"]


def test_joining_for_no_time_is_a_finding() -> None:
    assert codes(tell("join NW=04:00-05:42")) == ["change-in-the-past"]


# Couriers: PICKUP at 06:00, 07:00, 08:00, 09:00
