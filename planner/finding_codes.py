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
    "plan-shape": "a value of the plan is not of the type that the plan's form declares",
    "unknown-name": "the plan names a phlebotomist, place, patient, order, tube type or test that is not the round's",
    "once": "an order is not in exactly one visit or unplanned exactly once",
    "set-aside": "an order that was set aside is listed as unplanned for another reason",
    "window-requested": "a timed order is drawn outside the time that it asks for",
    "window-clock": "a test is drawn outside the clock times that it requires",
    "window-fasting": "a fasting draw is made before the fast is over or after the next meal",
    "window-dose": "a drug level is drawn too early or late by its dose, or without knowing the dose's time",
    "window-quiet-hours": "an order that can wait is drawn in quiet hours",
    "preferences-listed": "the list of missed preferences is not the one that the draws give",
    "visit-patient": "a visit is at another bed than its patient's, has no orders, or serves another patient's",
    "draw-id": "two visits carry the same draw id, or one has none",
    "series": "two orders of one series are drawn in one visit",
    "lead": "a draw time does not follow the start by identifying, preparing and gowning",
    "service": "a visit does not last as long as its parts add up to",
    "absence": "a patient is visited while away",
    "one-at-the-bed": "two visits of one patient overlap",
    "blood-limit": "a child gives more blood than the daily limit by weight, or the weight is not known",
    "accepted-kind": "a test is not on all containers of one of its alternatives",
    "tube-orders": "a tube does not name exactly the orders that it serves",
    "share-group": "tests share a tube that may not",
    "volume": "the size of a tube draws less than its tests need",
    "fill": "a tube's stated volume is not what it takes",
    "size-for-patient": "a tube has no size of its type, or a child's size for an adult",
    "tube-stability": "a tube's stated stability is not that of its most delicate test",
    "handling": "a tube's handling is not that of all its tests together",
    "transport-mode": "a tube does not travel at its tests' temperature",
    "order-of-draw": "tubes are not filled in the order of draw, or their positions have gaps",
    "discard": "a discard tube is missing, needless or in the wrong place",
    "culture-sites": "culture sets share a puncture site, one set has several, or the sites do not count from 1",
    "one-route": "a phlebotomist has two routes",
    "skill": "the phlebotomist lacks a skill that the patient needs",
    "shift": "a stop lies outside the phlebotomist's shift",
    "walking": "an arrival is not the departure before plus the shortest walk",
    "walking-table": "a stated walking time is negative, or longer than the way over another stop",
    "no-overlap": "something starts before the phlebotomist has arrived",
    "handover-time": "a hand-over does not last as long as the policy says",
    "breaks": "a break is missing, needless, of the wrong length, or in the wrong place or time",
    "pickup": "a hand-over stands where specimens do not leave in that way",
    "handover-limit": "one collector uses a tube station, or carries to a place, more often than the policy allows",
    "handover": "a specimen is not given away at a later hand-over of its route",
    "hand-deliver": "a specimen that must go by hand goes by pneumatic tube",
    "courier": "a hand-over does not wait for the first departure after it",
    "lab-arrival": "a stated arrival at the laboratory is not the departure plus the transit",
    "stability": "a tube reaches the laboratory later than its stability allows",
    "goal-names": "the goals are not those of the rule book, in its order and units",
    "goal-value": "a goal's value is not what the plan gives",
    "goal-bound": "a goal's bound lies above its value",
}

CODES: dict[str, str] = LOADING_CODES | PLANNING_CODES | TUBE_CODES | CHECKER_CODES | CATALOGUE_CODES | POLICY_CODES
