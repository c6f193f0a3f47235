"""Bytes to text: finds out the encoding of a text file and says what it took it for."""

from __future__ import annotations

import codecs
import re
from dataclasses import dataclass

_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig", "UTF-8 with a byte order mark"),
    (codecs.BOM_UTF32_LE, "utf-32", "UTF-32"),
    (codecs.BOM_UTF32_BE, "utf-32", "UTF-32"),
    (codecs.BOM_UTF16_LE, "utf-16", "UTF-16"),
    (codecs.BOM_UTF16_BE, "utf-16", "UTF-16"),
)


_SWAPPED = re.compile(f"[{''.join(chr(code << 8) for code in (10, 13, *range(0x21, 0x30), *range(0x31, 0x7F)))}]{{4}}")
"""Four characters that are ASCII with the two bytes swapped: no text of any language has them in a row (the
blank and 0 left out, which give blanks of other scripts)."""


@dataclass(frozen=True, slots=True)
class Decoded:
    """The text of a file, the encoding in words, and whether that encoding is a guess with losses.

    ``is_torn``: characters of two bytes have lost one, so that all that follows is another text.
    """

    text: str
    encoding: str
    has_lost_characters: bool = False
    is_torn: bool = False


def decode(data: bytes) -> Decoded:
    """Return the text of a file. Byte order marks decide; then UTF-16 by its zero bytes, UTF-8, cp1252.

    Bytes that cp1252 does not define become the replacement character, and ``has_lost_characters`` says so.
    """
    for mark, codec, name in _MARKS:
        if data.startswith(mark):
            text = data.decode(codec, errors="replace")
            return Decoded(text, name, "�" in text, codec != "utf-8-sig" and _is_torn(data, text))
    if utf16 := _utf16_without_mark(data):
        text = data.decode(utf16, errors="replace")
        return Decoded(text, "UTF-16 without a byte order mark", "�" in text, _is_torn(data, text))
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")
        return Decoded(text, "Windows text (cp1252)", "�" in text)
    return Decoded(text, "plain text" if text.isascii() else "UTF-8")


def _is_torn(data: bytes, text: str) -> bool:
    """Return whether a byte is lost: an odd number of them, or letters of ASCII with their bytes swapped, in a row."""
    return len(data) % 2 == 1 or "�" in text or _SWAPPED.search(text) is not None


def is_binary(data: bytes) -> bool:
    """Return whether the bytes are no text: more than one in a hundred is a control character that text has not."""
    head = data[:4000]
    if data.startswith(tuple(mark for mark, _, _ in _MARKS)) or _utf16_without_mark(data):
        return False
    return data.startswith((b"%PDF", b"\x89PNG", b"\xff\xd8\xff")) or 100 * sum(b < 9 for b in head) > len(head)


def _utf16_without_mark(data: bytes) -> str | None:
    """Return the UTF-16 codec when every other byte of the start is zero, as in Latin text; else None."""
    head = data[:2000]
    half = len(head) // 2
    if half < 4:
        return None
    if head[1::2].count(0) > 0.7 * half and head[0::2].count(0) == 0:
        return "utf-16-le"
    if head[0::2].count(0) > 0.7 * half and head[1::2].count(0) == 0:
        return "utf-16-be"
    return None
