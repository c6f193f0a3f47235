"""What a policy says by ward: names as places are compared, and sheets of keys whose wards have blanks and dots."""

from __future__ import annotations

import tomllib
from datetime import date

from planner.loaders.policy.load import load_policy
from planner.loaders.policy.sheet import policy_toml

DAY = date(2026, 3, 4)
H = 3600
ORDERS = "order_number,patient_number,ward,bed,test\nA1,1,Ward 1,4,CBC\nA2,2,East,5,TSH\n"


def unknown_wards(loaded) -> list[str]:
    return [f.message for f in loaded.findings if f.code == "policy-ward-unknown"]


def test_wards_are_compared_as_places_are(load_folder):
    policy = '[round]\nquiet_hours = { "WARD1" = ["05:00-06:00"] }\nneeded_by = { "east " = "07:00", "*" = "08:00" }\n'
    loaded = load_folder({"orders.csv": ORDERS, "policy.toml": policy}, round_date=DAY)
    told = loaded.problem.policy.round
    assert [span.earliest_s for span in told.quiet_hours["Ward 1"]] == [-19 * H, 5 * H, 29 * H]
    assert dict(told.needed_by_s) == {"East": 7 * H, "*": 8 * H}
    assert unknown_wards(loaded) == []


def test_the_exact_name_goes_before_one_that_is_alike(load_folder):
    policy = '[round]\nneeded_by = { "EAST" = "06:00", "East" = "07:00" }\n'
    loaded = load_folder({"orders.csv": ORDERS, "policy.toml": policy}, round_date=DAY)
    assert loaded.problem.policy.round.needed_by_s["East"] == 7 * H


def test_ward_that_no_patient_has(load_folder):
    policy = '[round]\nquiet_hours = { "Wrad 1" = ["05:00-06:00"] }\nneeded_by = "08:00"\n'
    loaded = load_folder({"orders.csv": ORDERS, "policy.toml": policy}, round_date=DAY)
    assert ["'Wrad 1'" in message for message in unknown_wards(loaded)] == [True]


def test_policy_sheet_with_blanks_dates_and_lists(load_book):
    policy = [
        ["key", "value"],
        ["round.quiet_hours.Ward 1", "05:00-06:00; 22:00-23:00"],
        ["round.needed_by.East", "07:30"],
        ["round.day", date(2026, 3, 10)],
        ["round.phlebotomists", 2],
    ]
    rows = [line.split(",") for line in ORDERS.splitlines()]
    loaded = load_book({"Orders": rows, "Policy": policy})
    told = loaded.problem.policy.round
    assert len(told.quiet_hours["Ward 1"]) == 6  # two spans on three days
    assert told.needed_by_s["East"] == 7 * H + 1800
    assert loaded.problem.clock.day == date(2026, 3, 10)
    assert not {"policy-unreadable", "policy-value-refused", "policy-key-unknown"} & {f.code for f in loaded.findings}


def test_keys_and_values_of_a_sheet_as_toml():
    text = policy_toml(
        [
            ("time_zone", "Europe/Vienna"),
            ("round.needed_by.St. Anna", "07:00:00"),
            ("round.needed_by.4", "0830"),
            ("round.phlebotomists", "02"),
            ("tubes.routine_device", "No"),
            ("round.day", "2026-03-10 00:00:00"),
            ("walking.speed_m_per_s", "nan"),
            ("sheet.phones.ward nurse", "0412"),
        ]
    )
    assert tomllib.loads(text) == {
        "time_zone": "Europe/Vienna",
        "round": {"needed_by": {"St. Anna": "07:00:00", "4": "0830"}, "phlebotomists": 2, "day": date(2026, 3, 10)},
        "tubes": {"routine_device": False},
        "walking": {"speed_m_per_s": "nan"},
        "sheet": {"phones": {"ward nurse": "0412"}},  # a telephone number is no number
    }


def test_clock_times_of_a_sheet_are_read_as_they_are_written():
    """A spreadsheet shows 07:00 as 07:00:00; people write 0830 and 8.30, which are numbers to TOML."""
    pairs = [("round.needed_by.St. Anna", "07:00:00"), ("round.needed_by.4", "0830"), ("round.breakfast_at", "8.30")]
    policy, findings = load_policy(policy_toml([*pairs, ("round.start_at", "430")]))
    assert findings == []
    assert policy.round.needed_by_s == {"St. Anna": 7 * H, "4": 8.5 * H}
    assert (policy.round.breakfast_at_s, policy.round.start_at_s) == (8.5 * H, 4.5 * H)
