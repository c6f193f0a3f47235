"""The frame of a round that is read from files, its messages among them: one day and one span for all its orders."""

from __future__ import annotations

from dataclasses import replace

from planner.domain.policy import Policy
from planner.findings import Report
from planner.loaders.build.options import LoadOptions
from planner.loaders.catalogue.lookup import TestLookup
from planner.loaders.frame.places import names_on_map
from planner.loaders.frame.round_frame import RoundFrame, make_frame
from planner.loaders.messages.common.zones import states_zone
from planner.loaders.messages.to_rows.orders import MessageOrders
from planner.loaders.tables.records import RawRound, Record
from planner.loaders.values.date_columns import DateColumns, decide_columns


def read_frame(
    raw: RawRound, policy: Policy, tests: TestLookup, options: LoadOptions, report: Report
) -> tuple[RoundFrame, DateColumns]:
    """Return the frame of a round and how its dates are read; the orders of its messages become tables of ``raw``.

    The zone is the policy's, else the one that the messages tell; the day is found from what is to be drawn.
    """
    columns = decide_columns(raw.tables, options.date_order, report)
    messages = None
    if raw.messages:
        zone_name = policy.time_zone if states_zone(raw.policy_text, policy) else None
        known = names_on_map(raw)
        messages = MessageOrders(raw.messages, tests, report, zone_name=zone_name, known_places=known)
        policy = replace(policy, time_zone=messages.zone_name or policy.time_zone)
    frame = make_frame(
        raw,
        _dated(raw, messages),
        policy,
        report,
        date_columns=columns,
        round_date=options.round_date,
        start=options.start,
        num_phlebotomists=options.num_phlebotomists,
    )
    if messages is None:
        return frame, columns
    raw.tables += messages.tables(frame)
    return replace(frame, assumptions=(*messages.assumptions, *frame.assumptions)), columns


def _dated(raw: RawRound, messages: MessageOrders | None) -> list[Record]:
    """Return the rows by whose dates the round's day is found: of messages those to be drawn, if there are any."""
    listed = list(raw.records("orders"))
    if messages is None:
        return listed
    live = [record for record in messages.stated if record.fault is None]
    return [*listed, *live] if listed or live else messages.stated
