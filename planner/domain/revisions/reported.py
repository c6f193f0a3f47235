"""What a progress file or a person says of a visit: the outcome, and when and by whom."""

from __future__ import annotations

from dataclasses import dataclass, field

from planner.domain.draws import Asked, DrawId
from planner.domain.orders import OrderId
from planner.domain.plan import Outcome
from planner.domain.revisions.event_kinds import EventKind
from planner.findings import Source


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What was told at the bed when the card asked, as written; ``at_s`` is its time, None where it is none."""

    asked: Asked
    order_ids: tuple[OrderId, ...]
    at_s: int | None
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Reported:
    """The outcome of one visit for some or all of its orders.

    ``at_s`` is the draw, or the attempt, in seconds after midnight of the round's day; None: not told, so as planned.
    ``initials`` and ``note`` are as written. ``is_by_itself``: reported alone, as on the phone; it says nothing of the
    other visits of its phlebotomist, where a list of what is done says that the others are not. ``tubes`` are those
    filled at the visit, by their positions in the order of draw; None: not told, so those that the outcomes ask for.
    ``arrived_s`` and ``left_s`` are when the phlebotomist came to the bed and left it; None: not told. ``drawn_by``
    made the visit where that is not ``held_by``, who has it on the last sheet: by their place in the staff; else None.
    ``was_there``: somebody was at the bed for it; False: a refusal told by phone before the visit was due, which says
    nothing of where anybody was.
    ``answers`` are for the laboratory: the plan does not use them.
    """

    order_ids: tuple[OrderId, ...]
    draw_id: DrawId
    outcome: Outcome
    at_s: int | None = None
    initials: str = ""
    note: str = ""
    source: Source | None = None
    is_by_itself: bool = False
    tubes: tuple[int, ...] | None = None
    arrived_s: int | None = None
    left_s: int | None = None
    drawn_by: int | None = None
    held_by: int | None = None
    was_there: bool = True
    answers: tuple[Answer, ...] = ()
    kind: EventKind = field(default=EventKind.REPORTED, init=False)
