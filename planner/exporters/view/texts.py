"""Texts that come from data or from the laboratory files, made safe to print."""

from __future__ import annotations

import csv
import unicodedata
from functools import lru_cache
from importlib.resources import files

from planner.domain.catalogue import Handling

_BIDI_CONTROLS = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""Characters that turn the direction of the text after them: a name could print backwards."""


class TextCleaner:
    """Makes texts safe to print and counts what it took out.

    Control characters, lone surrogates and direction overrides are removed; tabs and line breaks become blanks.
    Joiners that scripts need stay.
    """

    def __init__(self) -> None:
        self.removed = 0

    def __call__(self, text: str) -> str:
        """Return the text without what cannot be printed, blanks at its ends removed."""
        kept: list[str] = []
        for char in text:
            if char in "\t\n\r":
                kept.append(" ")
            elif _is_unprintable(char):
                self.removed += 1
            else:
                kept.append(char)
        return "".join(kept).strip()


def _is_unprintable(char: str) -> bool:
    if unicodedata.category(char) in ("Cc", "Cs") or char in _BIDI_CONTROLS:
        return True
    return ord(char) & 0xFFFE == 0xFFFE


def laboratory_text(name: str) -> str:
    """Return a text of ``planner/laboratory``."""
    return (files("planner") / "laboratory" / name).read_text(encoding="utf-8")


@lru_cache(maxsize=1)
def cautions() -> tuple[str, ...]:
    """Return the cautions that every sheet prints."""
    return tuple(line.strip() for line in laboratory_text("cautions.txt").splitlines() if line.strip())


@lru_cache(maxsize=1)
def handling_words() -> dict[Handling, str]:
    """Return what each handling code means at the bedside.

    Raises
    ------
    ValueError
        If the file knows a code that the domain does not, or the other way round.
    """
    rows = csv.DictReader(laboratory_text("handling.csv").splitlines())
    words = {Handling(row["code"]): row["words"] for row in rows}
    if missing := [h.value for h in Handling if h not in words]:
        raise ValueError(f"handling.csv has no words for {', '.join(missing)}")
    return words
