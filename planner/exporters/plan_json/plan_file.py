"""What a plan.json holds, and the name and version of its form."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from planner.domain.plan import Plan
from planner.domain.problem import Problem
from planner.findings import Finding

SCHEMA = "collection-round-plan/3"
"""Name and version of the form; a file of a version that is not named here is refused."""

SCHEMA_2 = "collection-round-plan/2"
"""The form before goals were counted in tiers: its goals are others, and are not read."""

SCHEMA_1 = "collection-round-plan/1"
"""The form before events: what was given to a revision stands there in words, which are kept as notes."""

PLAN_FILE = "plan.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanFile:
    """What a plan.json holds. ``parent`` is the revision that this one was replanned from; None: planned afresh.

    ``is_edited``: the file is not as it was written. ``has_goals``: the file states the goals of this version.
    """

    program_version: str
    revision: int
    parent: int | None
    inputs_digest: str
    params: Mapping[str, Any]
    problem: Problem
    plan: Plan
    findings: tuple[Finding, ...]
    is_edited: bool = False
    has_goals: bool = True
