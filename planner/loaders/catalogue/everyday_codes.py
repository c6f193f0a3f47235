"""Site codes and LOINC codes of tests: the catalogue's own, then other codes in daily use for the same tests."""

from __future__ import annotations

import csv
from functools import lru_cache
from io import StringIO

from planner.domain.catalogue import Catalogue, TestCode
from planner.loaders.catalogue.load import group_by_loinc, read_laboratory_text
from planner.loaders.catalogue.meaning import Meaning

WHICH = "which of them"
"""What to ask about a code that several tests share and the list has no question for."""


@lru_cache(maxsize=1)
def _rows() -> dict[str, tuple[tuple[str, ...], str]]:
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
        for loinc, (listed, ask) in _rows().items():
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
