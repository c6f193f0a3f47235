"""The short summary of a replan: at most 25 lines, what must be acted upon first, what is cut is counted."""

from __future__ import annotations

import pytest

from planner.exporters.terminal.replan_short import MOST_LINES, Section, short_lines
from planner.exporters.terminal.room import Form, Growth, cut, fitted
from planner.exporters.terminal.spoken import Spoken
from tests.unit.exporters.replanned import make_replanned

PROBLEM, PLAN, WINDOWS = make_replanned()


def sections(number: int) -> list[Section]:
    fault = "bed '44' is not in this round. Similar: Elm 4. Ask which bed was meant. " * 3
    return [
        Section("Not applied", (fault,) * number, is_needed=True),
        Section("See to it now", (fault,) * number, is_needed=True),
        Section("Worth knowing", (fault,) * number),
    ]


@pytest.mark.parametrize("width", [40, 80, 120])
@pytest.mark.parametrize("number", [0, 1, 20])
def test_summary_fits_a_screen_whatever_happened(width: int, number: int) -> None:
    lines = short_lines(PROBLEM, PLAN, WINDOWS, sections(number), width)
    assert len(lines) <= MOST_LINES
    assert max(map(len, lines)) <= width


def test_summary_says_what_was_reported_who_is_told_what_and_what_was_cut() -> None:
    lines = short_lines(PROBLEM, PLAN, WINDOWS, sections(0), 80)
    text = " ".join(" ".join(lines).split())
    assert "stat BMP at bed 108" in text
    assert "Stops 1 new, 2 moved, 1 dropped" in text
    assert "Amina" in text.partition("Tell")[2]
    assert "(and on the note: " in text
    short = " ".join(" ".join(short_lines(PROBLEM, PLAN, WINDOWS, (), 80, most=18)).split())
    assert "leave out 107B; go to 114; other time or tests at 107A" in short
    many = short_lines(PROBLEM, PLAN, WINDOWS, sections(20), 80)
    assert many.index("Not applied") < many.index("See to it now")
    assert sum(": --verbose" in line for line in many) >= 2


def test_summary_names_patients_only_where_beds_are_read_back_and_in_the_sentences_to_say() -> None:
    # A name beside ward and bed is said over the phone, against a wrong bed heard; nothing else on a terminal has one.
    lines = short_lines(PROBLEM, PLAN, WINDOWS, sections(1), 120)
    text = " ".join(lines)
    others = text.partition("Reported ")[0] + text.partition("Stops ")[2].partition("Tell ")[0]
    names = {p.family_name for p in PROBLEM.patients.values() if p.family_name}
    assert "Not applied" in others
    assert not [name for name in names if name in others]


@pytest.mark.parametrize(("width", "number"), [(80, 1), (80, 2), (60, 2), (100, 6)])
def test_something_is_said_of_all_that_must_be_acted_upon(width: int, number: int) -> None:
    problem, plan, windows = make_replanned()
    lines = short_lines(problem, plan, windows, sections(number), width)
    for title in ("Not applied", "See to it now"):
        at = lines.index(title)
        assert not lines[at + 1].startswith("  ... and"), lines


@pytest.mark.parametrize("most", [14, 16])
def test_whom_there_is_no_room_to_speak_to_is_named_all_the_same(most: int) -> None:
    lines = short_lines(PROBLEM, PLAN, WINDOWS, sections(20), 80, most=most)
    assert len(lines) <= most
    told = " ".join(lines[lines.index("Tell") :])
    assert "AK" in told
    assert "TB" in told


def test_what_is_cut_ends_at_a_word_and_nobody_is_named_with_nothing() -> None:
    assert cut("First there: DO could draw at 05:45", 30) == "First there: DO could draw ..."
    assert cut("Abcdefghijklmnop", 10) == "Abcdef ..."
    for text, beds in (("Go. " * 60, (("go to", "Heron 1A"),)), ("Nothing is at hand.", ()), ("Go. " * 60, ())):
        said = Spoken(sentences=(text,), beds=beds, who=("Ines Silva",), initials=("IV",))
        for form in said.forms(80):
            assert not any(": : " in line or line.strip() == "IV:" for line in form.lines), form


def test_longer_form_that_matters_more_is_taken_first() -> None:
    def part(name: str, growth: Growth, *numbers: int) -> tuple[Form, ...]:
        return tuple(Form(growth, (name,) * number) for number in numbers)

    parts = [part("a", Growth.MORE, 1, 3), part("b", Growth.STAT, 1, 2, 4), part("c", Growth.MORE, 1)]
    assert fitted(parts, 3) == ["a", "b", "c"]
    assert fitted(parts, 4) == ["a", "b", "b", "c"]
    assert fitted(parts, 5) == ["a", "b", "b", "c"]  # neither next form fits in the line that is left
    assert fitted(parts, 6) == ["a", "b", "b", "b", "b", "c"]
    assert fitted(parts, 8) == ["a"] * 3 + ["b"] * 4 + ["c"]
