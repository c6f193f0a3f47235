"""The words of the sheet: what a reason, a rule, a precaution or a pickup is called at the bedside."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from planner.domain.catalogue import Handling
from planner.domain.orders import Precaution
from planner.domain.patients.births import BirthDate
from planner.domain.plan import Outcome as PastOutcome
from planner.domain.plan import Reason
from planner.units import RoundClock, minutes_to_s

CONFIDENTIALITY = "Confidential: personal health data. Keep with you; destroy as local rules say."

UNCONFIRMED = "Tube and stability values not confirmed by your laboratory"
"""What every sheet says until the laboratory has signed its values off, and again when one changed since."""

BOX = "☐"
"""A box to tick, as a character that prints everywhere."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a visit went: the code of the progress file, the word beside the box, what it means."""

    code: str
    word: str
    meaning: str
    on_paper: bool = True


OUTCOMES = (
    Outcome("collected", "all", "Every tube is filled."),
    Outcome("partial", "part", "Not all tubes could be filled: write which."),
    Outcome("refused", "refused", "The patient does not want it: stop, tell the nurse."),
    Outcome("away", "away", "The patient is not there: tell the nurse."),
    Outcome("unidentified", "no identity", "No wristband, or another name: not drawn; tell the nurse, phone the lead."),
    Outcome("unsuccessful", "failed", "Two attempts without blood: stop, tell the nurse."),
    Outcome("recollect", "again", "Drawn, but to be drawn once more.", on_paper=False),
)
"""Outcomes of a visit; paper has room for those that happen at the bed."""

OUTCOME_SAID = {
    PastOutcome.COLLECTED: "drawn",
    PastOutcome.PARTIAL: "partly drawn",
    PastOutcome.REFUSED: "refused",
    PastOutcome.AWAY: "away",
    PastOutcome.UNIDENTIFIED: "not drawn, identity not certain",
    PastOutcome.UNSUCCESSFUL: "two attempts failed",
    PastOutcome.RECOLLECT: "drawn, to be drawn again",
}
"""What came of a visit, as the list of what is done says it."""

KEEP_OUT = "DO NOT GO IN"
"""Stands first on the card of a bed that nobody enters before the lead has said so."""
NOT_YET = "not drawn until the lead has said who draws, in what, and how the specimen travels"
"""Said of the orders of such a bed; its card has no tubes."""

WEAR = {
    Precaution.PROTECTIVE: "PROTECTIVE: clean gown, gloves and mask as the door sign says; stay out if you are ill",
    Precaution.CONTACT: "CONTACT: gown and gloves; disposable tourniquet stays in the room",
    Precaution.DROPLET: "DROPLET: surgical mask, eye cover and gloves",
    Precaution.AIRBORNE: "AIRBORNE: fit-tested respirator and gloves; keep the door shut",
    Precaution.UNCLEAR: "ISOLATION NOT CLEAR: ask the nurse what to wear before you go in",
}
"""[L90] for contact, droplet and airborne; protective and eye cover: common practice, from memory."""

DRAW_HANDLING = (
    Handling.SUPINE,
    Handling.UPRIGHT_2H,
    Handling.BEFORE_ANTIBIOTICS,
    Handling.ASEPSIS,
    Handling.NO_ALCOHOL_PREP,
    Handling.NO_TOURNIQUET,
    Handling.SECOND_SAMPLE,
)
"""Handling that concerns the patient or the puncture: said once a visit, in this order."""

TEST_HANDLING = (Handling.NO_HEPARIN_LINE, Handling.HEEL_ONLY)
"""Handling that so many tests ask for that it is said by test, above the stops where many beds have it."""

GENERAL_HANDLING = (Handling.NO_FIST, Handling.NO_ICE, Handling.RECORD_TIME)
"""Handling that is good for every draw: said once a sheet, for all, so that the rest stands out."""

NEWEST = "NEWEST SHEET? Ask the lead before you start."
"""What the first line of a route asks: a sheet cannot know that another was made."""

LOADING_S = minutes_to_s(15)
"""Before the start: so long takes loading (our choice)."""
LOADING = (
    "{name}: begin to load at {begin}. {empty}Load the tubes of the last bed first, so that those of the first lie on "
    "top{ice}."
)
LOAD_EMPTY, LOAD_ICE = "First chill or warm the empty tubes that ask for it. ", "; what travels on ice goes in last"
"""When to begin to load, and in which order (common practice, no source); the last two only where there are any."""

EVERY_PATIENT = (
    "EVERY PATIENT",
    "clean hands, gloves. Ask name and birth date; compare with wristband and number; tick. Ask: allergies? arms not "
    "to be used? fainted before? Tourniquet under 1 minute. Hand relaxed, no fist clenching. No ice "
    "unless printed. Label beside the patient after filling. Write the exact time. Bleeding stopped?",
)
"""What holds for every visit, label and words; says all of `GENERAL_HANDLING`.

Tourniquet under 1 minute: CLSI GP41 (from memory); bleeding and fainting: common practice, no source.
"""

