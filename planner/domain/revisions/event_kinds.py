"""The kinds of events, and the ways in which they come in."""

from __future__ import annotations

from enum import Enum


class Channel(Enum):
    """How an event came in."""

    OPTION = "option"
    PROGRESS_FILE = "progress-file"
    ORDER_LIST = "order-list"


class EventKind(Enum):
    """What kind of thing happened. The value is its code in plan.json."""

    STAT = "stat"
    ORDER = "order"
    ORDER_ASIDE = "order-aside"
    ORDER_CHANGED = "order-changed"
    CANCELLED = "cancelled"
    RECOLLECT = "recollect"
    PATIENT = "patient"
    PATIENT_SAID = "patient-said"
    BED = "bed"
    AWAY = "away"
    MOVED = "moved"
    GONE = "gone"
    LATE = "late"
    LOST = "lost"
    NEVER_CAME = "never-came"
    JOINED = "joined"
    COURIER = "courier"
    LIST_READ = "list-read"
    REPORTED = "reported"
    """What came of a visit, as `planner.domain.plan.Outcome`: drawn, refused, away, failed."""
