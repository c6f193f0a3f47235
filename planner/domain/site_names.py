"""A site's own names for what a round knows under another: columns, tests, wards, precautions, alerts."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum


class NameKind(Enum):
    """What a name is a name of."""

    COLUMN = "column"
    TEST = "test"
    WARD = "ward"
    PRECAUTION = "precaution"
    ALERT = "alert"


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteName:
    """One name that a person confirmed.

    ``means`` is, by kind: our name of a column, empty where it is none; the code of a test; a ward as the map
    calls it; precautions joined by ``+``, ``none`` (nothing to wear) or ``alert`` (words to print); precautions, or
    words to print beside the alert.
    ``table`` is the table of a column, else empty.
    """

    kind: NameKind
    found: str
    means: str
    table: str = ""