BREAK = "BREAK"
BREAK_AFTER = "{minutes} min, within {begins} to {ends}: not on this route, done {done}; take it then"
"""Said of a break that is not planned, as all of it still fits behind the route."""

USE_OF_A_WAIT = "Use it: count the tray, write true times, ask about the next beds."
"""What the minutes before a window opens are good for (our choice)."""

OTHERWISE = (
    "OTHERWISE",
    "away, refused, no wristband, another name, transfusion running: do not draw; write why in the margin, tell the "
    "nurse. Infusion: other arm; in both: do not draw, the doctor decides.",
)
"""What to do when a visit does not go as planned: [L13] and, for infusions, [L60]."""

LATE_URGENT = "late: draw, phone the lead"
"""What an urgent draw says of itself."""

TOO_LATE = (
    "TIME MISSED",
    "only, not after, never after: do not draw, phone the ward nurse. Else draw, write the time; STAT, ASAP, URGENT: "
    "phone the lead too.",
)
"""What to do past the end of a window, by its kind (common practice, no source; local policy decides)."""

PHONES = {
    "lead": "new order, 10 min late, courier missed",
    "laboratory": "tube rejected or unclear",
    "ward nurse": "refused, away, ate, window missed",
}
"""Whom a collector phones on which occasion (common practice, no source; ten minutes: our choice)."""

ALSO = "Also: tourniquets, tube holders, wipes, gauze, sharps box, labels, bags, pen."
"""What every round needs and no order names (common practice, no source)."""

WHAT_IF_TITLE = "What if"
WHAT_IF_HEADS = ("If", "Do", "Write", "Phone")
"""Title and columns of the what-if card."""

BEHIND = ("BEHIND", "what-if card, map, cautions, legend")
"""What stands on the pages behind the stops."""

FROM_SKIN = (
    "FROM THE SKIN, heel or finger by local policy: warm the site 3 to 5 minutes (not over 42 C); wipe the first drop "
    "away; let drops fall, do not squeeze or scrape; fill to the line in the order printed, mix each tube at once"
)
"""How a draw from the skin is made: CLSI GP42 and the WHO guideline of 2010 [C4]; the minutes from memory."""

EMPTY_HANDLING = {
    Handling.PRECHILL: "cold since loading? If not, put the empty tube on ice first",
    Handling.PREWARM: "warm since loading? If not, warm the empty tube to 37 C first",
}
"""What is done to tubes long before the needle: said when loading, at the top of the visit, and again at the tube."""

SITE_HEAD = "SITE {site} of {sites}: a new needle, another vein, skin cleaned again"
"""Stands above the tubes of each site (CLSI M47 for blood cultures, from memory)."""

TUBE_HANDLING = (
    Handling.PRECHILL,
    Handling.PREWARM,
    Handling.ICE,
    Handling.WARM_37C,
    Handling.LIGHT,
    Handling.ANAEROBIC,
    Handling.HAND_DELIVER,
    Handling.STRICT_LABEL,
    Handling.FULL_FILL,
    Handling.TRACE_CLEAN,
    Handling.NOT_LITHIUM_HEPARIN,
    Handling.NO_GEL,
    Handling.WEEKDAY_ONLY,
)
"""Handling that concerns one tube, in this order. Discard tubes stand in the list; the dose time is asked for."""

SPECIAL_HANDLING = frozenset(
    {
        Handling.ICE,
        Handling.WARM_37C,
        Handling.LIGHT,
        Handling.ANAEROBIC,
        Handling.HAND_DELIVER,
        Handling.STRICT_LABEL,
        Handling.PRECHILL,
        Handling.PREWARM,
    }
)

RULE = {
    "requested": "timed",
    "priority": "priority",
    "clock": "time of day of the test",
    "fasting": "fasting",
    "dose": "drug level",
    "antibiotic": "before the antibiotic",
    "absence": "patient away",
    "quiet-hours": "quiet hours",
    "series-gap": "gap in a series",
    "stated-spacing": "gap to the last draw of the test",
    "retry": "next try",
    "closed": "days of the laboratory",
    "posture": "posture",
    "round": "the round",
}
"""Names of rules (planner/RULES.md) as they are said on a ward."""

