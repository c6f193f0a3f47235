"""What was reported since the last revision, in the words of the options of ``planner replan``, or typed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from pathlib import Path

from planner.domain.plan import Outcome, Plan
from planner.domain.problem import Problem
from planner.domain.revisions.changes import Away, Change, Gone, Moved, NewBed, Refused, StatOrders
from planner.domain.revisions.reported import Reported
from planner.domain.staff import find_people, misspelt, which_person
from planner.errors import InputError, RequestError
from planner.findings import Finding, Severity, Source
from planner.loaders.during.new_orders import read_new_orders
from planner.loaders.during.progress import read_progress
from planner.loaders.during.shorthand import PARSERS, ShorthandError, parse_clock, parse_report, parse_up_to
from planner.loaders.during.stat_tests import look_up_tests
from planner.loaders.during.typed import beds_not_found, parse_done, report_up_to, report_visits
from planner.loaders.during.visit_book import VisitBook
from planner.loaders.names.known import SiteNames
from planner.loaders.sources import TEXT_ENDINGS, WORKBOOK_ENDINGS

OUTCOMES = {
    "drawn": Outcome.COLLECTED,
    "refused": Outcome.REFUSED,
    "unidentified": Outcome.UNIDENTIFIED,
    "failed": Outcome.UNSUCCESSFUL,
}
"""The options that report what became of the visit to a bed, and the outcome."""


@dataclass(frozen=True, slots=True, kw_only=True)
class News:
    """What was reported since the last revision: every field is a list, each item as behind the option of that name.

    A bed may be written as ward and bed, or as a patient or order number. ``done`` and ``orders`` also take files.
    ``changes`` and ``reports`` (`planner.domain.revisions`, modules `changes` and `reported`) are the same as values,
    for programs that need no shorthand.
    """

    done: Sequence[str | Path] = ()
    """Progress files, beds that were drawn: ``"12,14B"``, or how far somebody has come: ``"AB=06:20"``."""
    orders: Sequence[str | Path] = ()
    """Lists of orders; the whole list may be given again."""
    drawn: Sequence[str] = ()
    """``"14=05:38"``: the patient was drawn at that time; ``"14=05:38 by AB"`` or ``"14 by AB"``: by that person."""
    refused: Sequence[str] = ()
    """``"7"`` or ``"7=05:40"``."""
    unidentified: Sequence[str] = ()
    """``"7"`` or ``"7=05:40"``: not drawn, as nobody could say who the patient is."""
    failed: Sequence[str] = ()
    """``"7"`` or ``"7=05:40"``: two attempts without success."""
    stat: Sequence[str] = ()
    """``"14:POT,LACT"``: tests wanted at once."""
    dose: Sequence[str] = ()
    """``"L4711=07:30"``: the dose is given at that time."""
    time: Sequence[str] = ()
    """``"L4711=06:15"``: the order is to be drawn at that time."""
    cancel: Sequence[str] = ()
    """Numbers of orders that are no longer wanted."""
    away: Sequence[str] = ()
    """``"7=05:42-06:30"``, or ``"7=06:30"``: from now until then."""
    moved: Sequence[str] = ()
    """``"14=16"``: the patient of the first bed lies in the second."""
    new_bed: Sequence[str] = ()
    """``"Alder 15"``: a bed that the map and the lists lack, to move somebody to."""
    gone: Sequence[str] = ()
    """Beds whose patients have left."""
    late: Sequence[str] = ()
    """``"IS=20"`` (minutes) or ``"IS=06:10"``."""
    lost: Sequence[str] = ()
    """Names or initials of phlebotomists who collect no more."""
    never_came: Sequence[str] = ()
    """Names or initials of phlebotomists who did not come at all."""
    join: Sequence[str] = ()
    """``"Ann Bell=06:00"``: one more phlebotomist from that time on."""
    courier: Sequence[str] = ()
    """``"Shelf=+15"``, ``"Shelf=06:30,07:00"`` or ``"Shelf=none"``."""
    recollect: Sequence[str] = ()
    """Numbers of orders that must be drawn again."""
    changes: Sequence[Change] = ()
    """The same as values."""
    reports: Sequence[Reported] = ()
    """What became of visits, as values."""

    def written(self) -> Iterator[tuple[str, Sequence[str | Path]]]:
        """Yield the options and what is written behind each, for those that have something."""
        for each in fields(self):
            if each.name not in ("changes", "reports") and (texts := getattr(self, each.name)):
                yield each.name.replace("_", "-"), texts

    @property
    def outcomes(self) -> dict[str, Sequence[str]]:
        """What is written behind the options of `OUTCOMES`."""
        return {name: getattr(self, name) for name in OUTCOMES}


@dataclass(frozen=True, slots=True, kw_only=True)
class NewsRead:
    """What news come to in a round: reports of visits, changes with their tests looked up, what was found in them.

    ``refused`` is what was not understood; its findings are among the others.
    """

    reports: tuple[Reported, ...]
    changes: tuple[Change, ...]
    findings: tuple[Finding, ...]
    refused: tuple[Refused, ...]


def parse_news(news: News) -> tuple[Change, ...]:
    """Return the changes that news state, before anybody looks at the round.

    Raises
    ------
    RequestError
        If a text cannot be read; the message has a line for each.
    """
    changes = parse_changes({name: [str(text) for text in texts] for name, texts in news.written() if name in PARSERS})
    check_reports(news.outcomes)
    _require_files(news)
    return (*changes, *news.changes)


def read_news(news: News, changes: Sequence[Change], problem: Problem, plan: Plan, now_s: int) -> NewsRead:
    """Return what news come to in a round; ``changes`` are those that `parse_news` returned.

    Raises
    ------
    InputError
        If a file has faults and nothing of it can be used.
    """
    reports, of_reports, not_read = read_done([str(text) for text in news.done], problem, plan, now_s, news.outcomes)
    looked_up, of_changes, not_found = read_changes(changes, [Path(path) for path in news.orders], problem)
    unknown = (*_unknown_visits(news.reports, plan), *_unknown_people(news.reports, problem))
    return NewsRead(
        reports=(*reports, *news.reports),
        changes=looked_up,
        findings=(*of_reports, *of_changes, *(part.finding for part in unknown)),
        refused=(*not_read, *not_found, *unknown),
    )


def _unknown_visits(reports: Sequence[Reported], plan: Plan) -> Iterator[Refused]:
    """Yield what is reported as a value of a visit that the plan does not have."""
    known = {visit.draw_id for route in plan.routes for visit in route.visits}
    for report in reports:
        if report.draw_id not in known:
            message = f"no visit of this plan is {report.draw_id!r}; a report as a value names a visit by its draw_id"
            finding = Finding(
                code="order-not-found", severity=Severity.ERROR, message=message, order_ids=report.order_ids
            )
            yield Refused(option="reports", typed=str(report.draw_id), finding=finding)


def _unknown_people(reports: Sequence[Reported], problem: Problem) -> Iterator[Refused]:
    """Yield what is reported as a value of somebody who is not of the staff: nobody's past would have it."""
    for report in reports:
        if report.drawn_by is not None and not 0 <= report.drawn_by < len(problem.staff):
            message = f"drawn_by {report.drawn_by} of {report.draw_id!r} is no place in the staff; count from 0"
            finding = Finding(
                code="person-not-found", severity=Severity.ERROR, message=message, order_ids=report.order_ids
            )
            yield Refused(option="reports", typed=str(report.draw_id), finding=finding)


