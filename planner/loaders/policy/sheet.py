"""A sheet of keys and values as the text of a policy file."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable

from planner.domain.policy import Policy
from planner.loaders.policy.fields import section_fields

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?")
_DATE = re.compile(r"(\d{4}-\d\d-\d\d)([ T]00:00(:00)?)?")
_YES_OR_NO = {"true": "true", "yes": "true", "false": "false", "no": "false"}


def policy_toml(pairs: Iterable[tuple[str, str]]) -> str:
    """Return keys such as ``round.quiet_hours.Ward 1`` and their values as TOML; a ward's name may be any text."""
    sections: dict[str, list[str]] = {"": []}
    writers = _writers()
    for key, value in pairs:
        *section, last = (part.strip() for part in key.split(".", 2))
        written = writers.get(tuple([*section, last][:2]), _value)
        sections.setdefault(".".join(_key(part) for part in section), []).append(f"{_key(last)} = {written(value)}")
    lines = sections.pop("")
    for name, entries in sections.items():
        lines += [f"[{name}]", *entries]
    return "\n".join(lines)


def _writers() -> dict[tuple[str, ...], Callable[[str], str]]:
    """Return what writes the values of lists and of texts, by section and key; of all other keys a value tells."""
    found: dict[tuple[str, ...], Callable[[str], str]] = {}
    for section in section_fields(Policy):
        for field in section_fields(section.kind) if section.is_section else (section,):
            if field.is_list or field.is_text:
                where = (section.name,) if section.is_section else ()
                found |= {(*where, key.key): _list if field.is_list else _quoted for key in field.keys}
    return found


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
    return _YES_OR_NO.get(text.lower()) or _quoted(text)


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    plain = "".join(c if c >= " " and c != "\x7f" else f"\\u{ord(c):04x}" for c in escaped)
    return f'"{plain}"'