REASON: dict[Reason, tuple[str, str]] = {
    Reason.CANCELLED: ("Cancelled", "Nothing to do."),
    Reason.ON_HOLD: ("On hold", "Nothing to do until it is released."),
    Reason.REPLACED: ("Replaced by another order", "Nothing to do."),
    Reason.NOT_AN_ORDER: ("Not an order to be carried out", "Nothing to do."),
    Reason.NOT_LABORATORY: ("Not a laboratory order", "Nothing to do."),
    Reason.TOTALS_ROW: ("Row of totals, not an order", "Nothing to do."),
    Reason.PRIOR_RESULT: ("Copy of an old result", "Nothing to do."),
    Reason.ADD_ON: ("Made from a specimen in the laboratory", "No draw; the laboratory adds the test."),
    Reason.PATIENT_GONE: ("Patient has left or died", "Do not draw. Ask the ward, and have the order cancelled."),
    Reason.ALREADY_DRAWN: ("Already drawn", "Nothing to do."),
    Reason.DRAWN_BY_OTHERS: ("Drawn by ward staff, not by this round", "Make sure that the ward knows."),
    Reason.NOT_BLOOD: ("Not a blood test", "Collected another way."),
    Reason.ARTERIAL: ("Arterial sample", "Not drawn on this round; the ward's doctor takes it."),
    Reason.OTHER_ROUND: ("Belongs to another round", "Will be planned with that round."),
    Reason.DUPLICATE_NUMBER: ("Order number used twice", "Ask the ward which order counts."),
    Reason.UNREADABLE: ("Something in the order cannot be read", "Correct the order and plan again."),
    Reason.UNKNOWN_TEST: ("Unknown test", "Ask the laboratory which test is meant and which tube it needs."),
    Reason.UNKNOWN_PATIENT: ("Patient not on the list", "Find out who the patient is before anything is drawn."),
    Reason.NO_BED: ("No bed known", "Ask the ward where the patient is."),
    Reason.UNREACHABLE: ("No way to this bed on the map", "Correct the map, or plan the bed by hand."),
    Reason.IDENTITY_CONFLICT: (
        "One patient number, two identities",
        "Do not draw. Have the ward settle who this is.",
    ),
    Reason.BED_CONFLICT: ("Two patients in one bed", "Do not draw. Have the ward say who lies where."),
    Reason.DOSE_TIME_MISSING: ("Dose time missing", "Ask the nurse for the dose time; then plan again."),
    Reason.TIME_MISSING: ("Time of the draw missing", "Ask the ward when it is to be drawn; then plan again."),
    Reason.NO_COMMON_WINDOW: ("No time fits all its rules", "Do not draw until that is settled."),
    Reason.WINDOW_PASSED: ("Its time is over", "Do not draw. Ask the nurse or pharmacist for a new time."),
    Reason.LAB_CLOSED: ("Laboratory does not take it now", "Do not draw. Ask the laboratory or the doctor for a day."),
    Reason.NO_TUBE: ("No tube fits", "Ask the laboratory how to collect it."),
    Reason.BLOOD_LIMIT: ("Would go over the blood limit", "Ask the doctor which tests matter most."),
    Reason.AGE_UNKNOWN: ("Age not known: a child or an adult?", "Ask the ward for the birth date."),
    Reason.WEIGHT_IMPLAUSIBLE: ("Weight cannot be at that age", "Ask the ward for weight and birth date."),
    Reason.NEONATE: ("Newborn: vein, heel or ward staff?", "Ask the ward how this patient is drawn."),
    Reason.NOT_CAPILLARY: ("Not from heel or finger", "Ask the ward to have it drawn from a vein."),
    Reason.HEEL_TEST: ("Heel test, not from a vein", "Ask who makes it: ward staff, or a person trained for it."),
    Reason.WARD_DRAWS: ("The ward draws this patient", "Tell the ward of the order."),
    Reason.WEIGHT_MISSING: ("Weight missing, blood limit unknown", "Ask the ward for the weight."),
    Reason.NO_ARM: (
        "Neither arm may be used",
        "Do not draw from an arm. Ask the doctor from where, or who draws from the line.",
    ),
    Reason.NO_SKILL: ("Nobody on the round has the skill", "Find somebody who is trained for it."),
    Reason.NO_WARD: (
        "Nobody on the round goes to this ward",
        "Find somebody who may go there.",
    ),
    Reason.TRAY_TOO_SMALL: ("More tubes at once than a tray holds", "Arrange a porter, or take a larger tray."),
    Reason.NO_HANDOVER: (
        "Cannot reach the laboratory in time",
        "Draw it separately and carry it to the laboratory at once.",
    ),
    Reason.NO_TIME: ("No time left in the round", "Find another collector, or a later round."),
    Reason.CHECK_REFUSED: ("The check refused its plan", "Decide by hand how it is drawn, and report the fault."),
    Reason.REFUSED: ("Patient refused", "Tell the nurse and the doctor; do not draw against the patient's will."),
    Reason.NOT_IDENTIFIED: (
        "Could not be identified at the bed",
        "Do not draw. Have the ward settle who this is, and order it again.",
    ),
    Reason.PARTLY_DRAWN: ("Only partly drawn", "Ask the laboratory whether it suffices; if not, have it recollected."),
    Reason.SECOND_PERSON: ("Two attempts failed", "Find a second collector, or ask the doctor."),
    Reason.SERIES_GAP: ("Gap of its series cannot be kept", "Ask the doctor or laboratory whether to draw it at all."),
    Reason.DRAWN_IN_VAIN: (
        "Drawn, but too old on arrival",
        "Phone the laboratory; arrange a porter, or have it recollected.",
    ),
    Reason.ADD_ON_LOST: ("Its tube was not drawn", "Tell the laboratory, and order it again if it is still needed."),
}
"""What was found and what to do, by reason; the order's own detail stands beside it."""