def parse_changes(values: Mapping[str, Sequence[str] | None]) -> tuple[Change, ...]:
    """Return the changes that the options state, by option name such as ``stat``; all bad values are told at once.

    Raises
    ------
    RequestError
        If a value cannot be read; the message has a line for each.
    """
    changes: list[Change] = []
    faults: list[str] = []
    for name, texts in values.items():
        for text in texts or ():
            try:
                changes.append(replace(PARSERS[name](text), typed=text))
            except ShorthandError as error:
                faults.append(f"--{name}: {error}")
    if faults:
        raise RequestError("\n".join(faults))
    return tuple(changes)


def parse_now(text: str, problem: Problem) -> int:
    """Return the instant of a clock time on the day that brings it nearest to the middle of the round.

    Raises
    ------
    RequestError
        If the text is no clock time.
    """
    try:
        wall_s = parse_clock(text)
    except ShorthandError as error:
        raise RequestError(f"--now: {error}") from error
    return problem.clock.near(wall_s, (problem.start_s + problem.end_s) // 2)


def read_done(
    texts: Sequence[str] | None,
    problem: Problem,
    plan: Plan,
    now_s: int,
    outcomes: Mapping[str, Sequence[str] | None] | None = None,
) -> tuple[tuple[Reported, ...], tuple[Finding, ...], tuple[Refused, ...]]:
    """Return what is reported of visits, what was found, and what was not understood.

    Parameters
    ----------
    texts
        The values of ``--done``: each a file, or beds.
    outcomes
        The values of the options of `OUTCOMES`, by option.

    Raises
    ------
    InputError
        If a file has faults and nothing of it can be used.
    """
    book = VisitBook(problem, plan, now_s)
    reports: list[Reported] = []
    findings: list[Finding] = []
    refused: list[Refused] = []
    given = [("done", text) for text in texts or ()]
    given += [(name, text) for name, values in (outcomes or {}).items() for text in values or ()]
    for name, text in given:
        wrong: list[str] = []
        instead = ""
        told: tuple[Reported, ...]
        found: tuple[Finding, ...]
        if name != "done":
            typed = parse_report(name, text)
            people = find_people(problem.staff, typed.by) if typed.by else ()
            if typed.by and len(people) != 1:
                message, source = which_person(problem.staff, typed.by), Source(file=f"--{name}")
                found = (Finding(code="person-not-found", severity=Severity.ERROR, message=message, source=source),)
                told, wrong = (), [typed.by]
                instead = "" if people else misspelt(problem.staff, typed.by)
            else:
                by = people[0] if people else None
                named = [(typed.bed, typed.wall_s)]
                told, found = report_visits(named, OUTCOMES[name], book, f"--{name}", is_by_itself=True, drawn_by=by)
                wrong = beds_not_found(typed.bed, book)
        elif up_to := parse_up_to(text, problem.staff):
            each = [report_up_to(person, wall_s, book) for person, wall_s in up_to]
            told, found = (tuple(one for parts in both for one in parts) for both in zip(*each, strict=True))
        elif is_file(text):
            told, found = read_progress(Path(text), problem, plan, now_s)
            if not told and (faults := [str(f) for f in found if f.severity is Severity.ERROR]):
                lines = "\n  ".join(faults)
                raise InputError(f"--done {text}: nothing of it can be used, so nothing is written\n  {lines}", found)
        else:
            told, found = parse_done(text, problem, plan, now_s)
            wrong = beds_not_found(text, book)
        reports += told
        findings += found
        errors = [finding for finding in found if finding.severity is Severity.ERROR]
        for n, finding in enumerate(errors):
            part = wrong[n] if finding.code in ("bed-not-found", "person-not-found") and n < len(wrong) else ""
            refused.append(Refused(option=name, typed=text, finding=finding, wrong=part, instead=instead))
    return tuple(reports), tuple(findings), tuple(refused)


def check_reports(outcomes: Mapping[str, Sequence[str] | None]) -> None:
    """Refuse values of the options of `OUTCOMES` that cannot be read, all at once.

    Raises
    ------
    RequestError
        If one cannot be read.
    """
    faults: list[str] = []
    for name, texts in outcomes.items():
        for text in texts or ():
            try:
                parse_report(name, text)
            except ShorthandError as error:
                faults.append(f"--{name}: {error}")
    if faults:
        raise RequestError("\n".join(faults))


def _require_files(news: News) -> None:
    """Refuse a file that is not there: replanned without it, what it tells would be taken not to have happened.

    Raises
    ------
    RequestError
        If one is missing; each has its line.
    """
    done = [str(text) for text in news.done]
    faults = [f"--done: {text}: there is no such file" for text in done if is_file(text) and not is_there(text)]
    faults += [f"--orders: {path}: there is no such file" for path in news.orders if not is_there(path)]
    if faults:
        raise RequestError("\n".join(faults))


def is_file(text: str) -> bool:
    """Return whether a value of ``--done`` means a file: one is there, or it ends like one."""
    return is_there(text) or Path(text).suffix.lower() in TEXT_ENDINGS | WORKBOOK_ENDINGS


def is_there(name: str | Path) -> bool:
    """Return whether there is a file of this name; a text that can be none, such as a long list of beds, is none."""
    try:
        return Path(name).is_file()
    except (OSError, ValueError):
        return False


def read_changes(
    changes: Sequence[Change], files: Sequence[Path] | None, problem: Problem
) -> tuple[tuple[Change, ...], tuple[Finding, ...], tuple[Refused, ...]]:
    """Return the changes with tests looked up, and those that lists of orders bring, with what is wrong in them.

    The third part is what of the options was not understood.
    """
    found: tuple[Change, ...] = ()
    findings: tuple[Finding, ...] = ()
    refused: list[Refused] = []
    names = SiteNames(problem.site_names)
    for change in changes:
        ours = _with_map_wards(change, names, problem)
        kept, told = look_up_tests([ours], problem.catalogue, problem.site_names)
        found, findings = (*found, *kept), (*findings, *told)
        errors = [finding for finding in told if finding.severity is Severity.ERROR]
        refused += [Refused(option="stat", typed=change.typed, finding=finding) for finding in errors]
    for file in files or ():
        new, told = read_new_orders(file, problem)
        found, findings = (*found, new), (*findings, *told)
    return found, findings, tuple(refused)


def _with_map_wards(change: Change, names: SiteNames, problem: Problem) -> Change:
    """Return a change with the wards of its beds as the map calls them, where it has the site's own names of them."""
    places = problem.places.values()
    if isinstance(change, Moved):
        return replace(change, bed=names.bed(change.bed, places), to=names.bed(change.to, places))
    if isinstance(change, StatOrders | Away | Gone | NewBed):
        return replace(change, bed=names.bed(change.bed, places))
    return change
