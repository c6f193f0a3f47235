"""Isolation and precautions in messages: a term of the list is taken, whatever else speaks of them is shown."""

from __future__ import annotations

import re
from functools import lru_cache

from planner.loaders.values.fields import word
from planner.loaders.values.words import PRECAUTIONS

_SPEAKS = re.compile(
    r"\bisolat|\bprecaution|\b(airborne|droplet)\b|\bmrsa\b|\bvre\b|\bc\.? ?diff|\bneutropeni|\bbarrier nursing\b"
    r"|\bisolier|\bschutzkleidung\b",
    re.IGNORECASE,
)
SHOWN = (
    "the text speaks of isolation or precautions; it is shown on the sheet and was not taken as a precaution. Enter it "
    "in the column 'precautions' of a patient table where it is meant"
)


@lru_cache(maxsize=4096)
def speaks_of_precautions(text: str) -> bool:
    """Return whether a free text mentions isolation or precautions."""
    return _SPEAKS.search(text) is not None


def is_precaution(text: str) -> bool:
    """Return whether a text is, as a whole, a term of the list, such as 'Contact precautions'."""
    plain = word(text)
    for ending in (" precautions", " precaution", " isolation"):
        plain = plain.removesuffix(ending)
    return plain in PRECAUTIONS or word(text) in PRECAUTIONS
