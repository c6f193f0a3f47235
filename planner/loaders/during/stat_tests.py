"""Looks up the tests that are asked for at once: site codes, LOINC codes or names, with near misses to suggest."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from planner.domain.catalogue import Catalogue
from planner.domain.revisions.changes import Change, StatOrders
from planner.domain.site_names import SiteName
from planner.finding_codes import Code
from planner.findings import Finding, Report, Severity, Source
from planner.loaders.build.orders import ARTERIAL_TESTS
from planner.loaders.catalogue.lookup import TestLookup
from planner.loaders.names.known import SiteNames

_OPTION = Source(file="--stat")


def look_up_tests(
    changes: Iterable[Change], catalogue: Catalogue, site_names: Iterable[SiteName] = ()
) -> tuple[tuple[Change, ...], tuple[Finding, ...]]:
    """Return the changes with codes for tests; a test that is not known, or not clearly one, is a finding.

    The other tests of the same change go on; a change of which no test is left is dropped.
    """
    report = Report()
    lookup = TestLookup(catalogue, SiteNames(site_names))
    kept: list[Change] = []
    for change in changes:
        if not isinstance(change, StatOrders):
            kept.append(change)
            continue
        codes = tuple(code for text in change.tests for code in _codes(text, change, lookup, report))
        if codes:
            kept.append(replace(change, tests=codes))
    return tuple(kept), tuple(report)


def _codes(text: str, change: StatOrders, lookup: TestLookup, report: Report) -> list[str]:
    """Return the codes of what is written between two commas; a number of culture sets is as many codes."""
    codes: list[str] = []
    for part in lookup.several(text):
        name, number = lookup.counted(part) or (part, 1)
        code = lookup.find(name)
        if code is None:
            kind: Code = "test-unclear" if lookup.meaning(name) else "unknown-test"
            message = f"stat at bed {change.bed}: test {name!r} {lookup.hint(name)}. It is not ordered"
            report.add(kind, Severity.ERROR, message, source=_OPTION)
        elif code in ARTERIAL_TESTS:
            message = (
                f"stat at bed {change.bed}: {code} is arterial blood, which no phlebotomy round draws; call for it"
            )
            report.add("not-venous", Severity.ERROR, message, source=_OPTION)
        else:
            codes += [code] * (number if lookup.test(code).is_culture else 1)
    return codes
