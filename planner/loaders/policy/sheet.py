"""A sheet of keys and values as the text of a policy file."""

from __future__ import annotations

import re
from collections.abc import Iterable

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?")
_DATE = re.compile(r"(\d{4}-\d\d-\d\d)([ T]00:00(:00)?)?")
_CLOCK = re.compile(r"(\d{1,2}:\d\d):00")
_YES_OR_NO = {"true": "true", "yes": "true", "false": "false", "no": "false"}
_TEXTS = "phones"
"""The field whose values are texts, also where they look like numbers."""
_LISTS = frozenset({"quiet_hours", "child_wards", "adult_wards"})
"""Fields whose values are lists of spans or names: in a cell they are parted by commas or semicolons."""


def policy_toml(pairs: Iterable[tuple[str, str]]) -> str:
    """Return keys such as ``round.quiet_hours.Ward 1`` and their values as TOML; a ward's name may be any text."""
    sections: dict[str, list[str]] = {"": []}
    for key, value in pairs:
        *section, last = (part.strip() for part in key.split(".", 2))
        names = (*section, last)
        written = _list if not _LISTS.isdisjoint(names) else _quoted if _TEXTS in names else _value
        sections.setdefault(".".join(_key(part) for part in section), []).append(f"{_key(last)} = {written(value)}")
    lines = sections.pop("")
    for name, entries in sections.items():
        lines += [f"[{name}]", *entries]
    return "\n".join(lines)


def _key(text: str) -> str:
    bare = text[1:-1] if len(text) > 1 and text[0] == text[-1] == '"' else text
    return bare if _BARE.fullmatch(bare) else _quoted(bare)


def _list(text: str) -> str:
    spans = [part.strip(" \"'") for part in re.split(r"[,;\n]", text.strip("[] "))]
    return f"[{', '.join(_quoted(span) for span in spans if span)}]"


def _value(text: str) -> str:
    """Return a value as TOML: numbers, dates and yes/no as they are, all else quoted."""
    if _NUMBER.fullmatch(text):
        return re.sub(r"^([+-]?)0+(?=\d)", r"\1", text)
    if match := _DATE.fullmatch(text):
        return match[1]
    if match := _CLOCK.fullmatch(text):
        return _quoted(match[1])
    return _YES_OR_NO.get(text.lower()) or _quoted(text)


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    plain = "".join(c if c >= " " and c != "\x7f" else f"\\u{ord(c):04x}" for c in escaped)
    return f'"{plain}"'
