"""The frame of a round: its day, zone, span and shifts, made once and handed to whatever reads its orders."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from planner.domain.policy import Policy
from planner.domain.problem import Problem
from planner.findings import Report, Severity
from planner.loaders.frame.day import choose_day
from planner.loaders.frame.staff import Shift, assumed_span, read_shifts, report_unused_options
from planner.loaders.names.known import SiteNames
from planner.loaders.policy.clock import policy_of_night, policy_on_clock
from planner.loaders.tables.records import RawRound, Record
from planner.loaders.values.date_columns import DateColumns
from planner.loaders.values.fields import Reading
from planner.units import RoundClock


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundFrame:
    """When a round is, and who collects, before any of its orders is built.

    ``start_s`` and ``end_s`` are its span in elapsed seconds after midnight of its day, both ends included; the clock
    times of ``policy`` are elapsed seconds of the same day, so it is never put on the clock again. ``shifts`` are the
    usable rows of the staff table; none: the people are assumed. ``assumptions`` are sentences.
    """

    clock: RoundClock
    start_s: int
    end_s: int
    policy: Policy
    shifts: tuple[Shift, ...] = ()
    assumptions: tuple[str, ...] = ()

    @classmethod
    def of(cls, problem: Problem) -> RoundFrame:
        """Return the frame of a round that has begun: a list that comes then has no staff and no policy of its own."""
        return cls(clock=problem.clock, start_s=problem.start_s, end_s=problem.end_s, policy=problem.policy)

    @property
    def day(self) -> date:
        """The round's day."""
        return self.clock.day

    @property
    def begin(self) -> datetime:
        """The first instant of the round, in UTC."""
        return self.clock.midnight + timedelta(seconds=self.start_s)

    @property
    def end(self) -> datetime:
        """The last instant of the round, in UTC."""
        return self.clock.midnight + timedelta(seconds=self.end_s)

    def reading(self, report: Report, date_columns: DateColumns, site_names: SiteNames) -> Reading:
        """Return what is known while rows are read."""
        return Reading(report, date_columns, self.clock, self.start_s, self.end_s, site_names=site_names)


def make_frame(
    raw: RawRound,
    records: Iterable[Record],
    policy: Policy,
    report: Report,
    *,
    date_columns: DateColumns,
    round_date: date | None,
    start: time | None,
    num_phlebotomists: int | None,
) -> RoundFrame:
    """Return the frame of a round that is read from files.

    Parameters
    ----------
    raw
        The tables of the round.
    records
        Rows of orders, by whose dates the day is found where nobody says it; those that are to be drawn.
    policy
        The site's numbers, its clock times as seconds on the wall's clock.
    report
        Takes what is found in the staff table.
    date_columns
        How the dates of the tables are read.
    round_date, start, num_phlebotomists
        What the caller says instead of the files.
    """
    day, sentence = choose_day(records, date_columns, round_date, policy.round.day, date.today())
    clock = RoundClock(day, policy.time_zone)
    policy = policy_on_clock(policy, clock)
    reading = Reading(report, date_columns, clock)
    shifts = read_shifts(raw, reading, start)
    if shifts:
        report_unused_options(shifts, start, num_phlebotomists, reading, raw.of("staff")[0].source)
        start_s, end_s = min(s.from_s for s in shifts), max(s.until_s for s in shifts)
    else:
        if raw.of("staff"):
            message = "no row of the staff table can be used; the round is planned as if there were none"
            report.add("staff-unreadable", Severity.ERROR, message, source=raw.of("staff")[0].source)
        start_s, end_s = assumed_span(policy, start, clock)
    return RoundFrame(
        clock=clock,
        start_s=start_s,
        end_s=end_s,
        policy=policy_of_night(policy, clock, start_s),
        shifts=tuple(shifts),
        assumptions=(sentence,) if sentence else (),
    )
