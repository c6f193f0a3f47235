"""Words that files use for priorities, states, performers and the like, and what they mean to us."""

from __future__ import annotations

from collections.abc import Mapping
from enum import Enum, auto

from planner.domain.orders import Arm, Method, Precaution, Priority
from planner.domain.places import PickupKind, PlaceKind
from planner.domain.plan import Reason


class Timed(Enum):
    """Priorities that promise a time: the order must state one."""

    TIMED = auto()


PRIORITIES: Mapping[str, Priority | Timed] = {
    **dict.fromkeys(
        ("stat", "s", "immediate", "now", "emergency", "em", "notfall", "sofort", "vital", "urgence vitale"),
        Priority.STAT,
    ),
    **dict.fromkeys(("asap", "a", "as soon as possible", "so bald wie moglich", "des que possible"), Priority.ASAP),
    **dict.fromkeys(
        ("urgent", "urg", "u", "ur", "high", "preop", "pre-op", "p", "eilig", "dringend", "cito", "urgence"),
        Priority.URGENT,
    ),
    **dict.fromkeys(
        ("", "routine", "r", "normal", "elective", "standard", "low", "am", "morning", "am draw", "morning draw"),
        Priority.ROUTINE,
    ),
    **dict.fromkeys(("timed", "t", "timing critical", "timed draw", "zeitgenau", "heure fixe"), Timed.TIMED),
}  # fmt: skip
"""Plain words, HL7 table 0485 (S, A, R, P, T) and FHIR request-priority."""

STATES: Mapping[str, Reason | None] = {
    **dict.fromkeys(
        ("", "active", "ordered", "new", "open", "pending", "scheduled", "planned", "released", "requested", "sc",
         "ip", "in process", "to collect", "to be collected", "uncollected", "not collected", "offen", "aktiv",
         "angefordert", "actif", "a prelever"),
        None,
    ),
    **dict.fromkeys(
        ("cancelled", "canceled", "cancel", "ca", "dc", "discontinued", "revoked", "entered-in-error",
         "entered in error", "withdrawn", "deleted", "storniert", "annule", "on hold", "on-hold", "hold", "hd", "held"),
        Reason.CANCELLED,
    ),
    **dict.fromkeys(
        ("collected", "drawn", "completed", "complete", "cm", "received", "in lab", "done", "resulted", "final",
         "entnommen", "abgenommen", "erledigt", "preleve"),
        Reason.ALREADY_DRAWN,
    ),
}  # fmt: skip
ON_HOLD = frozenset({"on hold", "on-hold", "hold", "hd", "held"})

PERFORMERS: Mapping[str, Reason | None] = {
    **dict.fromkeys(
        ("", "laboratory", "lab", "l", "phlebotomy", "phlebotomist", "phleb", "lab collect", "laboratory collect",
         "lab collected", "phlebotomy team", "labor", "blutentnahmedienst", "laboratoire"),
        None,
    ),
    **dict.fromkeys(
        ("nurse", "nursing", "rn", "nurse collect", "ward", "ward collect", "unit collect", "unit", "doctor",
         "physician", "md", "o", "other", "others", "clinician", "clinic collect", "patient", "icu", "dialysis",
         "theatre", "line team", "anaesthetist", "pflege", "arzt", "station", "infirmier", "infirmiere", "medecin"),
        Reason.DRAWN_BY_OTHERS,
    ),
}  # fmt: skip
"""Who draws; L and O as in HL7 table 0065."""

SPECIMENS: Mapping[str, Reason | None] = {
    **dict.fromkeys(
        ("", "blood", "venous blood", "whole blood", "serum", "plasma", "bld", "bldv", "wb", "ser", "plas", "edta",
         "edta blood", "citrate", "heparin", "blut", "vollblut", "venenblut", "sang", "sang veineux", "blood culture"),
        None,
    ),
    **dict.fromkeys(("arterial", "arterial blood", "blda", "arterienblut", "sang arteriel"), Reason.ARTERIAL),
    **dict.fromkeys(
        ("urine", "ur", "uri", "urin", "stool", "stl", "faeces", "feces", "stuhl", "selles", "swab", "abstrich",
         "sputum", "csf", "cerebrospinal fluid", "liquor", "lcr", "saliva", "tissue", "biopsy", "fluid",
         "pleural fluid", "ascites", "wound swab", "nasal swab", "throat swab", "bal", "aspirate"),
        Reason.NOT_BLOOD,
    ),
}  # fmt: skip

