"""Policy files onto the policy: every key read in its unit, and a finding for whatever cannot be."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path

import pytest

from planner.domain.orders import Precaution, Priority, TimeWindow
from planner.domain.policy import Policy
from planner.findings import Source
from planner.loaders.policy.default_text import default_policy_text
from planner.loaders.policy.fields import section_fields
from planner.loaders.policy.load import load_policy


def codes(text: str) -> list[str]:
    return [finding.code for finding in load_policy(text)[1]]


def switched_on(text: str) -> str:
    """Return the text with the leading sign taken away from every key."""
    return "\n".join(re.sub(r"^# (?=\w+ = )", "", line) for line in text.splitlines())


def test_nothing_written_is_the_default_policy() -> None:
    assert load_policy("") == (Policy(), [])


def test_the_default_text_as_written_is_the_default_policy() -> None:
    assert load_policy(default_policy_text()) == (Policy(), [])


def test_the_default_text_switched_on_is_the_default_policy_too() -> None:
    text = switched_on(default_policy_text())
    # The eleven keys without a default show an example; without them every key gives its default back.
    shown = re.compile(
        r"(quiet_hours|needed_by|day|tray_limit|phones|needlestick_phone|what_if_\w+|child_wards|adult_wards) = "
    )
    kept = [line for line in text.splitlines() if not shown.match(line)]
    assert load_policy("\n".join(kept)) == (Policy(), [])
    examples, findings = load_policy(text)
    assert findings == []
    assert examples.round.day == date(2026, 3, 10)
    assert examples.round.needed_by_s == {"Ward 1": 30_600}
    assert examples.handover.tray_limit == 40
    assert (examples.blood.child_wards, examples.blood.adult_wards) == (("Ward 2",), ("Ward 1",))
    assert examples.sheet.phones == {"ward nurse": "2140", "laboratory": "2200"}


def test_every_field_of_the_policy_has_a_key_and_a_meaning_in_the_default_text() -> None:
    text = default_policy_text()
    for section in section_fields(Policy):
        for field in section_fields(section.kind) if section.is_section else [section]:
            words = field.setting.range_words
            meaning = f"{field.setting.meaning.removesuffix('.')}; {words}." if words else field.setting.meaning
            assert any(f"# {meaning}\n# {key.key} = " in text for key in field.keys), field.name
            assert field.setting.meaning.endswith(".") and len(field.setting.meaning) < 100


@pytest.mark.parametrize("text", ["7:30", "07:30", "0730", "730", "7.30", "7h30", "7:30 am", "07:30:00"])
def test_clock_times_are_read_as_an_order_list_writes_them(text: str) -> None:
    policy, findings = load_policy(f"[round]\nbreakfast_at = '{text}'\nquiet_hours = {{ W = ['{text} - 8:00'] }}\n")
    assert findings == []
    assert policy.round.breakfast_at_s == 27_000
    assert TimeWindow(earliest_s=27_000, latest_s=28_800) in policy.round.quiet_hours["W"]


def test_spans_are_read_in_each_unit() -> None:
    policy, findings = load_policy(
        "[windows]\ntimed_tolerance_minutes = 20\nstat_target_seconds = 601\ndefault_fast_hours = 1.5\n"
    )
    assert findings == []
    # 20 min = 1200 s; 1.5 h = 5400 s.
    windows = policy.windows
    assert (windows.timed_tolerance_s, windows.stat_target_s, windows.default_fast_s) == (1200, 601, 5400)


def test_volumes_clock_times_numbers_and_texts() -> None:
    policy, findings = load_policy(
        'time_zone = "Europe/Vienna"\n[round]\nstart_at = "5:30"\nday = 2026-03-29\nphlebotomists = 3\n'
        "[tubes]\ndiscard_adult_ml = 1.5\nroutine_device = 'winged'\n"
        "[blood]\nchild_day_ml_per_kg = 2.4\nadult_flag_24h_ml = 60\nchild_30d_tbv_pct = 4\n"
        "[walking]\nspeed_m_per_s = 1\nbed_spacing_m = 3.5\n"
    )
    assert findings == []
    assert policy.time_zone == "Europe/Vienna"
    assert (policy.round.start_at_s, policy.round.day, policy.round.phlebotomists) == (19_800, date(2026, 3, 29), 3)
    assert (policy.tubes.discard_adult_ul, policy.tubes.routine_device) == (1500, "winged")
    assert (policy.blood.child_day_ul_per_kg, policy.blood.adult_flag_24h_ul) == (2400, 60_000)
    assert policy.blood.child_30d_tbv_pct == 4.0
    assert (policy.walking.speed_m_per_s, policy.walking.bed_spacing_m) == (1.0, 3.5)


def test_a_table_by_name_changes_only_the_names_in_it() -> None:
    policy, findings = load_policy("[service]\ngown_minutes = { contact = 5 }\n[weights.late]\nstat = 50\n")
    assert findings == []
    default = Policy()
    assert policy.service.gown_s == {**default.service.gown_s, Precaution.CONTACT: 300}
    assert policy.weights.late == {**default.weights.late, Priority.STAT: 50}


def test_ward_tables_and_a_value_for_every_ward() -> None:
    policy, findings = load_policy('[round.needed_by]\n"Alder" = "08:30"\n"*" = "09:00"\n')
    assert findings == []
    assert policy.round.needed_by_s == {"Alder": 30_600, "*": 32_400}
    assert load_policy('[round]\nneeded_by = "08:00"\n')[0].round.needed_by_s == {"*": 28_800}


def test_quiet_hours_recur_every_day_and_may_run_over_midnight() -> None:
    policy, findings = load_policy('[round]\nquiet_hours = { "Alder" = ["22:00-05:00"], "*" = ["13:00-14:00"] }\n')
    assert findings == []
    day_s = 86_400
    # 22:00 is 79,200 s and 05:00 of the next day 86,400 + 18,000 = 104,400 s.
    assert policy.round.quiet_hours["Alder"] == tuple(
        TimeWindow(earliest_s=79_200 + k * day_s, latest_s=104_400 + k * day_s) for k in (-1, 0, 1)
    )
    assert TimeWindow(earliest_s=46_800, latest_s=50_400) in policy.round.quiet_hours["*"]


@pytest.mark.parametrize(
    ("text", "code", "says"),
    [
        ("[windows]\nstat_target_minuts = 5\n", "policy-key-unknown", "stat_target_minutes"),
        ("[window]\n", "policy-key-unknown", "windows"),
        ("[tubes]\ntransfusion_first_choice = false\n", "policy-key-unknown", "first_choice to no"),
        ("[replan]\nmoved_stop_price_minutes = 5\n", "policy-key-unknown", "moved_stop_minutes"),
        ("[prices]\npuncture_hours = 2.5\n", "policy-value-refused", "2 hours"),
        ("[prices]\nisolation_minutes = 121\n", "policy-value-refused", "2 hours"),
        ("[prices]\narrival_pct = 101\n", "policy-value-refused", "a percentage up to 100"),
        ("[prices]\nshare = 11\n", "policy-value-refused", "at most 10"),
        ("[prices]\nshare = 1.5\n", "policy-value-refused", "whole"),
        ("[prices]\nmoved_stop = 5\n", "policy-key-unknown", "did you mean moved_stop_minutes?"),
        ("[round]\nstart = 1\n", "policy-key-unknown", "start_at"),
        ("[windows]\nstat_target_minutes = -5\n", "policy-value-refused", "from 0"),
        ("[windows]\nstat_target_minutes = nan\n", "policy-value-refused", "from 0"),
        ("[windows]\nstat_target_minutes = '5'\n", "policy-value-refused", "number"),
        ("[windows]\nstat_target_minutes = true\n", "policy-value-refused", "number"),
        ("[windows]\nstat_target_hours = 500\n", "policy-value-refused", "week"),
        ("[round]\nphlebotomists = 2.5\n", "policy-value-refused", "whole"),
        ("[round]\nphlebotomists = 0\n", "policy-value-refused", "more than 0"),
        ("[walking]\nspeed_m_per_s = 0\n", "policy-value-refused", "more than 0"),
        ("[round]\nstart_at = '24:00'\n", "policy-value-refused", "clock time"),
        ("[round]\nstart_at = 05:00:00\n", "policy-value-refused", "clock time"),
        ("[round]\nend_at = '04:00'\n", "policy-value-refused", "after it starts"),
        ("[round]\nday = '10.3.2026'\n", "policy-value-refused", "date"),
        ("[round]\nday = 2026-03-10T05:00:00\n", "policy-value-refused", "date"),
        ("[round]\nquiet_hours = { W = '22:00' }\n", "policy-value-refused", "list"),
        ("[round]\nquiet_hours = { W = ['22:00'] }\n", "policy-value-refused", "span"),
        ("[round]\nquiet_hours = { W = ['22:00-22:00'] }\n", "policy-value-refused", "ends when"),
        ("[service]\ngown_minutes = { contakt = 5 }\n", "policy-value-refused", "contact"),
        ("[service]\ngown_minutes = 5\n", "policy-value-refused", "table"),
        ("[blood]\nchild_30d_tbv_pct = 101\n", "policy-value-refused", "100"),
        ("[tubes]\nroutine_device = 'laser'\n", "policy-value-refused", "winged"),
        ("[tubes]\nroutine_device = 'lancet'\n", "policy-value-refused", "winged"),
        ("[tubes]\nweight_table_cultures = 'c'\n", "policy-value-refused", "a, b"),
        ("[blood]\nadult_flag_7d_ml = 100\n", "policy-key-unknown", "delete the line"),
        ("[round]\nphlebotomists = 41\n", "policy-value-refused", "at most 40"),
        ("time_zone = 'Middle/Earth'\n", "policy-value-refused", "time zone"),
        ("time_zone = 7\n", "policy-value-refused", "text"),
        ("blood = 5\n", "policy-value-refused", "section"),
        ("[service]\ndraw_minutes = 2\ndraw_seconds = 60\n", "policy-key-twice", "keep one"),
        ("[service\n", "policy-unreadable", "cannot be read"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_a_finding_and_keeps_the_default(text: str, code: str, says: str) -> None:
    policy, findings = load_policy(text)
    assert [finding.code for finding in findings] == [code]
    assert says in findings[0].message
    assert policy == Policy()


def test_a_finding_names_file_line_and_key_and_all_come_at_once() -> None:
    text = "time_zone = 'UTC'\n\n[windows]\nasap_target_minutes = 'soon'\n[blood]\n# comment\nfoo = 1\n"
    _, findings = load_policy(text, file="rules.toml")
    assert [finding.source for finding in findings] == [
        Source(file="rules.toml", row=4, column="windows.asap_target_minutes"),
        Source(file="rules.toml", row=7, column="blood.foo"),
    ]


def test_a_file_is_read_with_or_without_a_byte_order_mark(tmp_path: Path) -> None:
    path = tmp_path / "policy.toml"
    path.write_bytes(b"\xef\xbb\xbf[round]\nphlebotomists = 2\n")
    policy, findings = load_policy(path)
    assert (policy.round.phlebotomists, findings) == (2, [])
    path.write_bytes("[round]\nneeded_by = { 'Größe' = '08:00' }\n".encode("cp1252"))
    policy, findings = load_policy(path)
    assert [finding.code for finding in findings] == ["policy-unreadable"]
    assert policy == Policy()
    assert [finding.code for finding in load_policy(tmp_path / "absent.toml")[1]] == ["policy-unreadable"]