IF_DRAWN = "If drawn, too old on arrival"
"""What was found of an order that is drawn in vain if it was drawn as planned: nobody reported it."""

NOBODY_DRAWS = frozenset(
    {
        Reason.PATIENT_GONE,
        Reason.IDENTITY_CONFLICT,
        Reason.NOT_IDENTIFIED,
        Reason.BED_CONFLICT,
        Reason.NO_COMMON_WINDOW,
        Reason.WINDOW_PASSED,
        Reason.LAB_CLOSED,
        Reason.NO_ARM,
    }
)
"""Reasons for which nobody may draw before somebody has decided: their groups come first."""

DECISION: dict[str, tuple[str, str]] = {
    "chilled-by-alert": ("An alert asks for a chilled tube", "Ask the laboratory, and take a tube more along."),
    "samples-missing": (
        "Fewer orders than samples of the test",
        "Ask the ward: are the later samples ordered, or does the ward draw them? If neither, do not begin the test.",
    ),
    "identifier-gap": (
        "One of the two identifiers is not on the list",
        "Ask the ward for it before the round. Without a second identifier nobody draws.",
    ),
    "identity-shared": (
        "Two patients of one name and one birth date",
        "Ask the ward: two people, or one under two numbers? If two, read the number digit by digit at the bed.",
    ),
    "stat-behind": ("A stat comes late, after another bed", "Decide now: go to the stat first, or send somebody."),
    "stat-held": ("A stat waits for the hour of its rule", "Decide now: wait, or draw at once?"),
    "need-by-missed": ("Later than the ward needs it", "Tell the ward, or add a person or a courier."),
    "note-contradicts": (
        "A note or an alert speaks against the plan",
        "Ask the ward; then change the order, or leave it.",
    ),
    "protective-after-airborne": (
        "Protective room after an airborne one",
        "Send another person or another time, or decide that this person may go in.",
    ),
    "unknown-precaution": (
        "Isolation in words that are not known",
        "Ask the ward which isolation: a protective room comes first, all others last. Write a known word.",
    ),
    "second-sample-by-one-person": (
        "Both samples for the blood bank by one person",
        "Send another person for the second, or decide that this person may draw both.",
    ),
}
"""What must be decided about orders that are planned, and what to do, by the code of the finding."""

NOT_READ = ("Given, but not read or not used", "Decide before the round: the plan may lack something.")
"""What is said of a list or a column that nobody could use, and what to do."""

SHAPED = "What shaped each route"
WHY = "WHY THIS ROUTE"

PRICES_TRIED = "Prices tried in this plan only"

JUDGED = "About the plan, the first thing before the second"
"""What stands before the plan's own figures, for the lead."""


def join_words(items: Sequence[str]) -> str:
    """Return 'a', 'a and b', 'a, b and c'."""
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}" if items else ""


def count_words(number: int, one: str, many: str | None = None) -> str:
    """Return '1 tube', '2 tubes'."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def day_words(day: date) -> str:
    """Return a date that nobody can read the wrong way round: 03 Apr 1951."""
    months = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
    return f"{day.day:02} {months[day.month - 1]} {day.year:04}"


def birth_words(born: BirthDate) -> str:
    """Return a birth date as far as it is known: 03 Apr 1951, Apr 1951 or 1951, the missing part said."""
    if isinstance(born, date):
        return day_words(born)
    if born.month is None:
        return f"{born.year:04}, day and month not on file"
    return f"{day_words(date(born.year, born.month, 1))[3:]}, day not on file"


def time_words(clock: RoundClock, seconds: int) -> str:
    """Return HH:MM, with the day as a person says it where it is not the round's: 22:00 yesterday."""
    local = clock.to_local(seconds)
    days = (local.date() - clock.day).days
    said = {0: "", -1: " yesterday", 1: " tomorrow"}.get(days)
    return f"{local:%H:%M}" + (f" on {day_words(local.date())}" if said is None else said)


def ranges_words(numbers: Sequence[int]) -> str:
    """Return ascending numbers with runs drawn together: 1-3, 5."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return ", ".join(str(a) if a == b else f"{a}-{b}" for a, b in runs)
