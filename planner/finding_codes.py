"""The catalogue of finding codes: every stable slug, with what it means in one line beside it.

Codes are types, so that a slip is found before the program runs. Codes of broken rules (the checker's) carry the name
that the rule has in the model, the checker and the tests.
"""

from __future__ import annotations

from typing import Literal, get_args

# fmt: off
LoadingCode = Literal[
    "input-not-found",  # there is no file or folder of that name
    "input-unreadable",  # a file exists but cannot be opened
    "input-empty",  # a file has no bytes in it
    "no-orders",  # nothing that was read is an order
    "order-set-aside",  # an order of a list of which nothing can be planned, with its reason
    "not-a-table",  # a file is no text, whatever its name says
    "file-format",  # the encoding and delimiter that a text file was taken to have
    "text-undecodable",  # some bytes of a text file are no characters of its encoding
    "text-torn",  # a text of two bytes a character has lost one, so that what follows cannot be read
    "open-quote",  # a quotation mark is opened and never closed; lines were read one by one
    "web-page",  # a file with the name of a workbook or table is a web page
    "text-as-workbook",  # a file with the name of a workbook is plain text
    "old-workbook",  # a workbook is of the old .xls format
    "other-workbook",  # a file is a document of another program
    "strict-workbook",  # a workbook is saved as Strict Open XML
    "encrypted-workbook",  # a workbook is protected by a password
    "damaged-workbook",  # a workbook is cut short or damaged
    "input-too-large",  # a file or sheet is larger than can be a round's list
    "huge-workbook",  # a workbook unpacks to more than can be a ward's list
    "hidden-sheet",  # a hidden sheet was read
    "hidden-rows",  # hidden rows were read
    "unknown-file",  # files of the folder are no tables and were not read
    "folder-not-read",  # a folder inside the round's folder was not read
    "unknown-table",  # a file or sheet is none of the known tables and was not read
    "taken-as-orders",  # a sheet or file was taken for the order list by its headings
    "table-twice",  # one table stands in two files or sheets; both were read
    "table-empty",  # a table has nothing in it
    "missing-column",  # a table lacks a column without which it says nothing
    "heading-twice",  # two columns mean the same; the first is used
    "safety-column-unmapped",  # a filled column is nearly named like a safety column; a person decides what it means
    "extra-columns",  # columns that mean nothing to the planner
    "site-not-found",  # the folder with the site's own tables is not there
    "name-unreadable",  # a row of the table of names says of no kind, or names nothing
    "name-means-nothing",  # a confirmed name points to nothing that is known; it is not used
    "name-twice",  # one name is confirmed with several meanings; none is used
    "name-hides-known",  # a confirmed name would hide one that is known already; it is not used
    "name-open",  # names wait for a confirmation; nothing of them is used
    "title-rows",  # rows above the headings were not read
    "repeated-headings",  # the headings stand again among the data
    "text-row",  # a row with one cell of text was taken as a remark, not as data
    "rows-above-headings",  # rows of data stand above the headings, as in a list sorted with them; they were read
    "headings-doubtful",  # the row taken for headings has dates and numbers in it, as a row of data has
    "row-too-short",  # a row has fewer cells than the table has headings, unlike the other rows
    "row-too-long",  # a row has more cells than the table has headings
    "control-character",  # a code, a number or a time holds a control character
    "error-cell",  # a cell holds an error value such as #N/A
    "formula-not-calculated",  # a cell holds a formula without a stored result
    "long-number",  # a cell holds a number of more than 15 digits, the last of which are lost
    "identifier-damaged",  # an identifier was shortened to powers of ten
    "date-ambiguous",  # a column's dates could be day first or month first
    "dates-contradict",  # a column has dates that are only day first and others only month first
    "dates-mixed",  # a column mixes dates written year first with others
    "excel-serial-date",  # a spreadsheet's day numbers were read as dates
    "date-unreadable",  # a date does not exist or is written in an unknown way
    "time-unreadable",  # a text is no clock time and no date
    "time-over-a-day",  # a clock time lies beyond 24:00
    "midnight-read",  # 24:00 was read as the end of the day
    "date-where-time-belongs",  # a date stands where a clock time belongs, or has no time
    "series-tube-unknown",  # the tube kind of an earlier draw of a series is not in the catalogue
    "series-draw-time",  # a draw of a series is made, but not when, so that the gap to the next cannot be kept
    "midnight-means-no-time",  # a column of dates all at 00:00 was read as dates without time
    "time-from-dose",  # a timed order states no clock time; the dose that it states says when it is drawn
    "evening-before",  # times later in the day than the round were taken as the evening before
    "birth-year-open",  # a birth year of two digits fits two centuries
    "number-unreadable",  # a text is not a number
    "unknown-unit",  # a number has a unit that is not known
    "absurd-value",  # a number or date is beyond all that can be
    "yes-or-no",  # a word is neither yes nor no
    "span-unreadable",  # a span of time is not written as two clock times
    "policy-ward-unknown",  # the policy names a ward in which no patient of the round is
    "break-outside-shift",  # a break does not lie within the shift; it is not planned
    "window-reversed",  # a window ends before it begins
    "unknown-status",  # an order's status is not a known word; taken as active
    "unknown-performer",  # who draws is not a known word; taken as the laboratory
    "unknown-method",  # a way of collection is not a known word, or a patient has two; the patient is set aside
    "unknown-specimen",  # a specimen is not a known word; taken as blood
    "unknown-priority",  # a priority is not a known word
    "no-arm",  # neither arm of the patient may be used; the patient needs a decision
    "limbs-unclear",  # the text about arms not to be used is not understood; it is printed, and asked at the bed
    "unknown-precaution",  # a precaution is not a known word; planned as the strictest, printed; a person decides
    "unknown-kind",  # a kind of place or pickup is not a known word
    "order-on-hold",  # an order is on hold and not planned
    "unknown-test",  # a test is not in the catalogue
    "test-unclear",  # the name of a test can mean several tests of the catalogue
    "culture-sets-counted",  # the name of a culture states a number of sets; each became an order
    "count-not-used",  # the name of a test states a number of draws; one is planned
    "totals-row",  # a row sums up the list and is no order
    "several-tests",  # one cell lists several tests; each became an order
    "number-missing",  # orders without a number go by their row
    "number-shared",  # several tests of one patient share an order number
    "duplicate-number",  # an order number stands twice
    "time-missing",  # an order is timed and states no time
    "stat-other-day",  # a stat order is dated another day; somebody must say whether it is still wanted
    "fasting-overruled",  # an order says not fasting for a test that requires it
    "patient-missing",  # a row has no patient number
    "unknown-patient",  # an order's patient is in no patient row
    "patient-values-differ",  # rows of one patient differ; the first is used
    "chilled-by-alert",  # an alert asks for a chilled tube that the catalogue does not chill; a person decides
    "identifier-gap",  # birth date or name is missing of some patients to be drawn, not of all; a person decides
    "identity-shared",  # two patients to be drawn have one name and one birth date; a person decides
    "identifier-missing",  # a patient to be drawn has no birth date or no name on the list
    "name-alike",  # two patients of the round have names that are easily mixed up
    "identity-conflict",  # two names or birth dates stand under one patient number
    "bed-missing",  # a patient has no bed
    "ward-missing",  # a row of a round of several wards names a bed without its ward
    "unknown-bed",  # a patient's bed is not, or not clearly, in the place table
    "bed-conflict",  # two patients in one bed, or two beds for one patient
    "unreachable",  # no way on the map leads to a place and back
    "place-unreadable",  # a row of the place table cannot be used
    "place-twice",  # a place stands twice in the place table
    "unknown-place",  # a place is named that is not in the place table
    "corridor-unreadable",  # a row of the corridor table cannot be used
    "option-not-used",  # an option of the command changes nothing, because the staff table says it
    "staff-unreadable",  # a row of the staff table cannot be used
    "staff-ward-unknown",  # a person is bound to a ward that no patient and no place is in
    "staff-left-out",  # a shift ends before the round starts
    "shift-over-midnight",  # a shift was taken to end on the next day
    "pickup-unreadable",  # a row of the pickup table cannot be used
    "example-rows",  # example rows of the starter workbook are still there
    "courier-before-round",  # a courier leaves before the round begins
]
CatalogueCode = Literal[
    "catalogue-row-refused",  # a site's test or tube row holds something unreadable; the row is not used
    "catalogue-row-incomplete",  # a site adds a test or tube without all cells that a new one needs
    "catalogue-column-unknown",  # a column of a site's test or tube table is not one that is known
    "catalogue-loinc-check-digit",  # a LOINC code of a site's test fails the check digit; the row is not used
    "catalogue-tube-forbidden",  # a test accepts a tube kind that its own handling forbids; that kind is left out
    "catalogue-tube-unknown",  # a test accepts a tube kind that is not in the catalogue; that kind is left out
    "sign-off-unreadable",  # the laboratory's confirmation of its values cannot be read; it counts for nothing
    "catalogue-limit-unused",  # a limit by tube kind of a test names a kind that the test does not accept
    "catalogue-test-without-tube",  # no tube kind is left that serves a test; the test is taken out
]
PolicyCode = Literal[
    "policy-unreadable",  # the policy is not a TOML file that can be read; every default is used
    "policy-twice",  # two files or sheets hold a policy; the first counts
    "policy-key-unknown",  # a key of the policy is not one that is known; it changes nothing
    "policy-key-twice",  # a value of the policy is given in two units; the default is used
    "policy-value-refused",  # a value of the policy has the wrong type or cannot be; the default is used
]
PlanningCode = Literal[
    "preference-missed",  # a preferred (not required) clock time or fasting state is not met by the planned draw
    "orders-merged",  # one draw serves several orders for the same test of one patient
    "second-sample-planned",  # two samples of one patient for the blood bank are drawn in two punctures
    "note-contradicts",  # the note of a planned order speaks against the plan; a person decides
    "samples-missing",  # a test with a drink or an injection has fewer orders than samples; a person decides
    "stat-behind",  # a stat is drawn past its target, after a visit of that route without a stat; a person decides
    "stat-held",  # a dose rule holds back a stat from a stated dose; somebody decides whether it is drawn at once
    "tube-set-not-proven",  # a limit stopped the proof that a tube set is minimal
    "protective-after-airborne",  # somebody visits a protective room after an airborne one; a person decides
    "need-by-missed",  # specimens reach the laboratory after the time by which their ward needs them
    "plan-refused",  # the checker refused a plan; the round was planned again without the orders that it named
    "stopped-early",  # a person stopped the search; the plan is the best found until then
    "solver-trouble",  # the solver failed on one tier of goals; the proof is missing, the plan in hand is kept
    "wall-clock-guard",  # the wall-clock guard ended the search early; the plan may differ between runs
    "plan-edited",  # a plan was changed by hand since it was written, and used all the same
    "name-not-printed",  # no font on this machine has some letters of a name; the PDF says so beside it
]
TubeCode = Literal[
    "blood-limit-reached",  # a child's blood limit leaves no room for all that is ordered; orders are postponed
    "blood-limit-smaller-tubes",  # to stay within a child's blood limit, more but smaller tubes are drawn
    "blood-visit-share",  # a visit takes more of a child's total blood volume than the policy's warning share
    "blood-adult-flag",  # an adult gives more blood in 24 hours than the policy's flag
    "blood-history-unknown",  # what was drawn from a child before is not known; a part of the day's limit is used
    "age-unknown",  # nothing tells a child from an adult; the patient, or a list without birth dates, needs a decision
    "neonate-method",  # nobody has said how a newborn is drawn: from a vein, from the skin, or by the ward
    "ward-draws",  # an order came during the round for a patient whom the ward draws
    "weight-implausible",  # a weight cannot be at that age; the patient needs a decision
    "weight-missing",  # a child's weight is not known, so no blood limit can be reckoned; the patient needs a decision
    "no-tube",  # no tube that the patient may have serves a test
    "series-kind-differs",  # a test of a series cannot be drawn into the tube kind of the draw before
    "many-tubes",  # a draw takes more tubes than the policy's number
    "culture-table-gap",  # a child's weight lies where the published culture table could not be read
]
CheckerCode = Literal[
    "plan-shape",  # a value of the plan is not of the type that the plan's form declares
    "unknown-name",  # the plan names a phlebotomist, place, patient, order, tube type or test that is not the round's
    "once",  # an order is not in exactly one visit or unplanned exactly once
    "set-aside",  # an order that was set aside is listed as unplanned for another reason
    "other-round",  # an order is left to another round although its time lies in this one
    "stated-spacing",  # two draws of one test are much closer together than the times that their orders state
    "free-arm",  # no arm is left that may be used, or none into which nothing runs
    "second-sample",  # two samples of one patient for the blood bank are drawn in one visit
    "second-sample-by-one-person",  # one person draws both samples for the blood bank; a person decides
    "unanswered-stat",  # what was ordered later is drawn with a stat that was due and may be drawn already
    "stated-times",  # orders of one test that state different times share a draw, or are drawn the wrong way round
    "window-requested",  # a timed order is drawn outside the time that it asks for
    "window-clock",  # a test is drawn outside the clock times that it requires
    "window-fasting",  # a fasting draw is made before the fast is over or after the next meal
    "window-dose",  # a drug level is drawn too early or late by its dose, or without knowing the dose's time
    "window-closed",  # a test is drawn when the laboratory does not take it
    "posture",  # draws that ask for lying and for being up are one, or too near to one another
    "window-quiet-hours",  # an order that can wait is drawn in quiet hours
    "preferences-listed",  # the list of missed preferences is not the one that the draws give
    "visit-patient",  # a visit is at another bed than its patient's, has no orders, or serves another patient's
    "draw-id",  # two visits carry the same draw id, or one has none
    "series",  # two orders of one series are drawn in one visit
    "noted-apart",  # orders that a note, or the samples of their test, set apart share a draw
    "lead",  # a draw time does not follow the start by identifying, preparing and gowning
    "service",  # a visit does not last as long as its parts add up to
    "absence",  # a patient is visited while away
    "one-at-the-bed",  # two visits of one patient overlap
    "age-known",  # a visit to somebody of whom nothing tells whether the limits for children apply
    "collection-method",  # a visit to somebody whom the ward draws or nobody has decided on, or with the wrong device
    "weight-for-age",  # a visit to somebody whose weight cannot be at that age
    "blood-limit",  # a child gives more blood than the limits by weight, or the weight is not known
    "blood-draw-cap",  # one draw takes more from a child than the cap at one time
    "accepted-kind",  # a test is not on all containers of one of its alternatives
    "series-kind",  # the draws of a test that wants one tube kind in a series are in several kinds
    "first-choice",  # a test that takes its first choice is in another tube, though the patient can have the first
    "tube-orders",  # a tube does not name exactly the orders that it serves
    "share-group",  # tests share a tube that may not
    "volume",  # the size of a tube draws less than its tests need
    "fill",  # a tube's stated volume is not what it takes
    "size-for-patient",  # a tube has no size of its type, or a child's size for an adult
    "tube-stability",  # a tube's stated stability is not that of its most delicate test
    "handling",  # a tube's handling is not that of all its tests together
    "transport-mode",  # a tube does not travel at its tests' temperature
    "order-of-draw",  # tubes are not filled in the order of draw, or their positions have gaps
    "discard",  # a discard tube is missing, needless or in the wrong place
    "culture-sites",  # culture sets share a puncture site, one set has several, or the sites do not count from 1
    "culture-sets",  # one culture set serves two orders; each order is a set of its own
    "one-route",  # a phlebotomist has two routes
    "skill",  # the phlebotomist lacks a skill that the patient needs
    "own-wards",  # the phlebotomist visits a ward that is none of theirs
    "shift",  # a stop lies outside the phlebotomist's shift
    "walking",  # an arrival is not the departure before plus the shortest walk
    "walking-table",  # a stated walking time is negative, or longer than the way over another stop
    "no-overlap",  # something starts before the phlebotomist has arrived
    "handover-time",  # a hand-over does not last as long as the policy says
    "breaks",  # a break is missing, needless, of the wrong length, or in the wrong place or time
    "pickup",  # a hand-over stands where specimens do not leave in that way
    "handover-limit",  # one collector uses a tube station, or carries to a place, more often than the policy allows
    "handover",  # a specimen is not given away at a later hand-over of its route
    "handover-empty",  # nothing is given away at a hand-over
    "hand-deliver",  # a specimen that must go by hand goes by pneumatic tube
    "courier",  # a hand-over does not wait for the first departure after it
    "lab-arrival",  # a stated arrival at the laboratory is not the departure plus the transit
    "stability",  # a tube reaches the laboratory later than its stability allows
    "drawn-in-vain",  # an order is listed as drawn in vain although its tubes arrive in time
    "series-gap",  # two draws of a series are nearer to or farther from one another than asked for
    "past",  # a plan made anew does not keep what has happened
    "past-in-turn",  # somebody is said to have been at two places at once
    "second-person",  # whoever failed with an order is sent to it again
    "retry",  # a patient who was away is tried again before the time that was set
    "tray-limit",  # somebody carries more tubes at once than the policy allows
    "goal-names",  # the tiers of goals and their parts are not those of the rule book, in order and units
    "goal-value",  # the value of a tier of goals or of a part, or its price, is not what plan and policy give
    "goal-bound",  # the bound of a tier of goals lies above its value
]
MessageCode = Literal[
    "message-totals",  # how many messages and requests were read, and what became of them
    "test-repeated",  # one request of a message names several tests; the first was read
    "message-damaged",  # a message lacks its header or a segment end; what could be read was read
    "message-charset",  # the character set of a message is not the one that it declares
    "message-repeated",  # a message stands twice, or its control id stands for two messages
    "message-not-orders",  # messages or resources that carry no orders, counted by type
    "message-test-mode",  # a message is marked as training or debugging
    "message-type-odd",  # a message of a type that carries no orders holds what looks like an order
    "batch-count",  # a batch or file holds another number of messages than it states
    "segment-in-text",  # text inside a field looks like a segment; it was read as text
    "stray-line",  # a line of a message is no segment; text was taken to go on with the note before it
    "second-patient",  # a message may hold a second patient: the start of another message may be lost
    "order-changed",  # a later message changes an order
    "order-sent-twice",  # one order number is placed twice with different contents; the later counts
    "order-not-known",  # a message speaks of an order that no message has placed
    "order-conflict",  # one order number stands with two patients
    "order-ended-before",  # an order is placed after a message that cancels or replaces it; planned as placed
    "parent-cancelled",  # the order of which another is a part is cancelled, the part is not; it is planned
    "visit-class",  # the patient may not lie in the bed: an outpatient, not yet there, or about to move
    "ambulatory-status",  # a coded state of the patient bears on the draw; it was shown and not acted upon
    "timing-tolerance",  # a message states how exactly a timed draw is to be kept, which is not reckoned with
    "specimen-detail",  # a message says how a specimen is to be taken; it was shown and not acted upon
    "order-state-unknown",  # the state of an order is no code of the table; it changes nothing
    "order-control-unknown",  # an order control code is not one of the table
    "order-control-missing",  # an order has no control code; taken as new
    "collection-assumed",  # who draws is left open by its code; taken as a draw of the round
    "time-from-observation",  # the only time of an order is that of observation, often that of entry
    "time-zone-assumed",  # no time zone is set; the messages' offset was taken
    "offset-odd",  # a time has an offset from UTC that no clock or no place has
    "timing-linked",  # the time of an order hangs on another timing or order, which is not reckoned with
    "clock-change",  # a time lies in the night in which the clocks change and exists twice or not at all
    "repeat-open",  # an order repeats at times that cannot be worked out
    "repeat-taken-apart",  # an order that repeats has some of its draws in the round
    "fasting-conflict",  # fasting is stated both ways; planned as fasting
    "fasting-in-text",  # a free text speaks of fasting; it was shown and not acted upon
    "precaution-in-text",  # a text speaks of isolation or precautions; it was shown and not taken as a precaution
    "precaution-by-flag",  # a flag on the patient names a precaution, which was taken
    "resource-not-used",  # resources of kinds that are not used stand beside the orders
    "test-codes-differ",  # the codes of one order mean different tests; the first counts
    "test-by-text",  # a test is named in words only, which are those of a test of the catalogue
    "birth-date-partial",  # a birth date states no day; the youngest age that it allows is used
    "patient-moved",  # messages state two places for one patient; the newest counts
    "authority-differs",  # two authorities gave one patient number; taken for two patients
    "place-by-text",  # a bed is known by its words alone
    "request-state-unknown",  # status or intent of a request is no code that is known
    "request-contained",  # an order stands inside another resource; it is no order of its own
    "requests-in-a-ring",  # requests replace one another in a ring
    "reference-missing",  # a resource refers to one that is not in the files
    "resource-unreadable",  # a file, entry or line is no readable JSON resource
    "element-type",  # an element of a resource has a JSON type that the standard does not give it
    "resource-twice",  # a resource stands twice with different contents; the newest counts
    "duplicate-key",  # an element stands twice in one resource
    "bundle-incomplete",  # a Bundle is one page of several
    "old-release",  # an order is of a FHIR release before R4
]
ReplanningCode = Literal[
    "bed-not-found",  # a change or report names a bed that is not, or not clearly, one of the round
    "bed-empty",  # no patient of the round lies in the bed that a change names
    "bed-occupied",  # a patient comes to a bed in which another lies
    "bed-assumed",  # a bed that the round did not have was taken to lie beside its neighbour
    "bed-differs",  # an order names another bed than the one in which the round has the patient
    "change-known",  # a change was given before; it is not applied again
    "change-in-the-past",  # a change concerns only time that is over
    "order-not-found",  # a change or report names an order that is not in the round, or is set aside there
    "no-dose-rule",  # a dose is given for an order whose time does not depend on one
    "order-drawn",  # an order that is cancelled is drawn already
    "order-not-drawn",  # an order that is to be drawn again has not been drawn
    "order-known",  # an order that is given again is in the round already
    "order-differs",  # an order that is given again differs from the one in the round, which is kept
    "new-order-aside",  # an order that came during the round cannot be planned
    "order-freed",  # an order that was set aside can be planned now
    "addon-cancelled",  # an order is cancelled of which the laboratory was told to add it to a tube
    "no-add-on",  # why a new order is not added to a tube that is drawn already
    "addon-late",  # a tube in a tray reaches the laboratory too late for the test that was to be added to it
    "stat-impossible",  # a stat test is not drawn in time: who could be there first, and what would give way
    "not-venous",  # a test that is asked for at once is not drawn on a round
    "person-not-found",  # a change names nobody, or not clearly one, of those who collect
    "person-out",  # a change concerns somebody who collects no more
    "person-came",  # somebody is said never to have come of whom visits are reported
    "person-known",  # somebody who joins has the name of one who collects already
    "courier-not-found",  # a change names a place at which no courier calls, or not clearly one
    "courier-waiting",  # specimens wait for a courier whose departure is moved or cancelled
    "report-unclear",  # a report names no visit, or not clearly one
    "outcome-unknown",  # a report has no outcome, or a word that is none
    "report-contradicts",  # two reports, or a report and the plan, say different outcomes of one order
    "answer-unclear",  # an answer of a progress file is to no question about an order of the round
    "answer-not-planned",  # a dose was told at the bed of an order that nobody reports: the plan does not use it yet
    "progress-format",  # a progress file is of a format that this version does not know
    "drawn-outside",  # a draw is reported at a time at which its specimen may not count
    "report-unfinished",  # a visit without an outcome has tubes that are ticked as filled, or the time of a draw
    "report-held",  # a visit is reported that somebody else had on an older sheet: it counts as theirs
    "report-stat-asked",  # how far somebody has come does not answer for a stat that another may have drawn before
    "report-time",  # a report's time lies after now, or before anybody could be there
    "report-patient",  # a report's patient number is not that of the patient in its bed
    "report-repeated",  # reports say again what is known
    "assumed-done",  # more visits count as done without a report than the policy allows
    "stat-unreported",  # a stat draw that was due is not reported; it is planned as still to come
    "report-incomplete",  # some orders of a visit are reported and others are not
    "partial-too-old",  # a tube of a draw that was made in part is not in the laboratory while it is good
    "revision-differs",  # a revision is not what its parent and its events make
    "reporter-unknown",  # the initials of a report are nobody's of the round
]
# fmt: on

