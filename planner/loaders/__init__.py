"""Reads a round from files: whatever the format, it ends in one `Problem` and a list of findings."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from planner.domain.problem import Problem
from planner.finding_codes import POLICY_CODES
from planner.findings import Finding, Report, Severity, Source
from planner.loaders.build.options import LoadOptions
from planner.loaders.build.problem import build_problem
from planner.loaders.sources import read_sources, shown_name, site_folder

__all__ = ["LoadOptions", "Loaded", "load", "policy_errors"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Loaded:
    """What was read. ``problem`` is None when there is nothing to plan; then a finding is an error.

    ``sources`` are the files and sheets that were used. ``num_orders_read`` equals the orders of the problem and
    those set aside together: no order disappears.
    """

    problem: Problem | None
    findings: tuple[Finding, ...]
    sources: tuple[str, ...]
    num_orders_read: int
    site: Path | None = None
    """The folder of the site's own tables that the round was read with, if there was one."""


def load(path: Path, options: LoadOptions | None = None) -> Loaded:
    """Return the round that a folder, a workbook or a single order list describes. Bad input never raises.

    A policy with errors is not planned with, unless the options say so: its defaults may be another site's limits.
    """
    options = options or LoadOptions()
    report = Report()
    if not path.exists():
        message = "there is no such file or folder; check the name"
        report.add("input-not-found", Severity.ERROR, message, source=Source(file=shown_name(path.name)))
        return Loaded(problem=None, findings=tuple(report), sources=(), num_orders_read=0)
    if not path.is_file() and not path.is_dir():
        message = "this is neither a file nor a folder; name an order list, a workbook or a folder of tables"
        report.add("input-unreadable", Severity.ERROR, message, source=Source(file=shown_name(path.name)))
        return Loaded(problem=None, findings=tuple(report), sources=(), num_orders_read=0)
    raw = read_sources(path, report, site=options.site)
    problem, count = build_problem(raw, options, report)
    if policy_errors(report) and not options.ignores_policy:
        problem = None
    elif problem is None:
        message = "no orders were found; a round needs a table of orders with at least patient number and test"
        report.add("no-orders", Severity.ERROR, message, source=Source(file=shown_name(path.name)))
    return Loaded(
        problem=problem,
        findings=tuple(report),
        sources=tuple(raw.sources),
        num_orders_read=count,
        site=site_folder(path if path.is_dir() else path.parent, options.site, raw.policy_text),
    )


def policy_errors(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return what is wrong with the policy, so that a value of the site may not be in force."""
    return tuple(f for f in findings if f.code in POLICY_CODES and f.severity is Severity.ERROR)
