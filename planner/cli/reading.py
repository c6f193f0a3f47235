"""Reads a round for a command: findings to standard error, a digest, exit 4 when nothing can be planned."""

from __future__ import annotations

import hashlib
import os
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from planner.cli.exit_codes import ExitCode
from planner.cli.options import DateOrder, parse_clock, parse_day

if TYPE_CHECKING:
    from planner.domain.plan import Unplanned
    from planner.domain.problem import Problem
    from planner.findings import Finding
    from planner.loaders import Loaded

MAX_SHOWN = 40
"""Findings printed on the terminal; the plan keeps them all."""


def read_round(
    path: Path,
    *,
    start: str | None,
    day: str | None,
    phlebotomists: int | None,
    date_order: DateOrder | None,
    ignore_policy: bool,
    adults_only: bool = False,
    site: Path | None = None,
) -> Loaded:
    """Return what was read; findings are the caller's to print."""
    from planner.loaders import LoadOptions, load

    return load(
        path,
        LoadOptions(
            round_date=parse_day(day),
            start=parse_clock(start),
            num_phlebotomists=phlebotomists,
            date_order=None if date_order is None else date_order.value,
            ignores_policy=ignore_policy,
            adults_only=adults_only,
            site=site,
        ),
    )


def require_problem(loaded: Loaded) -> Problem:
    """Return the problem; when there is none, print why and exit with code 4."""
    if loaded.problem is None:
        print_findings(loaded.findings)
        print(f"planner: no plan; {_why_none(loaded.findings)}", file=sys.stderr)
        raise typer.Exit(ExitCode.NO_PLAN)
    if not loaded.problem.orders:
        from planner.findings import printable

        print_findings(loaded.findings)
        for order in loaded.problem.set_aside:
            bed = loaded.problem.place_name(order.bed) or "?"
            print(printable(f"not planned: order {order.order_id}, bed {bed}: {order.detail}"), file=sys.stderr)
        print("planner: no plan; every order that was read is set aside, for the reasons above", file=sys.stderr)
        raise typer.Exit(ExitCode.NO_PLAN)
    return loaded.problem


def _why_none(findings: Iterable[Finding]) -> str:
    from planner.loaders import policy_errors

    if policy_errors(findings):
        return "the policy has errors, which are listed above. Correct it, or plan with defaults: --ignore-policy"
    return "nothing that could be planned was read"


def asks_for_person(unplanned: Iterable[Unplanned], findings: Iterable[Finding]) -> bool:
    """Return whether a person must decide something: of an order set aside or planned, or of what was not read."""
    from planner.findings import to_decide, unread

    findings = tuple(findings)
    is_waiting = any(order.reason.needs_decision for order in unplanned)
    return is_waiting or bool(unread(findings)) or bool(to_decide(findings))


def print_findings(
    findings: Iterable[Finding], *, with_notes: bool = False, hidden_are: str = "planner check shows them"
) -> None:
    """Print findings to standard error, errors first; notes only counted unless asked for, long lists cut short.

    ``hidden_are`` says where the notes are that are only counted.
    """
    from planner.findings import Severity

    ranked = sorted(findings, key=lambda f: list(Severity).index(f.severity))
    shown = [f for f in ranked if with_notes or f.severity is not Severity.NOTE]
    for finding in shown[:MAX_SHOWN]:
        print(finding, file=sys.stderr)
    if len(shown) > MAX_SHOWN:
        print(f"... and {len(shown) - MAX_SHOWN} more findings; the plan file holds them all", file=sys.stderr)
    if hidden := len(ranked) - len(shown):
        notes = "1 note" if hidden == 1 else f"{hidden} notes"
        print(f"{notes} on how files were read: {hidden_are}", file=sys.stderr)


def round_name(path: Path) -> str:
    """Return the name of a round from its path: of the folder, or of the file without its ending."""
    from planner.loaders.sources import shown_name

    resolved = path.resolve()
    return shown_name(resolved.name if resolved.is_dir() else resolved.stem)


def _content_digest(file: Path) -> bytes:
    """Return the digest of a file's content; one that may not be opened differs from every other content."""
    try:
        return hashlib.sha256(file.read_bytes()).digest()
    except OSError as error:
        return f"cannot be read: {error.errno}".encode()


def inputs_digest(path: Path, extra: Iterable[object], site: Path | None = None) -> str:
    """Return a digest of the files that a round may be read from and of the options that change a plan.

    Of a folder only its own files count, not what lies in folders below it (outputs, for one). ``site`` is the folder
    of the site's own tables that the round is read with.
    """
    from planner.loaders.catalogue.sign_off import SIGN_OFF_FILE
    from planner.loaders.names.row import NAMES_FILE

    digest = hashlib.sha256()
    beside = [path.parent / SIGN_OFF_FILE, path.parent / NAMES_FILE]
    files = sorted(p for p in path.iterdir() if p.is_file()) if path.is_dir() else [path, *filter(Path.is_file, beside)]
    of_site = sorted(p for p in site.iterdir() if p.is_file()) if site is not None and site.is_dir() else []
    for file in (*files, *of_site):
        digest.update(os.fsencode(file.name))
        digest.update(b"\0" + _content_digest(file))
    for value in extra:
        digest.update(repr(value).encode() + b"\0")
    return digest.hexdigest()
