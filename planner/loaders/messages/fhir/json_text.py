"""Text of a JSON file to values: names that stand twice are kept in mind, and nesting beyond all measure is refused."""

from __future__ import annotations

import json
import re
from typing import Any

from planner.loaders.formats.limits import MAX_DEPTH

Json = dict[str, Any]
TOO_DEEP = f"brackets stand in brackets more than {MAX_DEPTH} deep"
TWICE = "\0twice"
"""Key under which an object keeps the names that stand in it twice: plain reading would keep the last silently."""
_STRING = re.compile(r'"(?:[^"\\]++|\\.)*+"', re.DOTALL)
_NO_BRACKETS = bytes(set(range(256)) - set(b"[]{}"))


class JsonReader:
    """Reads the values of one file. ``has_twice`` is True once an object had a name twice."""

    def __init__(self) -> None:
        self.has_twice = False
        self._decoder = json.JSONDecoder(object_pairs_hook=self._object, strict=False)

    def whole(self, text: str) -> tuple[Any, str]:
        """Return the value that a text is, or None and what is wrong with it."""
        if nests_too_deep(text):
            return None, TOO_DEEP
        try:
            value = self._decoder.decode(text)
        except json.JSONDecodeError as error:
            return None, f"line {error.lineno}, column {error.colno}: {error.msg}"
        except (ValueError, RecursionError):
            return None, "a number or a nesting is beyond all measure"
        return value, ""

    def object_at(self, text: str, start: int) -> tuple[Json | None, int]:
        """Return the object that begins at a place of a text, and where it ends or cannot be read on; None for none."""
        try:
            value, end = self._decoder.raw_decode(text, start)
        except json.JSONDecodeError as error:
            return None, error.pos
        except (ValueError, RecursionError):
            return None, len(text)
        is_sound = isinstance(value, dict) and not nests_too_deep(text[start:end])
        return (value if is_sound else None), end

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


def nests_too_deep(text: str) -> bool:
    """Return whether brackets stand in brackets more often than any data do; no value is built for that.

    Brackets inside strings do not count. A text that breaks off in a string is looked at as far as it goes.
    """
    brackets = _STRING.sub("", text).encode("utf-8", "replace").translate(None, _NO_BRACKETS)
    rest = brackets
    for _ in range(MAX_DEPTH):
        if not rest:
            return False
        rest = rest.replace(b"{}", b"").replace(b"[]", b"")
    depth = 0
    for bracket in brackets:  # something is open, or nests deeper: count
        depth = depth + 1 if bracket in b"[{" else max(0, depth - 1)
        if depth > MAX_DEPTH:
            return True
    return False
