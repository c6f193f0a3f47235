"""``planner.load``: a round from its files, with the digest by which the same input is recognised later."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, time
from pathlib import Path
from typing import TYPE_CHECKING, TypedDict

from planner import __version__
from planner.domain.prices import with_prices
from planner.domain.problem import Problem
from planner.errors import InputError, RequestError
from planner.findings import Finding, Severity
from planner.loaders import LoadOptions, policy_errors
from planner.loaders import load as read_files
from planner.loaders.catalogue.sign_off import SIGN_OFF_FILE
from planner.loaders.during.shorthand import ShorthandError, parse_clock
from planner.loaders.names.row import NAMES_FILE
from planner.loaders.policy.prices import Prices, read_prices
from planner.loaders.sources import shown_name
from planner.loaders.values.moments import DayOrder
from planner.units import FIRST_YEAR, LAST_YEAR

if TYPE_CHECKING:
    from hashlib import _Hash as Hash


class InputDigest:
    """The digest of what a round was read from; the options of the plan are added when it is made.

    It is begun before the files are read: one that grows meanwhile then counts as another the next time. The folder of
    the site's own tables is known only when the policy was read, so it is added afterwards.
    """

    def __init__(self, path: Path, given: Iterable[object] = (), site: Path | None = None) -> None:
        self._digest = hashlib.sha256()
        _add_files(self._digest, _files_of(path))
        self.add(given, site)

    def add(self, given: Iterable[object], site: Path | None = None) -> None:
        """Add the options of reading, and the files in the folder of the site's own tables."""
        if site is not None and site.is_dir():
            _add_files(self._digest, sorted(p for p in site.iterdir() if p.is_file()))
        _add_values(self._digest, given)

    def priced(self, tried: Mapping[str, int]) -> InputDigest:
        """Return the digest of the same input planned with other prices than the site's."""
        other = InputDigest.__new__(InputDigest)
        other._digest = self._digest.copy()
        _add_values(other._digest, sorted(tried.items()))
        return other

    def with_options(self, options: Mapping[str, object]) -> str:
        """Return the digest of the input and of the options that change a plan or a sheet, as hexadecimal digits."""
        digest = self._digest.copy()
        _add_values(digest, options.items())
        return digest.hexdigest()


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadedRound:
    """A round as it was read.

    ``num_orders_read`` equals the orders of ``problem`` and those that it sets aside together: no order disappears.
    ``sources`` are the files and sheets that were used, ``name`` what the round is called.
    """

    problem: Problem
    findings: tuple[Finding, ...]
    sources: tuple[str, ...]
    num_orders_read: int
    name: str
    digest: InputDigest | None = field(default=None, repr=False, compare=False)


class LoadArguments(TypedDict, total=False):
    """What `load` may be given beside the path."""

    start: str | time | None
    day: str | date | None
    phlebotomists: int | None
    date_order: DayOrder | None
    ignore_policy: bool
    adults_only: bool
    site: str | Path | None


def load(
    path: str | Path,
    *,
    start: str | time | None = None,
    day: str | date | None = None,
    phlebotomists: int | None = None,
    date_order: DayOrder | None = None,
    ignore_policy: bool = False,
    adults_only: bool = False,
    site: str | Path | None = None,
) -> LoadedRound:
    """Return the round that a folder of tables, a workbook, a list of orders or messages describe.

    What a user can put right is in ``findings`` of the result; an order that cannot be planned is in
    ``problem.set_aside``, with the reason.

    Parameters
    ----------
    path
        The folder or file.
    start
        Begin of the round where no staff table states it, such as ``"05:00"``. Default: the policy's.
    day
        Day of the round, such as ``"2026-03-10"``. Default: the policy's, else that of the orders, else today.
    phlebotomists
        People who collect where no staff table states it. Default: the policy's.
    date_order
        ``"dmy"``, ``"mdy"`` or ``"ymd"`` for dates that can be read two ways. Default: found for each column.
    ignore_policy
        Go on although the policy has errors, with default values in place of what cannot be read.
    adults_only
        No ward of the round has children: a patient without a birth date is an adult.
    site
        Folder with the site's own tables for all its rounds. Default: the policy's ``site_folder``, if it is set.

    Raises
    ------
    InputError
        If there are no orders, or the policy has errors; it carries the findings.
    RequestError
        If ``start`` is no clock time or ``day`` no day from 1971 to 2199.
    """
    path, start_at = Path(path), parse_start(start)
    options = LoadOptions(
        round_date=parse_day(day),
        start=start_at,
        num_phlebotomists=phlebotomists,
        date_order=date_order,
        ignores_policy=ignore_policy,
        adults_only=adults_only,
        site=None if site is None else Path(site),
    )
    digest = InputDigest(path)
    read = read_files(path, options)
    if read.problem is None:
        raise InputError(f"no plan; {_why_none(read.findings)}", read.findings)
    given = [
        __version__,
        read.problem.clock,
        start_at and f"{start_at:%H:%M:%S}",
        phlebotomists,
        date_order,
        ignore_policy,
    ]
    digest.add([*given, *(["adults only"] if adults_only else [])], read.site)
    return LoadedRound(
        problem=read.problem,
        findings=read.findings,
        sources=read.sources,
        num_orders_read=read.num_orders_read,
        name=_round_name(path),
        digest=digest,
    )


