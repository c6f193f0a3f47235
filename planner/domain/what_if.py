"""What may go wrong on a round and has a line on the what-if card."""

from __future__ import annotations

from enum import Enum


class WhatIf(Enum):
    """An event for which the card says what to do, to write and whom to phone. The value is its name in files."""

    TUBE_DOWN = "tube-down"
    COURIER_MISSED = "courier-missed"
    UNDERFILLED = "underfilled"
    PATIENT_ATE = "patient-ate"
    AWAY = "away"
    REFUSED = "refused"
    CANNOT_IDENTIFY = "cannot-identify"
    LIKE_NAMES = "like-names"
    FAINT_OR_PAIN = "faint-or-pain"
    NEEDLESTICK = "needlestick"
    HAEMATOMA = "haematoma"
    RUNNING_LATE = "running-late"
