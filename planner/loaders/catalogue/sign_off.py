"""The laboratory's confirmation of the values in use: written beside a round's tables, and held against them.

A digest of every test and tube kind is kept, so that what changed since can be named. Notes, sources and LOINC names
are no values: they change nothing at the bed.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
import tomllib
from collections.abc import Iterable, Mapping
from datetime import datetime
from enum import Enum

from planner.domain.catalogue import Catalogue, Confirmation, LabTest, TubeType
from planner.findings import Report, Severity, Source

SIGN_OFF_FILE = "sign-off.toml"
_NO_VALUES = frozenset({"notes", "source", "loinc_name", "used_for"})


def sign_off_text(catalogue: Catalogue, name: str, when: datetime) -> str:
    """Return the file by which a person confirms every value of a catalogue."""
    tests, tubes = _digests(catalogue.tests.values()), _digests(catalogue.tubes.values())
    lines = [
        "# The laboratory's confirmation of tube and stability values. Written by: planner catalogue --sign-off",
        f"name = {json.dumps(name, ensure_ascii=False)}",
        f"when = {json.dumps(when.isoformat(timespec='seconds'))}",
        f"digest = {json.dumps(_digest([*tests.items(), *tubes.items()]))}",
    ]
    for table, digests in (("tests", tests), ("tubes", tubes)):
        lines += ["", f"[{table}]", *(f"{json.dumps(code)} = {json.dumps(digests[code])}" for code in sorted(digests))]
    return "\n".join(lines) + "\n"


def read_confirmation(text: str | None, catalogue: Catalogue, report: Report) -> Confirmation | None:
    """Return who confirmed the values, and what changed since; None when nobody did, or the file cannot be read."""
    if text is None:
        return None
    try:
        said = tomllib.loads(text)
        name, when = str(said["name"]), datetime.fromisoformat(said["when"]).isoformat(timespec="seconds")
        known = {
            table: {str(code): str(digest) for code, digest in said[table].items()} for table in ("tests", "tubes")
        }
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        message = f"the laboratory's confirmation cannot be read ({type(error).__name__}); have it signed off again"
        report.add("sign-off-unreadable", Severity.WARNING, message, source=Source(file=SIGN_OFF_FILE))
        return None
    now = {"tests": _digests(catalogue.tests.values()), "tubes": _digests(catalogue.tubes.values())}
    changed = [
        code
        for table, digests in now.items()
        for code in sorted(digests.keys() | known[table].keys())
        if digests.get(code) != known[table].get(code)
    ]
    return Confirmation(name=name, when=when, changed=tuple(changed))


def _digests(items: Iterable[LabTest | TubeType]) -> dict[str, str]:
    return {item.code: _digest(item) for item in items}


def _digest(value: object) -> str:
    return hashlib.sha256(json.dumps(_plain(value)).encode()).hexdigest()[:16]


def _plain(value: object) -> object:
    """Return a value as lists, text and numbers in one fixed order."""
    if dataclasses.is_dataclass(value):
        fields = (f.name for f in dataclasses.fields(value) if f.name not in _NO_VALUES)
        return [[name, _plain(getattr(value, name))] for name in fields]
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, frozenset):
        return sorted((_plain(item) for item in value), key=json.dumps)
    if isinstance(value, Mapping):
        return [[_plain(key), _plain(item)] for key, item in sorted(value.items())]
    if isinstance(value, tuple | list):
        return [_plain(item) for item in value]
    return value
