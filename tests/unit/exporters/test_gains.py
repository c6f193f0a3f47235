"""What moving a stop gains is said, and only where it is so. Five wards with equal bed numbers."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.domain.draws import Bound, OrderWindow
from planner.domain.orders import OrderId, TimeWindow
from planner.domain.places import PlaceId
from planner.domain.plan import Visit
from planner.domain.revisions.replan import Past, Promised, Replan
from planner.domain.revisions.stop_changes import ChangeKind, Move, StopChange
from planner.exporters.view.context import ViewContext
from planner.exporters.view.notes.gains import gain_words
from planner.exporters.view.texts import TextCleaner
from tests.builders import clock
from tests.replan_builders import TWO, five_wards, make_plan, make_visit

AB, CD = 0, 1
ORDER = OrderId("O2")


def gain(
    walking_on: str,
    draw: str = "05:40",
    target: str = "05:45",
    latest: str = "09:00",
    past: tuple[Past, ...] = (),
    **changes: object,
) -> str:
    """Return what is said of O2, AB's until now, whom walking on would bring there at a time, and drawn now by CD."""
    problem, _ = five_wards(staff=TWO)
    visit: Visit = make_visit(problem, [ORDER], draw)
    before = Promised(
        draw_id=visit.draw_id,
        patient_id=visit.patient_id,
        place=visit.place,
        order_ids=visit.order_ids,
        phlebotomist=AB,
        position=0,
        draw_s=clock("05:30"),
        walking_on_s=clock(walking_on),
    )
    ends = (Bound(at_s=clock("05:00"), rule="round"), Bound(at_s=clock(latest), rule="round"))
    window = OrderWindow(
        order_id=ORDER,
        windows=(TimeWindow(earliest_s=clock("05:00"), latest_s=clock(latest)),),
        earliest=ends[0],
        latest=ends[1],
        target=Bound(at_s=clock(target), rule="priority"),
    )
    problem = replace(problem, replan=Replan(parent=1, now_s=clock("05:25"), past=past, promised=(before,)))
    context = ViewContext(problem, make_plan([], [visit]), {ORDER: window}, TextCleaner())
    fields: dict[str, object] = {"phlebotomist": CD, "moves": (Move.PERSON,), "kind": ChangeKind.MOVED} | changes
    change = StopChange(patient_id=visit.patient_id, place=visit.place, before=before, visit=visit, **fields)  # type: ignore[arg-type]  # fields by name
    return gain_words(context, change)


@pytest.mark.parametrize(
    ("walking_on", "latest", "said"),
    [
        ("05:45", "09:00", ""),  # in time all the same
        ("05:50", "09:00", "Ann Bell could draw at 05:50 only, 5 min late"),
        ("05:50", "05:48", "Ann Bell could be there at 05:50 only, too late to draw"),
        ("05:35", "09:00", ""),  # sooner than it is drawn now
    ],
)
def test_gain_is_what_walking_on_would_miss(walking_on: str, latest: str, said: str) -> None:
    assert gain(walking_on, latest=latest) == said


def test_who_collects_no_more_is_not_said_to_come_late() -> None:
    # Of who never came nothing is expected: 'could draw at 09:00 only' would be untrue.
    gone = Past(phlebotomist=AB, stops=(), place=PlaceId("BASE"), free_s=TWO[AB].until_s)
    assert gain("08:50", latest="08:00", past=(gone,)) == ""
    assert gain("08:50", latest="08:00", past=(replace(gone, free_s=gone.free_s - 1),)) != ""


def test_nothing_is_gained_by_what_is_only_later_or_in_another_bed() -> None:
    assert gain("05:50", moves=(Move.TIME,)) == ""
    assert gain("05:50", moves=(Move.BED,)) == ""
    assert gain("05:50", kind=ChangeKind.ORDERS, moves=()) == ""
