"""Free text of messages: shown to a person, and pointed out where it seems to ask for something; never acted upon."""

from __future__ import annotations

import re
from functools import lru_cache

_FASTING = re.compile(
    r"\bfast(ing|ed|s)?\b|\bnpo\b|\bnil by mouth\b|\bnothing to eat\b|\bbefore breakfast\b|\bempty stomach\b"
    r"|\bnüchtern\b|\bà jeun\b",
    re.IGNORECASE,
)
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")
_INVISIBLE = dict.fromkeys(map(ord, "​‌‍⁠﻿­"))
MAX_NOTE = 600
"""Longest note that a sheet can show; the rest is cut, with dots (engineering choice)."""


@lru_cache(maxsize=4096)
def speaks_of_fasting(text: str) -> bool:
    """Return whether a free text mentions fasting."""
    return _FASTING.search(text) is not None


def tidy(text: str) -> str:
    """Return text on one line, without control characters, invisible ones and halves of characters."""
    if text.isascii() and text.isprintable():
        return text.strip()
    if not text.isascii():
        text = text.encode("utf-8", errors="replace").decode("utf-8").translate(_INVISIBLE)
    text = text.replace("\r", "\n").replace("\n", " / ")
    return _CONTROL.sub("", text).strip()


def joined(texts: list[str]) -> str:
    """Return notes as one text, each once."""
    whole = "; ".join(dict.fromkeys(text for t in texts if (text := tidy(t))))
    return whole if len(whole) <= MAX_NOTE else whole[: MAX_NOTE - 3] + "..."
