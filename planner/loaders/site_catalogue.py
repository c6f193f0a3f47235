"""The laboratory's catalogue as a round's folder, workbook or list has it, without anything else of the round."""

from __future__ import annotations

from pathlib import Path

from planner.domain.catalogue import Catalogue
from planner.findings import Report
from planner.loaders.build.problem import site_rows
from planner.loaders.catalogue.load import load_catalogue
from planner.loaders.sources import read_sources


def site_catalogue(path: Path, report: Report) -> Catalogue:
    """Return the built-in catalogue with the site's rows laid over it; only what is wrong with those is reported."""
    raw = read_sources(path, Report())
    catalogue, findings = load_catalogue(site_rows(raw, "tests"), site_rows(raw, "tubes"))
    report.extend(findings)
    return catalogue
