"""Estimated widths and lines agree with what the font gives."""

from __future__ import annotations

import pytest

from planner.exporters.pictures.text_layout import LINE, ONE_LINE, height_pt, text_width_pt, wrap


def test_widths_follow_the_font() -> None:
    # Digits are 556 thousandths wide (Helvetica metrics); one per cent is added for rounding.
    assert text_width_pt("0000000000", 10) == pytest.approx(55.6 * 1.01)
    assert text_width_pt("é", 10) == text_width_pt("e", 10)
    assert text_width_pt("e\u0301", 10) == text_width_pt("e", 10)
    assert text_width_pt("王", 10) > 10
    assert text_width_pt("Abc", 10, bold=True) > text_width_pt("Abc", 10)


def test_lines_break_at_blanks_and_hyphens_and_lose_nothing() -> None:
    text = "Wolfe-Montgomery de la Fuente 4-5"
    lines = wrap(text, 60, 10)
    assert len(lines) > 1
    assert all(text_width_pt(line, 10) <= 60 for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")


def test_a_word_wider_than_the_cell_is_broken() -> None:
    lines = wrap("W" * 30, 50, 10)
    assert "".join(lines) == "W" * 30
    assert all(text_width_pt(line, 10) <= 50 for line in lines)


def test_height_grows_with_lines_and_tall_scripts() -> None:
    assert height_pt("a", 100, 10) == 10 * ONE_LINE
    assert height_pt("a\nb", 100, 10) == 2 * 10 * LINE
    assert height_pt("देश", 100, 10) > height_pt("abc", 100, 10)
