"""What a file really is, whatever its name says: a workbook, an older or protected one, a web page, plain text."""

from __future__ import annotations

import struct
import zipfile
import zlib
from io import BytesIO
from xml.etree.ElementTree import ParseError

from planner.finding_codes import Code
from planner.loaders.formats.decoding import is_binary
from planner.loaders.formats.limits import MAX_UNPACKED_BYTES

UNREADABLE = (
    KeyError, ValueError, TypeError, IndexError, AttributeError, OSError, EOFError, NotImplementedError, RuntimeError,
    OverflowError, RecursionError, struct.error, zipfile.BadZipFile, zlib.error, ParseError,
)  # fmt: skip
"""What the libraries raise for damaged parts of a workbook: they document no exception of their own for them."""
_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_SAVE_AS = "open it in a spreadsheet program and save it as .xlsx or CSV"
_REFUSALS: dict[Code, str] = {
    "encrypted-workbook": "the workbook is protected by a password; remove the password and save it again",
    "old-workbook": f"this is a workbook of the old .xls format; {_SAVE_AS}",
    "strict-workbook": "this workbook is saved as 'Strict Open XML'; save it as an ordinary .xlsx or as CSV",
    "other-workbook": f"this is not an .xlsx workbook but another kind of document; {_SAVE_AS}",
    "damaged-workbook": "the workbook is cut short or damaged and cannot be opened; copy it again or save it again",
    "web-page": f"this is a web page (HTML) with the name of a workbook; {_SAVE_AS}",
    "text-as-workbook": "this is a text file with the name of a workbook; give it the ending .csv and run again",
    "huge-workbook": f"the workbook unpacks to more than {MAX_UNPACKED_BYTES // 1_000_000} MB; save only the sheets of "
    "this round",
}


def refusal(code: Code) -> str:
    """Return what to tell about a file that cannot be read as a workbook."""
    return _REFUSALS[code]


def workbook_fault(data: bytes) -> Code | None:
    """Return the code of what keeps these bytes from being read as an .xlsx workbook; None when nothing does."""
    if data.startswith(_OLE):
        names = ("EncryptedPackage", "EncryptionInfo")
        if any(name.encode("utf-16-le") in data for name in names):
            return "encrypted-workbook"
        return "old-workbook"
    if not data.startswith(b"PK"):
        return _text_fault(data)
    try:
        with zipfile.ZipFile(BytesIO(data)) as archive:
            return _archive_fault(archive)
    except UNREADABLE:
        return "damaged-workbook"


def is_workbook_like(data: bytes) -> bool:
    """Return whether the content is a zip or an old compound document, so not a text file."""
    return data.startswith((b"PK\x03\x04", _OLE))


def _archive_fault(archive: zipfile.ZipFile) -> Code | None:
    names = set(archive.namelist())
    if any(info.flag_bits & 1 for info in archive.infolist()):
        return "encrypted-workbook"
    if sum(info.file_size for info in archive.infolist()) > MAX_UNPACKED_BYTES:
        return "huge-workbook"
    if "xl/workbook.xml" not in names:
        return "damaged-workbook" if "[Content_Types].xml" in names and not _other(names) else "other-workbook"
    if b"purl.oclc.org/ooxml" in archive.open("xl/workbook.xml").read(20_000):
        return "strict-workbook"
    return None


def _other(names: set[str]) -> bool:
    return any(n.startswith(("word/", "ppt/", "xl/workbook.bin")) for n in names)


def is_web_page(data: bytes) -> bool:
    """Return whether the bytes are HTML, in whatever encoding."""
    head = data[:2000].replace(b"\x00", b"").lstrip(b"\xef\xbb\xbf\xff\xfe \t\r\n").lower()
    return head.startswith((b"<html", b"<!doctype html", b"<meta", b"<head", b"<body")) or b"<table" in head


def _text_fault(data: bytes) -> Code:
    if is_web_page(data):
        return "web-page"
    return "damaged-workbook" if not data or is_binary(data) else "text-as-workbook"
