"""Defaults that stand in are said with their numbers, and only where something goes by them."""

from __future__ import annotations

from datetime import date

from planner.loaders.frame.assumed import minutes, policy_states

DAY = date(2026, 3, 4)
HEAD = "order_number,patient_number,family_name,given_name,birth_date,bed,test,priority,fasting,collect_at"
NAME = "Okafor,Ada,1960-05-31"


def assumed(load_folder, row: str, policy: str = "") -> str:
    files = {"orders.csv": f"{HEAD}\n{row}\n"} | ({"policy.toml": policy} if policy else {})
    return " ".join(load_folder(files, round_date=DAY).problem.assumptions)


def test_numbers_of_the_assumed_map_are_said(load_folder):
    text = assumed(load_folder, f"A1,1,{NAME},4,CBC,,,")
    assert "4 m from bed to bed, 40 m from ward to ward, 5 minutes on foot from the base to the laboratory" in text
    changed = assumed(
        load_folder, f"A1,1,{NAME},4,CBC,,,", "[walking]\nbed_spacing_m = 6.5\nlaboratory_walk_minutes = 1\n"
    )
    assert "6.5 m from bed to bed, 40 m from ward to ward, 1 minute on foot" in changed


def test_stat_target_is_said_where_an_order_goes_by_it(load_folder):
    words = "more than 15 minutes after the order or the start of the round"
    assert words in assumed(load_folder, f"A1,1,{NAME},4,CBC,stat,,")
    assert words not in assumed(load_folder, f"A1,1,{NAME},4,CBC,,,")
    assert words not in assumed(load_folder, f"A1,1,{NAME},4,CBC,stat,,06:00")
    assert words not in assumed(load_folder, f"A1,1,{NAME},4,CBC,stat,,", "[windows]\nstat_target_minutes = 15\n")


def test_breakfast_is_said_where_an_order_goes_by_it(load_folder):
    words = "Breakfast is at 08:00"
    assert words in assumed(load_folder, f"A1,1,{NAME},4,CBC,,yes,")
    assert words in assumed(load_folder, f"A1,1,{NAME},4,FGLU,,,")
    assert words not in assumed(load_folder, f"A1,1,{NAME},4,CBC,,,")
    assert words not in assumed(load_folder, f"A1,1,{NAME},4,CBC,,yes,", '[round]\nbreakfast_at = "08:00"\n')


def test_key_that_is_switched_off_is_not_set():
    assert not policy_states("[windows]\n# stat_target_minutes = 15\n", "stat_target")
    assert policy_states("windows.stat_target_minutes = 15", "stat_target")
    assert not policy_states(None, "stat_target")


def test_minutes():
    assert [minutes(s) for s in (60, 300, 450)] == ["1 minute", "5 minutes", "7.5 minutes"]


def test_five_wards_without_a_map_lie_apart_with_their_beds_in_order(load_folder):
    wards = ("Wren/2", "Heron", "Kite (South)", "Rail East", "Teal")
    head = "order_number,patient_number,birth_date,ward,bed,test"
    rows = [
        f"A{10 * w + b},P{10 * w + b},1950-01-0{b + 1},{ward},{bed},CBC"
        for w, ward in enumerate(wards)
        for b, bed in enumerate(("10A", "2A", "3A"))
    ]
    problem = load_folder({"orders.csv": "\n".join([head, *rows])}, round_date=DAY).problem
    assert any("ward by ward" in sentence and "40 m from ward to ward" in sentence for sentence in problem.assumptions)
    walk = problem.walking.between
    for ward in wards:
        # 4 m at 1.2 m/s are 3.33 s, rounded up; 2A before 3A before 10A
        assert [walk(f"{ward}/2A", f"{ward}/{bed}") for bed in ("3A", "10A")] == [4, 7]
        apart = [
            walk(f"{ward}/{bed}", f"{other}/2A") for other in wards if other != ward for bed in ("2A", "3A", "10A")
        ]
        assert min(apart) >= 37, "44 m from the last bed of a ward to the first of the next"
