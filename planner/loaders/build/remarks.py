"""Rows of text beside the orders of a list: one that names a patient, a bed or a test may be an order."""

from __future__ import annotations

import re
from dataclasses import replace

from planner.domain.beds import BedNamed
from planner.domain.problem import Problem
from planner.findings import Report, Severity
from planner.loaders.catalogue.lookup import TestLookup
from planner.loaders.tables.records import RawRound

_WORD = re.compile(r"\w[\w./-]*")
_MOST_WORDS = 4
"""Words that the name of a test is looked for in (engineering choice)."""
_MOST_READ = 100
"""Words of one row that are looked at; a longer text needs a decision whatever it says (engineering choice)."""


def report_typed_orders(raw: RawRound, tests: TestLookup, report: Report, begun: Problem | None = None) -> None:
    """Ask about rows of one cell that name a patient number, a bed (ward and bed) or a test, in lists of a round.

    ``begun`` is the round that a list comes to. A title above the headings may name a test: lists are called after
    what is on them.
    """
    tables = [*raw.of("orders"), *raw.of("patients")]
    records = [record for table in tables for record in table.records]
    people = {(r.text("patient_number"), r.text("ward"), r.text("bed")) for r in records}
    if begun is not None:
        people |= {(p.id, p.ward, begun.places[p.bed].label) for p in begun.patients.values()}
    known = {number.casefold() for number, _, _ in people if number}
    bed_in = BedNamed((ward, bed) for _, ward, bed in people)
    for table in tables:
        typed = [
            row
            for row, text in table.remarks.items()
            if len(_WORD.findall(text)) > _MOST_READ
            or not known.isdisjoint(word.casefold().rstrip("./-") for word in _WORD.findall(text))
            or bed_in(text)
            or (row not in table.titles and _names_test(text, tests))
        ]
        if typed:
            rows = ", ".join(map(str, typed[:10]))
            message = (
                f"{'row' if len(typed) == 1 else 'rows'} {rows}: one cell of text that names a patient, a bed or a "
                "test, so it may be an order; it was not read as one. Write an order as a row of its own"
            )
            report.add("text-row", Severity.ERROR, message, source=replace(table.source, row=typed[0]))


def _names_test(text: str, tests: TestLookup) -> bool:
    words = _WORD.findall(text)
    starts = range(len(words))
    spans = (" ".join(words[i : i + n]) for n in range(1, _MOST_WORDS + 1) for i in starts if i + n <= len(words))
    return any(sum(map(str.isalpha, span)) > 2 and tests.meaning(span) for span in spans)