Code = LoadingCode | CatalogueCode | PolicyCode | PlanningCode | TubeCode | CheckerCode | MessageCode | ReplanningCode
"""Any code."""

LOADING_CODES: frozenset[Code] = frozenset(get_args(LoadingCode))
CATALOGUE_CODES: frozenset[Code] = frozenset(get_args(CatalogueCode))
POLICY_CODES: frozenset[Code] = frozenset(get_args(PolicyCode))
PLANNING_CODES: frozenset[Code] = frozenset(get_args(PlanningCode))
TUBE_CODES: frozenset[Code] = frozenset(get_args(TubeCode))
CHECKER_CODES: frozenset[Code] = frozenset(get_args(CheckerCode))
MESSAGE_CODES: frozenset[Code] = frozenset(get_args(MessageCode))
REPLANNING_CODES: frozenset[Code] = frozenset(get_args(ReplanningCode))

DECISION_CODES: frozenset[Code] = frozenset(
    {
        "chilled-by-alert",
        "identifier-gap",
        "identity-shared",
        "need-by-missed",
        "note-contradicts",
        "protective-after-airborne",
        "second-sample-by-one-person",
        "samples-missing",
        "stat-behind",
        "stat-held",
        "unknown-precaution",
    }
)
"""Codes about an order that is planned, but on which a person must decide."""

READING_CODES = LOADING_CODES | CATALOGUE_CODES | POLICY_CODES | MESSAGE_CODES
"""Codes of what is found while a round is read."""

CODES = READING_CODES | PLANNING_CODES | TUBE_CODES | CHECKER_CODES | REPLANNING_CODES
"""All codes."""
