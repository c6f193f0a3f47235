"""Words of ``planner catalogue --hazards``: what could hurt somebody, what the program does, what is left to people."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from textwrap import wrap

from planner.loaders.catalogue.hazards import Hazard, load_hazards

_WIDTH = 80
_INDENT = " " * 4
_ABOUT = (
    "What could hurt somebody on a collection round, what this program does about it, and what it does not do. "
    "The most severe come first. The list is ours and cannot be complete: local policy, the laboratory's handbook and "
    "the judgement of the person who collects come first. The program reads files and writes files; it sees no patient."
)
_SEVERITY = {
    5: "death or lasting harm is possible",
    4: "serious harm is possible",
    3: "harm that passes, or a wrong result likely to be noticed",
    2: "discomfort or delay",
    1: "nuisance",
}
_NOTHING = "no gap that we know of"


def hazard_lines(words: Sequence[str] = ()) -> tuple[str, ...]:
    """Return the page, wrapped for a terminal: the hazards that have all these words, the most severe first.

    Nothing is returned where no hazard has the words.
    """
    found = sorted((h for h in load_hazards() if _has(h, words)), key=lambda hazard: -hazard.severity)
    return (*wrap(_ABOUT, _WIDTH), *_by_severity(found)) if found else ()


def _has(hazard: Hazard, words: Sequence[str]) -> bool:
    text = " ".join((hazard.id, hazard.hazard, hazard.sequence, hazard.harm, hazard.control, hazard.not_controlled))
    return all(word.casefold() in text.casefold() for word in words)


def _by_severity(hazards: Sequence[Hazard]) -> Iterator[str]:
    for severity, group in groupby(hazards, key=lambda hazard: hazard.severity):
        yield from ("", f"SEVERITY {severity} of 5: {_SEVERITY[severity]}")
        for hazard in group:
            yield from ("", *_indented(f"{hazard.id}  {hazard.hazard}", ""))
            yield from _indented(f"How: {hazard.sequence}. Harm: {hazard.harm}.", _INDENT)
            yield from _indented(f"Done about it: {hazard.control}.", _INDENT)
            yield from _indented(f"Not controlled: {hazard.not_controlled or _NOTHING}.", _INDENT)


def _indented(text: str, indent: str) -> list[str]:
    return wrap(text, _WIDTH, initial_indent=indent, subsequent_indent=indent + "  ")
