"""The catalogue of finding codes: every stable slug, with what it means in one line.

Codes of broken rules (the checker's) carry the name that the rule has in the model, the checker and the tests.
"""

from __future__ import annotations

LOADING_CODES: dict[str, str] = {
    # grows with planner/loaders
}

PLANNING_CODES: dict[str, str] = {
    "preference-missed": "a preferred (not required) clock time or fasting state is not met by the planned draw",
    "tube-set-not-proven": "a limit stopped the proof that a tube set is minimal",
    "wall-clock-guard": "the wall-clock guard ended the search early; the plan may differ between runs",
}

CHECKER_CODES: dict[str, str] = {
    # grows with planner/checker
}

CODES: dict[str, str] = LOADING_CODES | PLANNING_CODES | CHECKER_CODES
