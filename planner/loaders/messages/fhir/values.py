"""Values of a resource, whatever shape they come in: texts, codes, references and times, never an exception."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date
from functools import lru_cache
from typing import Any

from planner.loaders.messages.common.stamps import Stamp, offset_seconds
from planner.loaders.messages.common.texts import tidy
from planner.loaders.messages.fhir.json_text import Json
from planner.loaders.values.moments import clock_of

_TIME = re.compile(r"^(\d{4})-(\d\d)-(\d\d)(?:[T ](\d\d):(\d\d)(?::(\d\d)(?:\.\d*)?)?\s*(Z|z|[+-]\d\d:?\d\d)?)?$")
LOINC = "http://loinc.org"
SNOMED = "http://snomed.info/sct"


def text_of(value: Any, name: str) -> str:
    """Return a text element, tidied; empty when it is not there or no text. A number counts as its digits."""
    found = value.get(name) if isinstance(value, dict) else None
    if found is None:
        return ""
    if isinstance(found, str):
        return found.strip() if found.isascii() and found.isprintable() else tidy(found)
    return str(found) if isinstance(found, int) and not isinstance(found, bool) and abs(found) < 10**18 else ""


def object_of(value: Any, *names: str) -> Json:
    """Return an object element, the first of a list; empty when it is not there. Names lead inwards."""
    for name in names:
        found = value.get(name) if isinstance(value, dict) else None
        value = found[0] if isinstance(found, list) and found else found
    return value if isinstance(value, dict) else {}


def objects_of(value: Any, name: str) -> list[Json]:
    """Return the objects of a list element; one object alone counts as a list of one."""
    found = value.get(name) if isinstance(value, dict) else None
    if found is None:
        return []
    if isinstance(found, dict):
        return [found]
    return [item for item in found if isinstance(item, dict)] if isinstance(found, list) else []


def texts_of(value: Any, name: str) -> list[str]:
    """Return the texts of a list element."""
    found = value.get(name) if isinstance(value, dict) else None
    if found is None:
        return []
    items = found if isinstance(found, list) else [found]
    return [text for item in items if isinstance(item, str) and (text := tidy(item))]


def is_true(value: Any, name: str) -> bool:
    """Return whether a boolean element is true, also where it is written as a text."""
    found = value.get(name) if isinstance(value, dict) else None
    return found is True or (isinstance(found, str) and found.strip().lower() == "true")


def concept(value: Json) -> Json:
    """Return the CodeableConcept of an element; in R5 it stands inside a CodeableReference."""
    inner = value.get("concept")
    return inner if isinstance(inner, dict) else value


def codings(value: Any) -> Iterator[tuple[str, str, str]]:
    """Yield system, code and display of the codings of a CodeableConcept (or of a Coding alone)."""
    if not isinstance(value, dict):
        return
    listed = objects_of(value, "coding")
    for coding in listed or ([value] if "code" in value and "coding" not in value else []):
        if isinstance(coding.get("code"), dict):
            continue
        code = text_of(coding, "code")
        if code:
            yield text_of(coding, "system"), code, text_of(coding, "display")


def codes_of(value: Any) -> set[str]:
    """Return the codes of a CodeableConcept, a Coding or a plain code."""
    if isinstance(value, str):
        return {tidy(value)}
    if isinstance(value, list):
        return {code for item in value for code in codes_of(item)}
    return {code for _, code, _ in codings(value)}


def words_of(value: Any) -> str:
    """Return what a CodeableConcept says to a person."""
    if not isinstance(value, dict):
        return ""
    return text_of(value, "text") or next((d or c for _, c, d in codings(value)), "") or text_of(value, "display")


def has_any(value: Json, *names: str) -> bool:
    """Return whether one of the elements is there and not empty."""
    return any(value.get(name) not in (None, "", [], {}) for name in names)


@lru_cache(maxsize=4096)
def parse_time(text: str, heading: str) -> Stamp | None:
    """Return the stamp of a date or dateTime; zone and seconds may be missing. None for an empty text."""
    if not text:
        return None
    match = _TIME.match(text)
    if match is None:
        return Stamp(text, heading=heading)
    try:
        day = date(int(match[1]), int(match[2]), int(match[3]))
    except ValueError:
        return Stamp(text, heading=heading)
    clock_s = clock_of(match[4], match[5], match[6]) if match[4] else None
    if match[4] and clock_s is None:
        return Stamp(text, heading=heading)
    zone = match[7] or ""
    offset_s = 0 if zone in ("Z", "z") else offset_seconds(zone[0], zone[1:3], zone[-2:]) if zone else None
    return Stamp(text, day, clock_s, offset_s, None, heading, bool(zone) and offset_s is None)
