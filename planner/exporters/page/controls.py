"""Small pieces of the page that are touched: boxes to tick, times with their buttons, the outcome, what was asked."""

from __future__ import annotations

from collections.abc import Sequence

from planner.exporters.page.parts import attributes, text
from planner.exporters.view.stop_view import AnswerField
from planner.exporters.view.words import OUTCOMES

_MOMENTS = (("arrived", "Arrived"), ("time", "Drawn"), ("left", "Left"))
"""Column of the progress file and word of the moments of a visit, each with a button of its own."""


def tick(key: str, words: str, class_: str = "", **data: str) -> str:
    """Return a box to tick with its label; ``data`` is what the saved file says of it."""
    return (
        f"<label{attributes(class_=f'tick {class_}'.strip())}>"
        f'<input type="checkbox" data-keep="{key}"{attributes(**data)}> '
        f"<span>{text(words)}</span></label>"
    )


def field(key: str, words: str, class_: str = "", *, is_time: bool = False, **data: str) -> str:
    """Return a field with its label. A time is a text: the time fields of browsers show 12 hours in some countries."""
    kind = attributes(data_time="", inputmode="numeric", maxlength="8", placeholder="00:00") if is_time else ""
    return (
        f"<label{attributes(class_=f'field {class_}'.strip())}><span>{text(words)}</span> "
        f'<input type="text" data-keep="{key}"{kind}{attributes(**data)} autocomplete="off"></label>'
    )


def moment(key: str, words: str, button: str) -> str:
    """Return a button that stamps the time, to the second, and the field that holds it."""
    return (
        f'<div class="moment"><button type="button" class="now" data-now="{key}">{text(button)}</button>'
        f"{field(key, words, 'stamp', is_time=True)}</div>"
    )


def answers(fields: Sequence[AnswerField], key: str) -> str:
    """Return a field for each answer that the card asks to write; on paper it is written behind the question."""
    if not fields:
        return ""
    inputs = "".join(
        field(
            f"{key}-answer-{n}",
            asked.label,
            is_time=asked.asked.is_time,
            data_asked=asked.asked.value,
            data_orders="\n".join(asked.order_numbers),
        )
        for n, asked in enumerate(fields, start=1)
    )
    return f'<fieldset class="answers"><legend>Write what you were told</legend>{inputs}</fieldset>'


def outcome(key: str, calls: str) -> str:
    """Return what a phone keeps of a visit: when, how it went, who was told; ``calls`` are the numbers to phone."""
    moments = "".join(moment(f"{key}-{name}", f"{words} at", f"{words} now") for name, words in _MOMENTS)
    choices = "".join(
        f'<label class="choice"><input type="radio" name="outcome-{key}" value="{one.code}" '
        f'data-keep="{key}-outcome"{attributes(data_meaning=one.meaning)}> <span>{text(one.word)}</span></label>'
        for one in OUTCOMES
    )
    told = field(f"{key}-told", "Who was told") + moment(f"{key}-told_at", "Told at", "Told now")
    return (
        f'<div class="moments" role="group" aria-label="Times of the visit">{moments}</div>'
        '<p class="outside" role="alert"></p>'
        f'<fieldset class="outcome"><legend>How did it go?</legend><div class="choices">{choices}</div>'
        '<p class="meaning" role="status"></p><p class="refusal" role="alert"></p>'
        f'<div class="told">{calls}{told}</div>'
        f'<div class="written">{field(f"{key}-initials", "Initials", "short")}{field(f"{key}-note", "Note")}</div>'
        f'<input type="hidden" data-keep="{key}-ticked"></fieldset>'
    )
