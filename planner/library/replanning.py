"""``planner.replan``: the next revision of a round that has begun, from what was reported since."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from planner import __version__
from planner.domain.prices import with_prices
from planner.domain.problem import Problem
from planner.domain.revisions.changes import Change, NotUnderstoodError
from planner.domain.wishes import Wish
from planner.errors import PlanFileError, RequestError
from planner.exporters.files import revisions
from planner.exporters.plan_json.plan_file import PlanFile
from planner.findings import Finding
from planner.library.news import News, is_there, parse_news, parse_now, read_news
from planner.library.planning import RoundPlan, planned
from planner.library.written import Revision, edited_before, plan_path, read_checked, read_plan
from planner.loaders.build.said import with_texts
from planner.loaders.policy.prices import Prices, read_prices
from planner.pipeline import Listener
from planner.replanning.addons.late import late_addons, late_partials
from planner.replanning.next_problem import next_problem
from planner.replanning.past.taken_back import TakenBack
from planner.replanning.remake import Made, before_the_last_command, taken_back
from planner.replanning.urgent.impossible import impossible_stats
from planner.solving.params import Effort, SolveParams

WALL_LIMIT_S = 120.0
"""The guard for a stalled machine: somebody waits at the phone."""

NO_NEWS = News()


def replan(
    out: str | Path,
    now: str,
    news: News = NO_NEWS,
    *,
    undo: bool = False,
    apply_rest: bool = False,
    effort: str = "quick",
    seed: int = 1,
    prices: Prices = (),
    accept_edited: bool = False,
    listener: Listener = lambda _stage, _values, _bounds: None,
) -> RoundPlan:
    """Return the next revision of a round that has begun: what happened stays, the rest is planned again.

    Nothing is written before `planner.write`, so the result is a preview until then.

    Parameters
    ----------
    out
        The outputs of the round; the newest revision is gone on with.
    now
        The time it is, such as ``"05:42"``: what the plan has before it is past, and stays.
    news
        What was reported since. Default: nothing; visits due by now count as done, which the plan lists.
    undo
        Take back what the last command reported.
    apply_rest
        Apply what was understood although parts of ``news`` were not.
    effort, seed, prices
        As `planner.plan`.
    accept_edited
        Go on with a plan that was changed since it was written.
    listener
        As `planner.plan`.

    Raises
    ------
    NotUnderstoodError
        If a part of ``news`` cannot be applied, and ``apply_rest`` is not set or nothing else is reported.
    RequestError
        If a text cannot be read, a file is not there, the time is before that of the newest revision, an older
        revision is named, or there is nothing to take back.
    InputError
        If a file has faults and nothing of it can be used.
    PlanFileError, CheckRefusedError
        As `planner.read`; the latter also if the checker refuses the new plan.
    """
    begun = begin(out, now, news, undo=undo, effort=effort, seed=seed, prices=prices, accept_edited=accept_edited)
    return begun.planned(apply_rest=apply_rest, listener=listener)


@dataclass(frozen=True, slots=True, kw_only=True)
class ReplanDigest:
    """The digest of all that a replan is given: texts by option, and what files held before they were read for news.

    A file that grows while the round is searched then counts as another the next time, and what it adds is read.
    """

    now: str
    texts: Sequence[tuple[str, Sequence[str]]]
    contents: Sequence[bytes] = field(repr=False)
    is_undo: bool

    def taking(self, number: int) -> ReplanDigest:
        """Return the digest of the same command with ``--take``."""
        return replace(self, texts=sorted([*self.texts, ("take", [str(number)])]))

    def with_options(self, options: Mapping[str, object]) -> str:
        """Return the digest with the options of the command, as hexadecimal digits."""
        given = [__version__, self.now, self.texts, sorted(options.items()), *(["undo"] if self.is_undo else [])]
        digest = hashlib.sha256(json.dumps(given).encode())
        for content in self.contents:
            digest.update(content)
        return digest.hexdigest()


def _contents(option: str, given: Sequence[str | Path]) -> list[bytes]:
    """Return what the values of an option hold, each behind option and length: a file its bytes, a text itself."""
    held = [Path(name).read_bytes() if is_there(name) else str(name).encode() for name in given]
    return [f"{option} {len(content)} ".encode() + content for content in held]


@dataclass(frozen=True, slots=True, kw_only=True)
class Following:
    """The round as it stands when everything reported is applied, and what was found on the way."""

    problem: Problem = field(repr=False)
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Begun:
    """A replan that was asked for and fits the round; nothing is planned yet."""

    folder: Path
    newest: PlanFile = field(repr=False)
    now_s: int
    news: News
    changes: tuple[Change, ...]
    is_undo: bool
    params: SolveParams
    prices: Mapping[str, int]
    """Those that are tried in place of the site's, by field."""
    digest: ReplanDigest = field(repr=False)

    def already(self, options: Mapping[str, object]) -> Revision | None:
        """Return the newest revision if the same command made it."""
        if self.newest.inputs_digest != self.digest.with_options(options):
            return None
        return Revision(folder=self.folder / f"r{self.newest.revision}", file=self.newest)

    def planned(self, *, apply_rest: bool, listener: Listener) -> RoundPlan:
        """Return the next revision, as `replan`."""
        return self.found(self.following(apply_rest=apply_rest), listener)

    def following(self, *, apply_rest: bool) -> Following:
        """Return the round as it stands now, everything reported applied.

        Raises
        ------
        NotUnderstoodError
            If a part cannot be applied, and ``apply_rest`` is not set or nothing else is reported.
        """
        newest = self.newest
        base, back = _without_last(self.folder, newest) if self.is_undo else (newest, None)
        read = read_news(self.news, self.changes, base.problem, base.plan, self.now_s)
        following = next_problem(
            base.problem,
            base.plan,
            parent=newest.revision,
            now_s=self.now_s,
            reports=read.reports,
            changes=read.changes,
            taken_back=back,
        )
        assert following.problem.replan is not None
        refused = (*read.refused, *following.refused)
        if refused and (not apply_rest or not (following.problem.replan.events or self.is_undo)):
            raise NotUnderstoodError(refused)
        problem = with_prices(with_texts(following.problem), self.prices)
        return Following(problem=problem, findings=(*read.findings, *following.findings))

    def found(self, following: Following, listener: Listener, wish: Wish | None = None) -> RoundPlan:
        """Return the plan of the round as it stands; ``wish``: what it is to be instead of what the prices ask for."""
        made = planned(following.problem, replace(self.params, wish=wish), following.findings, listener)
        return replace(
            made,
            findings=(
                *edited_before(self.newest),
                *made.findings,
                *late_addons(made.problem, made.plan),
                *late_partials(made.problem, made.plan),
                *impossible_stats(made.problem, made.plan, made.windows, made.draws),
            ),
            sources=tuple(str(path) for path in (*self.news.done, *self.news.orders) if is_there(path)),
            digest=self.digest,
        )


