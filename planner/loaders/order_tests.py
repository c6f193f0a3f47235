"""Finds the laboratory test that an order means: by site code, LOINC or name, with near misses to suggest."""

from __future__ import annotations

import re
from difflib import get_close_matches

from planner.domain.catalogue import Catalogue, TestCode
from planner.loaders.catalogue import find_tests
from planner.loaders.headings import plain

_BETWEEN = re.compile(r"[;,+/|\n]")


class TestLookup:
    """Look-up of tests, remembering what it has found."""

    __test__ = False

    def __init__(self, catalogue: Catalogue) -> None:
        self._catalogue = catalogue
        self._found: dict[str, TestCode | None] = {}
        self._by_name: dict[str, TestCode] = {}
        for code, test in catalogue.tests.items():
            self._by_name.setdefault(plain(test.name), code)
            self._by_name.setdefault(plain(re.sub(r"\(.*?\)", "", test.name)), code)

    def find(self, text: str) -> TestCode | None:
        """Return the test of a code, a LOINC code or a name; None when it is not known."""
        if text not in self._found:
            codes = find_tests(self._catalogue, text)
            self._found[text] = codes[0] if codes else self._by_name.get(plain(text))
        return self._found[text]

    def several(self, text: str) -> list[str]:
        """Return the parts of a cell that lists several tests; just the cell when it does not."""
        if not text or self.find(text) or not _BETWEEN.search(text):
            return [text]
        parts = [part.strip() for part in _BETWEEN.split(text) if part.strip()]
        return parts if len(parts) > 1 and any(self.find(part) for part in parts) else [text]

    def nearest(self, text: str) -> str:
        """Return a hint with the tests most like a text."""
        wanted = plain(text)
        named = [str(code) for name, code in self._by_name.items() if len(wanted) > 2 and wanted in name]
        cutoff = 0.75 if named else 0.6
        close = get_close_matches(text.upper(), [str(c) for c in self._catalogue.tests], n=3, cutoff=cutoff)
        codes = list(dict.fromkeys([*named, *close]))[:3]
        if not codes:
            return "use a code of the catalogue, or add the test to the table 'tests'"
        names = ", ".join(f"{code} ({self._catalogue.tests[TestCode(code)].name})" for code in codes)
        return f"nearest: {names}"
