"""Our lists of everyday names and codes of tests, each with the tests it can mean: names.csv and codes.csv."""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from functools import lru_cache
from io import StringIO

from planner.domain.catalogue import Catalogue, TestCode
from planner.loaders.catalogue.load import group_by_loinc, read_laboratory_text
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
def _named_rows() -> tuple[tuple[str, tuple[str, ...], str], ...]:
    rows = csv.DictReader(StringIO(read_laboratory_text("names.csv")))
    return tuple((row["name"], tuple(row["tests"].split(";")), row["ask"]) for row in rows)


@lru_cache(maxsize=8)
def _by_key(tests: tuple[tuple[TestCode, str], ...]) -> tuple[Mapping[str, Meaning], frozenset[str]]:
    """Return the meanings of names as they are compared, and those of them that are written with a sign between."""
    codes = {code for code, _ in tests}
    names = [(named, Meaning((code,))) for code, name in tests for named in (name, re.sub(r"\(.*?\)", "", name))]
    for name, listed, ask in _named_rows():
        if there := tuple(TestCode(code) for code in listed if code in codes):
            names.append((name, Meaning(there, ask)))
    names += [(code, Meaning((code,))) for code, _ in tests]
    by_key: dict[str, Meaning] = {}
    for name, meaning in names:
        for spelt in (name, name.replace("&", " and ")):
            by_key.setdefault(plain(spelt), meaning)
    return by_key, frozenset(plain(name) for name, _ in names if BETWEEN.search(name))


class TestNames:
    """All names of the tests of a catalogue: its own names first, then the list, then the codes themselves."""

    __test__ = False

    def __init__(self, catalogue: Catalogue) -> None:
        self._catalogue = catalogue
        tests = tuple((code, test.name) for code, test in catalogue.tests.items())
        self._by_key, self._written_with_sign = _by_key(tests)

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


WHICH = "which of them"
"""What to ask about a code that several tests share and the list has no question for."""


@lru_cache(maxsize=1)
def _coded_rows() -> dict[str, tuple[tuple[str, ...], str]]:
    rows = csv.DictReader(StringIO(read_laboratory_text("codes.csv")))
    return {row["loinc"]: (tuple(row["tests"].split(";")), row["ask"]) for row in rows}


class TestCodes:
    """All codes of the tests of a catalogue.

    A site code goes before a LOINC code and is matched without regard to case. A LOINC code that one test of the
    catalogue carries means that test, so a site decides a doubtful code by giving it to the test that it means.
    A code that several tests carry, or that the list gives to several, is never taken without asking.
    """

    __test__ = False

    def __init__(self, catalogue: Catalogue) -> None:
        self._by_code: dict[str, Meaning] = {}
        for loinc, (listed, ask) in _coded_rows().items():
            if there := tuple(TestCode(code) for code in listed if TestCode(code) in catalogue.tests):
                self._by_code[loinc] = Meaning(there, ask)
        for loinc, tests in group_by_loinc(catalogue).items():
            if len(tests) == 1:
                self._by_code[loinc] = Meaning(tests)
            else:
                listed_meaning = self._by_code.get(loinc, Meaning((), WHICH))
                together = dict.fromkeys((*listed_meaning.tests, *tests))
                self._by_code[loinc] = Meaning(tuple(together), listed_meaning.ask or WHICH)
        for code in catalogue.tests:
            self._by_code[code.upper()] = Meaning((code,))

    def meaning(self, text: str) -> Meaning | None:
        """Return what a site code or LOINC code means; None when it is neither."""
        return self._by_code.get(text.strip().upper())
