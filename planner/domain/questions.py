"""What a phlebotomist asks at the bed before a draw, as data: the sheet has the words."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from planner.domain.orders import OrderId


class Asked(Enum):
    """The instant that is asked for; the value is its stable name."""

    LAST_DOSE = "last-dose"
    DOSE_START = "dose-start"
    """The start of the infusion."""
    RATE_CHANGE = "rate-change"
    """The last change of the infusion's rate."""
    INFUSION_END = "infusion-end"
    NEXT_DOSE = "next-dose"
    PROTOCOL_STEP = "protocol-step"
    """Which sample of its protocol the draw is."""
    LAST_MEAL = "last-meal"


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One question about one order.

    ``on_file_s`` is the answer on file, in seconds after midnight of the round's day; None: not known. ``decides`` is
    True when the answer may stop the draw of this order. False: it is drawn whatever the answer is, and the answer is
    written down for the laboratory.
    """

    asked: Asked
    order_id: OrderId
    on_file_s: int | None = None
    decides: bool = True
