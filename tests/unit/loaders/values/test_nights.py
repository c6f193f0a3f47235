"""Rounds over midnight and on nights in which the clocks change: each time on its day, in elapsed seconds."""

from __future__ import annotations

from datetime import date, time

import pytest

from planner.domain.orders import TimeWindow

DAY = date(2026, 3, 4)
SPRING, AUTUMN = date(2026, 3, 29), date(2026, 10, 25)
H = 3600
HEAD = "order_number,patient_number,ward,bed,test,collect_at,away,next_meal_at\n"
NIGHT = "name,initials,from,until,break\nKim Sato,KS,22:00,06:00,{}\n"


def night(load_folder, at="", away="", meal="", pause="", **options):
    files = {"orders.csv": f"{HEAD}A1,1,East,4,CBC,{at},{away},{meal}\n", "staff.csv": NIGHT.format(pause)}
    if "policy" in options:
        files["policy.toml"] = options.pop("policy")
    return load_folder(files, **{"round_date": DAY} | options)


@pytest.mark.parametrize(
    ("text", "expected_h"),
    [
        ("01:00-03:00", (25, 27)),  # after midnight: the second day
        ("23:00-01:00", (23, 25)),  # runs over midnight itself
        ("20:00-23:00", (20, 23)),
        ("06:00-23:00", (6, 23)),  # ends within the round: the first day
        ("08:00-11:00", (32, 35)),  # over before the round begins: the day after
    ],
)
def test_away_in_a_round_over_midnight(load_folder, text, expected_h):
    patient = next(iter(night(load_folder, away=text).problem.patients.values()))
    assert patient.away == (TimeWindow(earliest_s=expected_h[0] * H, latest_s=expected_h[1] * H),)


@pytest.mark.parametrize(("text", "expected_h"), [("02:00", 26), ("23:00", 23), ("21:30", 21.5), ("06:00", 30)])
def test_collect_time_in_a_round_over_midnight(load_folder, text, expected_h):
    # 21:30 lies half an hour before the round: it is that evening's, not the next
    assert night(load_folder, at=text).problem.orders[0].collect_at_s == expected_h * H


def test_next_meal_after_a_night_is_the_next_days(load_folder):
    patient = next(iter(night(load_folder, meal="12:00").problem.patients.values()))
    assert patient.next_meal_s == 36 * H


def test_break_after_midnight_is_within_the_shift(load_folder):
    loaded = night(load_folder, pause="01:00-02:00 30 min")
    assert loaded.problem.staff[0].break_window == TimeWindow(earliest_s=25 * H, latest_s=26 * H)
    assert loaded.problem.staff[0].break_s == 1800


@pytest.mark.parametrize("pause", ["07:00-08:00", "05:30-06:30", "20:00-21:00"])
def test_break_outside_the_shift_is_said_and_not_planned(load_folder, pause):
    loaded = night(load_folder, pause=pause)
    found = [f for f in loaded.findings if f.code == "break-outside-shift"]
    assert [pause in f.message for f in found] == [True]
    assert (loaded.problem.staff[0].break_window, loaded.problem.staff[0].break_s) == (None, 0)


def test_courier_all_night(load_folder):
    files = {
        "orders.csv": HEAD + "A1,1,East,4,CBC,,,\n",
        "staff.csv": NIGHT.format(""),
        "pickups.csv": "place,kind,departs,transit_minutes\nPost,courier,every 120 min from 23:00 to 05:00,10\n",
    }
    # 23:00, then 01:00, 03:00 and 05:00 of the next day
    departures = load_folder(files, round_date=DAY).problem.pickups[0].departures_s
    assert departures == (23 * H, 25 * H, 27 * H, 29 * H)


def test_start_after_midnight_is_the_second_half_of_the_shift(load_folder):
    loaded = night(load_folder, start=time(1))
    assert loaded.problem.staff[0].from_s == 25 * H
    assert "option-not-used" not in {f.code for f in loaded.findings}


def test_breakfast_and_needed_by_after_a_night_are_the_next_days(load_folder):
    loaded = night(load_folder, policy='[round]\nbreakfast_at = "08:00"\nneeded_by = { "East" = "07:00" }\n')
    told = loaded.problem.policy.round
    assert (told.breakfast_at_s, dict(told.needed_by_s)) == (32 * H, {"East": 31 * H})


BERLIN = (
    'time_zone = "Europe/Berlin"\n[round]\nstart_at = "05:00"\nend_at = "09:00"\nbreakfast_at = "08:00"\n'
    'quiet_hours = { "East" = ["22:00-05:30"] }\nneeded_by = { "*" = "08:30" }\n'
)


@pytest.mark.parametrize(("day", "shift_h"), [(SPRING, -1), (AUTUMN, 1), (DAY, 0)])
def test_policy_times_on_the_days_the_clocks_change(load_folder, day, shift_h):
    # 29 March: 02:00 becomes 03:00, so 05:00 is 4 h after midnight; 25 October: 03:00 becomes 02:00, so it is 6 h
    files = {"orders.csv": HEAD + "A1,1,East,4,CBC,,,\n", "policy.toml": BERLIN}
    problem = load_folder(files, round_date=day).problem
    told = problem.policy.round
    assert (problem.start_s, problem.end_s) == ((5 + shift_h) * H, (9 + shift_h) * H)
    assert (told.breakfast_at_s, told.needed_by_s["*"]) == ((8 + shift_h) * H, (8 + shift_h) * H + 1800)
    # of the day before: 22:00 is 2 h before midnight; 05:30 is after the change
    assert TimeWindow(earliest_s=-2 * H, latest_s=(5 + shift_h) * H + 1800) in told.quiet_hours["East"]


@pytest.mark.parametrize(("day", "shift_h"), [(SPRING, -1), (AUTUMN, 1)])
def test_start_asked_for_on_the_days_the_clocks_change(load_folder, day, shift_h):
    files = {"orders.csv": HEAD + "A1,1,East,4,CBC,,,\n", "policy.toml": BERLIN}
    problem = load_folder(files, round_date=day, start=time(6)).problem
    assert problem.clock.format_clock(problem.start_s) == "06:00"
    assert problem.start_s == (6 + shift_h) * H


@pytest.mark.parametrize("day", [date(2026, 3, 28), date(2026, 10, 24)])
def test_shift_into_the_day_the_clocks_change_ends_by_the_clock(load_folder, day):
    loaded = night(load_folder, round_date=day, policy='time_zone = "Europe/Berlin"\n')
    end_s = loaded.problem.staff[0].until_s
    assert loaded.problem.clock.to_local(end_s).strftime("%d %H:%M") == f"{day.day + 1} 06:00"
