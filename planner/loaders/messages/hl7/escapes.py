"""Escape sequences of HL7 v2 text, undone after splitting; what is not known stays as it is."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import NamedTuple

_FORMATTING = re.compile(r"^\.(br|sp|ce|fi|nf|in|ti|sk)[+-]?\d*$")
_HEX = re.compile(r"^X((?:[0-9A-Fa-f]{2})+)$")


class Separators(NamedTuple):
    """The characters that MSH-1 and MSH-2 declare; ``escape`` and ``sub`` are empty where a message has none."""

    field: str = "|"
    component: str = "^"
    repetition: str = "~"
    escape: str = "\\"
    sub: str = "&"
    truncation: str = ""

    @property
    def is_sound(self) -> bool:
        """True when no character has two meanings and none is a letter, a digit or a blank."""
        used = [c for c in (self.field, self.component, self.repetition, self.escape, self.sub, self.truncation) if c]
        return len(set(used)) == len(used) and not any(c.isalnum() or c.isspace() for c in used)


def separators_of(header: str) -> Separators | None:
    """Return what a header line (MSH...) declares; None when it cannot be used.

    MSH-2 of three characters has no escape character (`^~&`): the third is then the sub-component separator.
    """
    if len(header) < 6:
        return None
    mark = header[3]
    return _declared(mark, header[4:].split(mark, 1)[0].strip())


@lru_cache(maxsize=64)
def _declared(mark: str, declared: str) -> Separators | None:
    if not 2 <= len(declared) <= 5:
        return None
    component, repetition, rest = declared[0], declared[1], declared[2:]
    if rest and rest[0] == "&":
        found = Separators(mark, component, repetition, "", "&", rest[1:2])
    else:
        found = Separators(mark, component, repetition, rest[0:1], rest[1:2], rest[2:3])
    return found if found.is_sound else None


def unescape(text: str, separators: Separators, codec: str = "utf-8") -> str:
    r"""Return text without escape sequences: separators put back, \.br\ a line end, \H\ and \N\ dropped.

    \Xhh\ are bytes of the message's character set. \Zxx\, anything else that is not known and an escape character
    that is never closed stay as they are.
    """
    mark = separators.escape
    if not mark or mark not in text:
        return text
    parts = text.split(mark)
    out = [parts[0]]
    index = 1
    while index < len(parts):
        if index + 1 == len(parts):
            out.append(mark + parts[index])
            break
        value = _meaning(parts[index], separators, codec)
        if value is None:
            out.append(mark + parts[index])
            index += 1
        else:
            out.append(value + parts[index + 1])
            index += 2
    return "".join(out)


@lru_cache(maxsize=1000)
def _meaning(code: str, separators: Separators, codec: str) -> str | None:
    plain = {
        "F": separators.field,
        "S": separators.component,
        "T": separators.sub,
        "R": separators.repetition,
        "E": separators.escape,
        "P": separators.truncation or "#",
        "H": "",
        "N": "",
    }
    if code in plain:
        return plain[code]
    if match := _FORMATTING.match(code):
        return "\n" if match[1] in ("br", "sp", "ce", "sk") else ""
    if match := _HEX.match(code):
        return bytes.fromhex(match[1]).decode(codec or "utf-8", errors="replace")
    return None
