"""Finds a written plan from the folder a person names: a round's outputs (its newest revision) or one revision."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from planner.errors import PlanFileError

if TYPE_CHECKING:
    from planner.exporters.plan_json.plan_file import PlanFile


def is_written(path: Path) -> bool:
    """Return whether a path names outputs (and not a round to plan)."""
    from planner.exporters.files import revisions
    from planner.exporters.plan_json.plan_file import PLAN_FILE

    return path.name == PLAN_FILE or (path / PLAN_FILE).is_file() or bool(revisions(path))


def plan_path(path: Path) -> Path:
    """Return the plan.json that a path stands for.

    Raises
    ------
    PlanFileError
        If there is no plan there.
    """
    from planner.exporters.files import revisions
    from planner.exporters.plan_json.plan_file import PLAN_FILE

    if path.name == PLAN_FILE and path.is_file():
        return path
    if (path / PLAN_FILE).is_file():
        return path / PLAN_FILE
    numbers = revisions(path)
    if not numbers:
        raise PlanFileError(f"{path}: no plan here; name a folder such as outputs/<round> or outputs/<round>/r1")
    return path / f"r{numbers[-1]}" / PLAN_FILE


def read_plan(path: Path) -> PlanFile:
    """Return the plan that a path stands for.

    Raises
    ------
    PlanFileError
        If there is none, or it is damaged or of another version.
    """
    from planner.exporters.plan_json import plan_from_json

    file = plan_path(path)
    try:
        data = file.read_bytes()
    except OSError as error:
        raise PlanFileError(f"{file}: cannot be read ({error.strerror})") from error
    return plan_from_json(data, str(file))
