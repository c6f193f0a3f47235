"""Text of a JSON file to values: names that stand twice are kept in mind, and nesting beyond all measure is refused."""

from __future__ import annotations

import json
from typing import Any

Json = dict[str, Any]
TWICE = "\0twice"
"""Key under which an object keeps the names that stand in it twice: plain reading would keep the last silently."""
_MAX_DEPTH = 60
"""FHIR data nest some 20 levels deep; deeper is no data (engineering choice)."""
_NO_BRACKETS = bytes(set(range(256)) - set(b"[]{}"))


class JsonReader:
    """Reads the values of one file. ``has_twice`` is True once an object had a name twice."""

    def __init__(self) -> None:
        self.has_twice = False
        self._decoder = json.JSONDecoder(object_pairs_hook=self._object, strict=False)

    def whole(self, text: str) -> tuple[Any, str]:
        """Return the value that a text is, or None and what is wrong with it."""
        try:
            value = self._decoder.decode(text)
        except json.JSONDecodeError as error:
            return None, f"line {error.lineno}, column {error.colno}: {error.msg}"
        except (ValueError, RecursionError):
            return None, "a number or a nesting is beyond all measure"
        return (None, "it nests too deep") if _may_be_deep(text) and _is_too_deep(value) else (value, "")

    def object_at(self, text: str, start: int) -> Json | None:
        """Return the object that begins at a place of a text; None when there is none to be read."""
        try:
            value, end = self._decoder.raw_decode(text, start)
        except (ValueError, RecursionError):
            return None
        is_sound = isinstance(value, dict) and not (_may_be_deep(text[start:end]) and _is_too_deep(value))
        return value if is_sound else None

    def _object(self, pairs: list[tuple[str, Any]]) -> Json:
        found = dict(pairs)
        if len(found) != len(pairs):
            self.has_twice = True
            names = [name for name, _ in pairs]
            found[TWICE] = sorted({name for name in names if names.count(name) > 1})
        return found


def twice(value: object) -> list[str]:
    """Return the names that stand twice in an object or in one inside it."""
    found: list[str] = []
    waiting = [value]
    while waiting:
        item = waiting.pop()
        if isinstance(item, dict):
            found += item.get(TWICE, ())
            waiting += item.values()
        elif isinstance(item, list):
            waiting += item
    return found


def _may_be_deep(text: str) -> bool:
    """Return whether brackets are left when pairs with nothing between them are taken out so many times.

    Quick, and never wrong when it says no. Brackets inside strings can leave some over; then `_is_too_deep` decides.
    """
    brackets = text.encode("utf-8", "replace").translate(None, _NO_BRACKETS)
    for _ in range(_MAX_DEPTH):
        if not brackets:
            return False
        brackets = brackets.replace(b"{}", b"").replace(b"[]", b"")
    return True


def _is_too_deep(value: object) -> bool:
    layer: list[object] = [value]
    for _ in range(_MAX_DEPTH):
        following: list[object] = []
        for item in layer:
            if isinstance(item, dict):
                following += [v for v in item.values() if isinstance(v, dict | list)]
            elif isinstance(item, list):
                following += [v for v in item if isinstance(v, dict | list)]
        if not following:
            return False
        layer = following
    return True
