"""Our list of everyday names of tests: trade names, abbreviations and spellings, each with the tests it can mean."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Mapping
from functools import lru_cache
from io import StringIO

from planner.domain.catalogue import Catalogue, TestCode
from planner.loaders.catalogue.load import read_laboratory_text
from planner.loaders.catalogue.meaning import Meaning
from planner.loaders.tables.headings import plain

BETWEEN = re.compile(r"[;,+/|\n]")
"""What stands between the tests of a cell that lists several; some names hold such a sign themselves (PT/INR)."""
_SHORT = 4
"""A name of so few letters is only then found in a cell with signs between when the list writes it with one."""
_SPECIMEN = r"serum|plasma"
_BEFORE = re.compile(rf"^(?:{_SPECIMEN})\s+", re.IGNORECASE)
_AFTER = re.compile(rf"[\s,(-]+(?:{_SPECIMEN})\)?$", re.IGNORECASE)
_LEVEL = re.compile(r"[\s,(-]+(?:levels?|assay|test|spiegel)\)?$", re.IGNORECASE)


@lru_cache(maxsize=1)
def _rows() -> tuple[tuple[str, tuple[str, ...], str], ...]:
    rows = csv.DictReader(StringIO(read_laboratory_text("names.csv")))
    return tuple((row["name"], tuple(row["tests"].split(";")), row["ask"]) for row in rows)


class TestNames:
    """All names of the tests of a catalogue: its own names first, then the list, then the codes themselves."""

    __test__ = False

    def __init__(self, catalogue: Catalogue) -> None:
        self._catalogue = catalogue
        self._by_key: dict[str, Meaning] = {}
        self._written_with_sign: set[str] = set()
        for name, meaning in self._all():
            self._by_key.setdefault(plain(name), meaning)
            if BETWEEN.search(name):
                self._written_with_sign.add(plain(name))

    def _all(self) -> Iterator[tuple[str, Meaning]]:
        for code, test in self._catalogue.tests.items():
            yield test.name, Meaning((code,))
            yield re.sub(r"\(.*?\)", "", test.name), Meaning((code,))
        for name, codes, ask in _rows():
            if there := tuple(TestCode(code) for code in codes if TestCode(code) in self._catalogue.tests):
                yield name, Meaning(there, ask)
        for code in self._catalogue.tests:
            yield code, Meaning((code,))

    @property
    def by_key(self) -> Mapping[str, Meaning]:
        """Meanings by the name as it is compared."""
        return self._by_key

    def meaning(self, text: str) -> Meaning | None:
        """Return what a name means; None when it is not in the list."""
        if found := self._exact(text):
            return found
        if (shorter := _LEVEL.sub("", text)) != text and (found := self._exact(shorter)):
            return found
        for cut in (_BEFORE, _AFTER):
            bare = cut.sub("", shorter)
            if bare != shorter and (found := self._exact(bare)) and self._is_of_serum(found):
                return found
        return None

    def _exact(self, text: str) -> Meaning | None:
        key = plain(text)
        if len(key) <= _SHORT and BETWEEN.search(text.strip(" +-")) and key not in self._written_with_sign:
            return None
        return self._by_key.get(key)

    def _is_of_serum(self, meaning: Meaning) -> bool:
        """Tell haemoglobin in plasma from the haemoglobin of a blood count."""
        return all(self._catalogue.tests[code].section != "haematology" for code in meaning.tests)
