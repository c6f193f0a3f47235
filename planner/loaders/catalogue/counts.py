"""Numbers in the name of a test, such as 'Blood culture x2' or '2 sets'."""

from __future__ import annotations

import re
from functools import lru_cache

MOST = 6
"""More of one test at once is no number of sets but a slip, or part of a name (engineering choice)."""
_WORDS = {"two": 2, "three": 3, "four": 4, "a pair of": 2, "pair of": 2, "pair": 2, "zwei": 2, "drei": 3, "deux": 2}
_NUMBER = rf"(\d{{1,2}}|{'|'.join(_WORDS)})"
_SETS = r"(?:sets?|pairs?|paare?|bottle sets?|kits?|séries?)"
_FORMS = (
    re.compile(rf"^(?P<name>.+?)[\s,;(]*[x×*]\s*(?P<n>{_NUMBER})\s*(?:{_SETS})?\s*\)?$", re.IGNORECASE),
    re.compile(rf"^(?P<name>.+?)[\s,;(]+(?P<n>{_NUMBER})\s*(?:x|×|{_SETS})\s*\)?$", re.IGNORECASE),
    re.compile(rf"^(?P<n>{_NUMBER})\s*(?:x|×|\*|{_SETS}(?:\s+of)?)\s*(?P<name>.+)$", re.IGNORECASE),
)


@lru_cache(maxsize=1024)
def split_count(text: str) -> tuple[str, int] | None:
    """Return name and number of 'Blood culture x2', '2 sets of blood cultures', 'Blood culture (3 sets)'."""
    for form in _FORMS:
        if match := form.match(text.strip()):
            word = match["n"].lower()
            number = _WORDS.get(word) or int(word)
            if 1 <= number <= MOST:
                return match["name"].strip(" ,;-("), number
    return None
