"""Bytes of one message to text: the byte order mark, what MSH-18 declares, UTF-8, and a named guess at last."""

from __future__ import annotations

from typing import NamedTuple

CODECS = {
    "": "", "ASCII": "ascii", "8859/1": "cp1252", "8859/2": "iso8859-2", "8859/3": "iso8859-3", "8859/4": "iso8859-4",
    "8859/5": "iso8859-5", "8859/6": "iso8859-6", "8859/7": "iso8859-7", "8859/8": "iso8859-8",
    "8859/9": "iso8859-9", "8859/15": "iso8859-15", "ISO IR14": "shift_jis", "ISO IR87": "iso2022_jp",
    "ISO IR159": "iso2022_jp_1", "GB 18030-2000": "gb18030", "KS X 1001": "euc_kr", "BIG-5": "big5",
    "UNICODE": "utf-8", "UNICODE UTF-8": "utf-8", "UTF-8": "utf-8", "UNICODE UTF-16": "utf-16",
    "UNICODE UTF-32": "utf-32",
}  # fmt: skip
"""HL7 table 0211, alternate character sets. 8859/1 is in practice the Windows code page 1252, which contains it."""


class Text(NamedTuple):
    """Decoded text and, where the character set had to be guessed, the sentence that says so."""

    text: str
    guess: str


def declared(header: bytes) -> str:
    """Return what MSH-18 declares, without blanks and repetitions; empty when the header says nothing."""
    separator = header[3:4]
    fields = header.split(separator) if separator else []
    if len(fields) < 18:
        return ""
    return fields[17].split(b"~")[0].decode("ascii", errors="replace").strip().upper()


def decode(data: bytes, charset: str) -> Text:
    """Return the text of a message whose MSH-18 says ``charset``."""
    if data.isascii():
        if charset.startswith("ISO IR") and b"\x1b" in data:
            return Text(data.decode(CODECS.get(charset, "ascii"), errors="replace"), "")
        return Text(data.decode("ascii"), "")
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        return _not_utf8(data, charset)
    codec = CODECS.get(charset)
    if codec in ("", "utf-8"):
        return Text(text, "")
    if codec is not None and codec not in ("ascii", "cp1252") and not codec.startswith("iso8859"):
        try:
            return Text(data.decode(codec), "")
        except UnicodeDecodeError:
            pass
    return Text(text, f"MSH-18 says {charset}, but the bytes are UTF-8; they were read as UTF-8")


def _not_utf8(data: bytes, charset: str) -> Text:
    codec = CODECS.get(charset)
    if codec and codec not in ("ascii", "utf-8"):
        try:
            return Text(data.decode(codec), "")
        except UnicodeDecodeError:
            pass
    text = data.decode("cp1252", errors="replace")
    said = f"MSH-18 says {charset}" if charset else "MSH-18 is empty"
    return Text(text, f"{said}, but the bytes are neither that nor UTF-8; they were read as Windows-1252")
