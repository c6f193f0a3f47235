"""Words that files use for priorities, states, performers and the like, and what they mean: the rows of words.csv.

A row is a list, a meaning and the words for it, parted by bars, as `word` folds them; English first, common German and
French words besides. An empty word is the empty cell. Sources: HL7 tables 0485 (S, A, R, P, T) and 0065 (L, O), FHIR
request-priority.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Mapping
from enum import Enum, auto
from importlib.resources import files
from typing import TypeVar

from planner.domain.orders import Arm, Method, Precaution, Priority
from planner.domain.places import PickupKind, PlaceKind
from planner.domain.plan import Outcome, Reason

_Meaning = TypeVar("_Meaning")


class Timed(Enum):
    """Priorities that promise a time: the order must state one."""

    TIMED = auto()


def _rows() -> list[dict[str, str]]:
    text = (files("planner") / "loaders" / "values" / "words.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


_ROWS = _rows()


def _meanings(name: str, meaning: Callable[[str], _Meaning]) -> Mapping[str, _Meaning]:
    """Return what each word of a list means."""
    return {word: meaning(row["meaning"]) for row in _ROWS if row["list"] == name for word in row["words"].split("|")}


def _words(name: str) -> frozenset[str]:
    """Return the words of a list of one meaning."""
    return frozenset(_meanings(name, str))


def _reason(text: str) -> Reason | None:
    return Reason(text) if text else None


PRIORITIES = _meanings("priority", lambda text: Timed.TIMED if text == "timed" else Priority(text))
STATES = _meanings("status", _reason)
PERFORMERS = _meanings("performer", _reason)
SPECIMENS = _meanings("specimen", _reason)
METHODS = _meanings("method", Method)
PRECAUTIONS = _meanings("precaution", Precaution)
ARMS = _meanings("arm", lambda text: frozenset(Arm(part) for part in text.split()))
LIFTS, STAIRS = _words("lift"), _words("stairs")
PLACE_KINDS = {**_meanings("place kind", PlaceKind), **dict.fromkeys(LIFTS | STAIRS, PlaceKind.WAYPOINT)}
FLOORS = _meanings("floor", int)
"""Floors that are written in words, by their number: the ground floor is 0."""
PICKUP_KINDS = _meanings("pickup kind", PickupKind)
OUTCOMES = _meanings("outcome", Outcome)

YES, NO = _words("yes"), _words("no")
NO_PRECAUTION = _words("no precaution")
SAYS_MORE = _words("says more")
"""Words for a precaution that say more than its name: printed as an alert too."""
SAYS_NOTHING_MORE = _words("says nothing more")
"""Words beside an infection that leave its precautions as they are."""
NO_ALLERGY = _words("no allergy")
"""Ways to say that no allergy is known: nothing to warn of."""
NOT_YET = _words("no outcome")
"""Ways to say that nobody has been there: the row of a progress file says nothing."""
ISOLATION_NOUNS = _words("isolation noun")
"""Nouns that speak of isolation with a word before them, unless it is plain: 'yellow room' (common practice)."""
NO_ISOLATION_BESIDE = _words("no isolation beside")
"""Words before or behind such a noun with which it speaks of something else: 'side room', 'room air'."""
OTHER_SPECIMEN_WORDS = _words("not blood in a test's name")

COLUMN_WORDS: Mapping[str, Mapping[str, object]] = {
    "precautions": PRECAUTIONS,
    "limbs": ARMS,
    "method": METHODS,
    "priority": PRIORITIES,
    "status": STATES,
    "performer": PERFORMERS,
    "specimen": SPECIMENS,
}
"""Columns whose cells hold words of a list."""
GOES_WITHOUT_SAYING = frozenset({None, Priority.ROUTINE, Method.VENOUS})
"""What an empty cell of such a column means too."""
