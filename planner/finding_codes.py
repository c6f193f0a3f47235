"""The catalogue of finding codes: every stable slug, with what it means in one line.

Codes of broken rules (the checker's) carry the name that the rule has in the model, the checker and the tests.
"""

from __future__ import annotations

LOADING_CODES: dict[str, str] = {
    # grows with planner/loaders
}

CATALOGUE_CODES: dict[str, str] = {
    "catalogue-row-refused": "a site's test or tube row holds something unreadable; the row is not used",
    "catalogue-row-incomplete": "a site adds a test or tube without all cells that a new one needs",
    "catalogue-column-unknown": "a column of a site's test or tube table is not one that is known",
    "catalogue-loinc-check-digit": "a LOINC code of a site's test fails the check digit; the row is not used",
    "catalogue-tube-forbidden": "a test accepts a tube kind that its own handling forbids; that kind is left out",
    "catalogue-tube-unknown": "a test accepts a tube kind that is not in the catalogue; that kind is left out",
    "catalogue-test-without-tube": "no tube kind is left that serves a test; the test is taken out",
}

POLICY_CODES: dict[str, str] = {
    "policy-unreadable": "the policy is not a TOML file that can be read; every default is used",
    "policy-key-unknown": "a key of the policy is not one that is known; it changes nothing",
    "policy-key-twice": "a value of the policy is given in two units; the default is used",
    "policy-value-refused": "a value of the policy has the wrong type or cannot be; the default is used",
}

PLANNING_CODES: dict[str, str] = {
    "preference-missed": "a preferred (not required) clock time or fasting state is not met by the planned draw",
    "tube-set-not-proven": "a limit stopped the proof that a tube set is minimal",
    "wall-clock-guard": "the wall-clock guard ended the search early; the plan may differ between runs",
}

CHECKER_CODES: dict[str, str] = {
    # grows with planner/checker
}

CODES: dict[str, str] = LOADING_CODES | PLANNING_CODES | CHECKER_CODES | CATALOGUE_CODES | POLICY_CODES
