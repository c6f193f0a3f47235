"""Words of ``planner catalogue --hazards``: what could hurt somebody, what the program does, what is left to people."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from textwrap import wrap

from planner.domain.hazards import Hazard

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


def hazard_lines(hazards: Sequence[Hazard]) -> tuple[str, ...]:
    """Return the page of these hazards, which come with the most severe first, wrapped for a terminal."""
    return (*wrap(_ABOUT, _WIDTH), *_by_severity(hazards))


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