def priced(loaded: LoadedRound, prices: Prices) -> LoadedRound:
    """Return a round with other prices than the site's for this once; without any, the round as it is.

    Raises
    ------
    RequestError
        If a price is unknown, given twice, no number or out of range.
    """
    tried = read_prices(prices)
    if not tried:
        return loaded
    digest = None if loaded.digest is None else loaded.digest.priced(tried)
    return replace(loaded, problem=with_prices(loaded.problem, tried), digest=digest)


def require_orders(loaded: LoadedRound) -> Problem:
    """Return the problem of a round that has orders to plan.

    Raises
    ------
    InputError
        If every order is set aside; the findings name each order with its reason.
    """
    problem = loaded.problem
    if problem.orders:
        return problem
    listed = tuple(
        Finding(
            code="order-set-aside",
            severity=Severity.ERROR,
            message=f"order {item.order_id}, bed {problem.place_name(item.bed) or '?'}: {item.detail}",
            source=item.source,
            order_ids=(item.order_id,),
        )
        for item in problem.set_aside
    )
    raise InputError(
        "no plan; every order that was read is set aside, for the reasons above", (*loaded.findings, *listed)
    )


def parse_day(value: str | date | None) -> date | None:
    """Return the day of a round; a text is YYYY-MM-DD.

    Raises
    ------
    RequestError
        If the text is no day, or the year is not one of a round.
    """
    if value is None:
        return None
    try:
        day = date.fromisoformat(value) if isinstance(value, str) else value
    except ValueError as error:
        raise RequestError(f"{value!r} is not a day; write YYYY-MM-DD, such as 2026-11-25", "date") from error
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise RequestError(f"{value} is no day of a round; years go from {FIRST_YEAR} to {LAST_YEAR}", "date")
    return day


def parse_start(value: str | time | None) -> time | None:
    """Return a clock time; a text is HH:MM, H.MM or HHMM.

    Raises
    ------
    RequestError
        If the text is no clock time.
    """
    if not isinstance(value, str):
        return value
    try:
        seconds = parse_clock(value)
        return time(seconds // 3600, seconds // 60 % 60, seconds % 60)
    except (ShorthandError, ValueError) as error:
        raise RequestError(f"{value!r} is not a clock time; write HH:MM, such as 05:00", "start") from error


def _files_of(path: Path) -> list[Path]:
    """Return the files that a round may be read from, in their order; none where there is no such round.

    Of a folder only its own files count, not what lies in folders below it (outputs, for one).
    """
    if path.is_file():
        return [path, *filter(Path.is_file, (path.parent / SIGN_OFF_FILE, path.parent / NAMES_FILE))]
    try:
        return sorted(file for file in path.iterdir() if file.is_file())
    except OSError:
        return []


def _add_files(digest: Hash, files: Iterable[Path]) -> None:
    """Add names and contents of files."""
    for file in files:
        digest.update(os.fsencode(file.name))
        digest.update(b"\0" + _content_digest(file))


def _content_digest(file: Path) -> bytes:
    """Return the digest of a file's content; one that may not be opened differs from every other content."""
    try:
        with file.open("rb") as content:
            return hashlib.file_digest(content, "sha256").digest()
    except OSError as error:
        return f"cannot be read: {error.errno}".encode()


def _add_values(digest: Hash, values: Iterable[object]) -> None:
    for value in values:
        digest.update(repr(value).encode() + b"\0")


def _why_none(findings: Iterable[Finding]) -> str:
    if policy_errors(findings):
        return "the policy has errors, which are listed above. Correct it, or plan with defaults: --ignore-policy"
    return "nothing that could be planned was read"


def _round_name(path: Path) -> str:
    """Return the name of a round from its path: of the folder, or of the file without its ending."""
    resolved = path.resolve()
    return shown_name(resolved.name if resolved.is_dir() else resolved.stem)
