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

TUBE_CODES: dict[str, str] = {
    "blood-limit-reached": "a child's blood limit leaves no room for all that is ordered; orders are postponed",
    "blood-limit-smaller-tubes": "to stay within a child's blood limit, more but smaller tubes are drawn",
    "blood-visit-share": "a visit takes more of a child's total blood volume than the policy's warning share",
    "blood-adult-flag": "an adult gives more blood in 24 hours than the policy's flag",
    "blood-history-unknown": "what was drawn from a child before this round is not known; none is assumed",
    "blood-age-unknown": "a patient's age is not known and the weight is a child's; adult sizes, no limits",
    "weight-missing": "a child's weight is not known, so no blood limit can be reckoned; the patient needs a decision",
    "no-tube": "no tube that the patient may have serves a test",
    "many-tubes": "a draw takes more tubes than the policy's number",
    "culture-table-gap": "a child's weight lies where the published culture table could not be read",
}

CHECKER_CODES: dict[str, str] = {
    # grows with planner/checker
}

CODES: dict[str, str] = LOADING_CODES | PLANNING_CODES | TUBE_CODES | CHECKER_CODES | CATALOGUE_CODES | POLICY_CODES
