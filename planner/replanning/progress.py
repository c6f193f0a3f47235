"""Where replanning takes reports from: `Reported`, one for each visit or order of which somebody told the outcome."""

from __future__ import annotations

from planner.domain.reported import Reported

__all__ = ["Reported"]
