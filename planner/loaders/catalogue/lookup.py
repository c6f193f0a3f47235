"""Finds the laboratory test that an order means: by site code, LOINC or name, with near misses to suggest."""

from __future__ import annotations

import re
from collections.abc import Iterator
from difflib import get_close_matches

from planner.domain.catalogue import Catalogue, LabTest, TestCode
from planner.loaders.catalogue.counts import split_count
from planner.loaders.catalogue.everyday_names import BETWEEN, TestCodes, TestNames
from planner.loaders.catalogue.meaning import Meaning
from planner.loaders.names.known import SiteNames
from planner.loaders.tables.headings import plain

_MAX_SUGGESTIONS = 3
_MAX_HINTS = 60
"""So many different unknown names of a round get suggestions: each is compared with every name of the list."""
_LIKE_A_NAME = 0.78
_LIKE_A_CODE = 0.6
_NO_HINT = (
    "use a code of the catalogue ('planner catalogue' lists them), say what it means in the table of 'planner names', "
    "or add the test to the table 'tests'"
)


class TestLookup:
    """Look-up of tests, remembering what it has found."""

    __test__ = False

    def __init__(self, catalogue: Catalogue, site_names: SiteNames | None = None) -> None:
        self._catalogue = catalogue
        self._site_names = site_names or SiteNames()
        self._codes = TestCodes(catalogue)
        self._names = TestNames(catalogue)
        self._found: dict[str, Meaning | None] = {}
        self._hints: dict[str, str] = {}

    def meaning(self, text: str) -> Meaning | None:
        """Return what a code, a LOINC code or a name means; None when it is not known.

        A name of the site settles what is not known or can mean several tests, and never hides a test that is sure:
        names of sites are compared without signs, so that 'CR/P' is 'CRP' too.
        """
        if text not in self._found:
            known = self._codes.meaning(text) or self._names.meaning(text)
            self._found[text] = known if known and known.sure else self._own(text) or known
        return self._found[text]

    def _own(self, text: str) -> Meaning | None:
        """Return what the site's own name for a test means."""
        code = self._site_names.test(text)
        return None if code is None or code not in self._catalogue.tests else Meaning((code,))

    def find(self, text: str) -> TestCode | None:
        """Return the test that is meant; None when the text is not known, or can mean several tests."""
        meaning = self.meaning(text)
        return meaning.sure if meaning else None

    def test(self, code: TestCode) -> LabTest:
        """Return the test of a code."""
        return self._catalogue.tests[code]

    def counted(self, text: str) -> tuple[str, int] | None:
        """Return name and number of a text such as 'Blood culture x2'; None when it states no number."""
        if not text or self.meaning(text):
            return None
        split = split_count(text)
        return split if split and self.meaning(split[0]) else None

    def several(self, text: str) -> list[str]:
        """Return the parts of a cell that lists several tests; just the cell when it does not."""
        if not text or self.meaning(text) or not BETWEEN.search(text) or self.counted(text):
            return [text]
        parts = [part.strip() for part in BETWEEN.split(text) if part.strip()]
        if len(parts) < 2:
            return [text]
        is_list = any(map(self._is_sure, parts)) or all(map(self.meaning, parts))
        return parts if is_list else [text]

    def _is_sure(self, text: str) -> bool:
        counted = self.counted(text)
        return self.find(counted[0] if counted else text) is not None

    def hint(self, text: str) -> str:
        """Return what to do about a text that means no test, or more than one."""
        if meaning := self.meaning(text):
            words = " or ".join(map(self._words, meaning.tests))
            return f"can mean {words} ({meaning.ask}); write the code of the one that is meant"
        return f"is not in the catalogue; {self.nearest(text)}"

    def nearest(self, text: str) -> str:
        """Return a hint with the tests most like a text."""
        if text not in self._hints:
            if len(self._hints) >= _MAX_HINTS:
                return _NO_HINT
            codes = self.alike(text)
            self._hints[text] = f"nearest: {', '.join(map(self._words, codes))}" if codes else _NO_HINT
        return self._hints[text]

    def alike(self, text: str) -> list[TestCode]:
        """Return the tests most like a text that means none, the nearest first."""
        return list(dict.fromkeys(self._alike(text)))[:_MAX_SUGGESTIONS]

    def _alike(self, text: str) -> Iterator[TestCode]:
        """Yield tests: those named in a part of the text, those whose name holds it, those spelled like it."""
        for word in re.findall(r"\w{3,}", text):
            if meaning := self.meaning(word):
                yield from meaning.tests
        wanted = plain(text)
        if len(wanted) < 3:
            return
        by_key = self._names.by_key
        for key, meaning in by_key.items():
            if wanted in key:
                yield from meaning.tests
        for key in get_close_matches(wanted, by_key, n=_MAX_SUGGESTIONS, cutoff=_LIKE_A_NAME):
            yield from by_key[key].tests
        codes = [str(code) for code in self._catalogue.tests]
        for code in get_close_matches(text.upper(), codes, n=_MAX_SUGGESTIONS, cutoff=_LIKE_A_CODE):
            yield TestCode(code)

    def _words(self, code: TestCode) -> str:
        return f"{code} ({self._catalogue.tests[code].name})"
