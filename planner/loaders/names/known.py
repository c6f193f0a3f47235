"""Looks up what a site's confirmed names mean."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from planner.domain.beds import find_beds, name_parts, ward_and_bed, with_ward
from planner.domain.catalogue import TestCode
from planner.domain.orders import Precaution
from planner.domain.places import Place
from planner.domain.site_names import NameKind, SiteName
from planner.loaders.tables.headings import plain

JOINED = "+"
"""Joins the precautions of one name."""
NOTHING = "none"
"""Meaning of a precaution's name: nothing is to be worn."""
ONLY_PRINTED = "alert"
"""Meaning of a precaution's name: words to print, and nothing that the plan goes by."""
_PRECAUTIONS = frozenset(precaution.value for precaution in Precaution)


def name_key(kind: NameKind, table: str, found: str) -> tuple[NameKind, str, str]:
    """Return what two spellings of one name share: case, accents, blanks and signs count as little as in headings.

    Of a ward's name signs count where they part numbers: ward 1.1 is not ward 11.
    """
    key = " ".join(name_parts(found)) if kind is NameKind.WARD else plain(found)
    return kind, table, key or found.strip()


class SiteNames:
    """The confirmed names of a site, by kind."""

    def __init__(self, names: Iterable[SiteName] = ()) -> None:
        self.all = tuple(names)
        self._means = {name_key(n.kind, n.table, n.found): n.means for n in self.all}

    def column(self, table: str, heading: str) -> str | None:
        """Return our name of a column for a site's heading; None when the site has none."""
        return (self._means.get(name_key(NameKind.COLUMN, table, heading)) or None) if self._means else None

    def means_nothing(self, table: str, heading: str) -> bool:
        """Return whether a person said of a heading that it is none of our columns."""
        return self._means.get(name_key(NameKind.COLUMN, table, heading)) == ""

    def test(self, text: str) -> TestCode | None:
        """Return the test that a site's name means; None when the site has none."""
        code = self._means.get(name_key(NameKind.TEST, "", text)) if self._means else None
        return None if code is None else TestCode(code)

    def ward(self, text: str) -> str | None:
        """Return the ward of the map that a site's name means; None when the site has none."""
        return self._means.get(name_key(NameKind.WARD, "", text)) if self._means else None

    def split_bed(self, wards: Iterable[str], text: str) -> tuple[str, str] | None:
        """Return ward and bed of a text that begins with one of the wards, or with a site's name of one.

        A ward such as '4' needs the stroke: '4 a' may be bed 4a.
        """
        own = [name.found for name in self.all if name.kind is NameKind.WARD]
        named = ward_and_bed([*own, *wards], text)
        if named is None or (sum(map(str.isalpha, named[0])) < 2 and "/" not in text):
            return None
        return self.ward(named[0]) or named[0], named[1]

    def bed(self, text: str, places: Iterable[Place]) -> str:
        """Return a text that names a bed with its ward as the map calls it; as it is where the map has that bed."""
        on_map = tuple(places)
        if not any(name.kind is NameKind.WARD for name in self.all) or find_beds(on_map, text):
            return text
        named = self.split_bed({place.ward for place in on_map}, text)
        return with_ward(*named) if named else text

    def precaution(self, text: str) -> PrecautionMeaning | None:
        """Return what a site's word for a precaution means; None when the site has none."""
        means = self._means.get(name_key(NameKind.PRECAUTION, "", text)) if self._means else None
        return None if means is None else PrecautionMeaning(_precautions(means), is_printed=means != NOTHING)

    def alert(self, text: str) -> AlertMeaning | None:
        """Return what a site's alert means; None when the site has none."""
        means = self._means.get(name_key(NameKind.ALERT, "", text)) if self._means else None
        if means is None:
            return None
        precautions = _precautions(means)
        return AlertMeaning(precautions, "" if precautions else means)


def _precautions(means: str) -> frozenset[Precaution]:
    """Return the precautions that a meaning consists of; none where it is anything else."""
    parts = means.split(JOINED)
    return frozenset(map(Precaution, parts)) if all(part in _PRECAUTIONS for part in parts) else frozenset()


@dataclass(frozen=True, slots=True)
class PrecautionMeaning:
    """What a word for a precaution asks for; ``is_printed`` says whether the word itself stands among the alerts."""

    precautions: frozenset[Precaution]
    is_printed: bool


@dataclass(frozen=True, slots=True)
class AlertMeaning:
    """What an alert asks for: precautions, else words to print beside it."""

    precautions: frozenset[Precaution]
    words: str