def begin(
    out: str | Path,
    now: str,
    news: News,
    *,
    undo: bool = False,
    effort: str = "quick",
    seed: int = 1,
    prices: Prices = (),
    accept_edited: bool = False,
    take: int | None = None,
) -> Begun:
    """Return a replan that fits the round: its texts can be read, its files are there, its time is not over.

    Raises
    ------
    RequestError, PlanFileError, CheckRefusedError
        As `replan`.
    """
    tried, changes = read_prices(prices), parse_news(news)
    folder, newest = _newest(Path(out), accept_edited)
    now_s = parse_now(now, newest.problem)
    _require_later(newest, now_s, now)
    texts = [(name, sorted(map(str, given))) for name, given in news.written() if name not in ("done", "orders")]
    typed = [("values", [repr(value) for value in (*news.changes, *news.reports)])]
    contents = [*_contents("done", news.done), *_contents("orders", news.orders)]
    texts += [("price", [f"{name}={value}" for name, value in sorted(tried.items())])] if tried else []
    given = sorted([*texts, *(each for each in typed if each[1])])
    digest = ReplanDigest(now=now.strip(), texts=given, contents=contents, is_undo=undo)
    return Begun(
        folder=folder,
        newest=newest,
        now_s=now_s,
        news=news,
        changes=changes,
        is_undo=undo,
        params=SolveParams(seed=seed, effort=Effort(effort), wall_limit_s=WALL_LIMIT_S, proves=effort != Effort.QUICK),
        prices=tried,
        digest=digest if take is None else digest.taking(take),
    )


def _without_last(folder: Path, newest: PlanFile) -> tuple[PlanFile, TakenBack]:
    """Return the revision that stands when the last command is taken back, and what is taken back.

    Raises
    ------
    RequestError
        If there is no command to take back.
    """
    files = {n: newest if n == newest.revision else read_plan(folder / f"r{n}") for n in revisions(folder)}
    made = {n: Made(problem=file.problem, plan=file.plan) for n, file in files.items()}
    base = before_the_last_command(made, newest.revision)
    if base is None or base not in files:
        raise RequestError(f"--undo: revision {newest.revision} was planned afresh; there is nothing to take back")
    return files[base], taken_back(made, newest.revision, base)


def _newest(out: Path, accepts_edited: bool) -> tuple[Path, PlanFile]:
    """Return the folder of a round's outputs and its newest revision.

    Raises
    ------
    PlanFileError
        If there is none, or it is damaged or of another version.
    RequestError
        If an older revision is named.
    """
    folder = plan_path(out).parent.parent
    numbers = revisions(folder)
    named = plan_path(out).parent.name
    if numbers and named != f"r{numbers[-1]}":
        raise RequestError(f"{out} is not the newest revision, {folder / f'r{numbers[-1]}'} is; name {folder}")
    try:
        return folder, read_checked(folder, accepts_edited=accepts_edited)
    except PlanFileError as error:
        raise PlanFileError(f"{error}{_way_out(folder, numbers)}") from error


def _way_out(folder: Path, numbers: Sequence[int]) -> str:
    """Return what to do about a newest revision that cannot be read: the one before can be gone on from."""
    if len(numbers) < 2:
        return ""
    return (
        f". To go on from revision {numbers[-2]}, move {folder / f'r{numbers[-1]}'} out of the folder, and give again "
        "what it was told"
    )


def _require_later(newest: PlanFile, now_s: int, now: str) -> None:
    """Refuse a time before that of the last revision.

    Raises
    ------
    RequestError
        If it is earlier.
    """
    before = newest.problem.replan
    if before is not None and now_s < before.now_s:
        last = newest.problem.clock.format_clock(before.now_s)
        raise RequestError(
            f"--now {now} is before {last}, when revision {newest.revision} was made; what happened stays"
        )