OTHER_SPECIMEN_WORDS = frozenset(
    {"urine", "urinary", "stool", "faeces", "feces", "sputum", "swab", "csf", "saliva", "urin", "stuhl", "abstrich",
     "liquor", "selles", "lcr"}
)  # fmt: skip
"""Words in the name of an unknown test that tell that its specimen is not blood."""

YES = frozenset(
    {"yes", "y", "true", "1", "x", "ja", "j", "oui", "o", "fasting", "f", "fast", "nuchtern", "required", "npo"}
)
NO = frozenset(
    {"no", "n", "false", "0", "nein", "non", "not fasting", "nonfasting", "non-fasting", "nf", "not required"}
)

METHODS: Mapping[str, Method] = {
    **dict.fromkeys(
        ("venous", "vein", "venepuncture", "venipuncture", "venous puncture", "venos", "veineux"), Method.VENOUS
    ),
    **dict.fromkeys(
        ("capillary", "skin puncture", "heel", "heel prick", "heel stick", "heelprick", "finger", "finger prick",
         "fingerprick", "finger stick", "kapillar", "capillaire"),
        Method.CAPILLARY,
    ),
    **dict.fromkeys(
        ("ward", "ward staff", "nurse", "nurses", "doctor", "by ward", "station", "pflege", "infirmiere"), Method.WARD
    ),
}  # fmt: skip
"""How blood is taken, as a column ``method`` says it; words as `word` folds them."""

PRECAUTIONS: Mapping[str, Precaution] = {
    **dict.fromkeys(("contact", "contact plus", "kontakt", "enteric", "mrsa", "c diff", "c. diff"), Precaution.CONTACT),
    **dict.fromkeys(("droplet", "tropfchen", "gouttelettes"), Precaution.DROPLET),
    **dict.fromkeys(("airborne", "aerosol", "aerogen", "air"), Precaution.AIRBORNE),
    **dict.fromkeys(
        ("protective", "reverse", "reverse isolation", "neutropenic", "protective isolation", "schutzisolation",
         "umkehrisolation", "protecteur"),
        Precaution.PROTECTIVE,
    ),
}  # fmt: skip
SAYS_MORE = frozenset({"contact plus", "enteric", "mrsa", "c diff", "c. diff", "neutropenic"})
"""Words for a precaution that say more than its name: printed as an alert too."""
ARMS: Mapping[str, frozenset[Arm]] = {
    **dict.fromkeys(("left", "l", "left arm", "lue", "left upper limb", "links", "gauche", "bras gauche"),
                    frozenset({Arm.LEFT})),
    **dict.fromkeys(("right", "r", "right arm", "rue", "right upper limb", "rechts", "droit", "bras droit"),
                    frozenset({Arm.RIGHT})),
    **dict.fromkeys(("both", "both arms", "bilateral", "left and right", "right and left", "beide", "beidseits",
                     "les deux"),
                    frozenset({Arm.LEFT, Arm.RIGHT})),
    **dict.fromkeys(("none", "no", "n", "-", "nil", "keine", "aucun"), frozenset()),
}  # fmt: skip
"""Arms that must not be used."""
NO_PRECAUTION = frozenset({"", "none", "no", "standard", "-", "keine", "aucune", "n"})

PLACE_KINDS: Mapping[str, PlaceKind] = {
    **dict.fromkeys(("", "bed", "bett", "lit", "bedside", "room"), PlaceKind.BED),
    **dict.fromkeys(("base", "office", "start", "station base", "basis"), PlaceKind.BASE),
    **dict.fromkeys(
        ("pickup", "pick-up", "courier", "courier point", "collection point", "abholpunkt"), PlaceKind.PICKUP
    ),
    **dict.fromkeys(("tube station", "tube", "pneumatic tube", "rohrpost", "tube_station"), PlaceKind.TUBE_STATION),
    **dict.fromkeys(("laboratory", "lab", "labor", "laboratoire"), PlaceKind.LABORATORY),
    **dict.fromkeys(("waypoint", "door", "junction", "corridor", "lift", "stairs", "flur"), PlaceKind.WAYPOINT),
}

PICKUP_KINDS: Mapping[str, PickupKind] = {
    **dict.fromkeys(("courier", "porter", "messenger", "runner", "kurier", "bote", "coursier"), PickupKind.COURIER),
    **dict.fromkeys(("tube", "tube station", "pneumatic tube", "rohrpost", "pneumatique"), PickupKind.TUBE),
    **dict.fromkeys(
        ("carried", "carry", "by hand", "hand", "walk", "laboratory", "zu fuss", "porte"), PickupKind.CARRIED
    ),
}
