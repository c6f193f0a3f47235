"""Which arms a free text bars, and into which something runs: 'AV fistula L, PICC R', 'no BP or needles either arm'.

A side that is named with a word that is not known is kept as unexplained: it is no arm to send somebody to. A reason
without any side ('TPN via PICC') may be the other arm's, unless a text gives the side of a reason of its kind. Where
texts bar both arms, nobody is sent before a person decides; of one, the card names it and the text that says so.
So a doubtful text bars rather than frees. A text is taken apart at commas and the like; a part that gives a reason
(a fistula, 'no needles') bars the sides that it names, or those named just before it ('left arm, fistula'); a part of
nothing but sides carries on the reason before it ('fistula left, right').
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from planner.domain.orders import Arm


@dataclass(frozen=True, slots=True, kw_only=True)
class ArmWords:
    """What texts say of arms: those that are barred, and those into which something runs."""

    barred: frozenset[Arm] = frozenset()
    running: frozenset[Arm] = frozenset()
    unexplained: frozenset[Arm] = frozenset()
    """Arms that are named with no reason that is understood."""
    sided: frozenset[str] = frozenset()
    """Kinds of reasons whose side a text gives."""
    sideless: frozenset[str] = frozenset()
    """Kinds of reasons that a text gives without their side."""

    def __or__(self, other: ArmWords) -> ArmWords:
        return ArmWords(
            barred=self.barred | other.barred,
            running=self.running | other.running,
            unexplained=self.unexplained | other.unexplained,
            sided=self.sided | other.sided,
            sideless=self.sideless | other.sideless,
        )


_BOTH = frozenset(Arm)
_PARTS = re.compile(r"[,;.\n()\[\]]|\bbut\b|\s[-–—]\s")
_SIDES: tuple[tuple[Arm, re.Pattern[str]], ...] = (
    (Arm.LEFT, re.compile(r"\b(?:l|lt|left|lue|left-sided|links|linke[rnms]?|gauche)\b")),
    (Arm.RIGHT, re.compile(r"\b(?:r|rt|right|rue|right-sided|rechts|rechte[rnms]?|droite?)\b")),
)
_EITHER = re.compile(
    r"\b(?:both|either|neither|bilateral(?:ly)?|bilat|b/l|any arms?|no arms?|all limbs|all extremities|beide[nr]?|"
    r"beidseits|les deux|(?:avoid|spare|save|protect|not|never|not use|n't use|never use) (?:the )?arms|"
    r"(?:no|not|never|don'?t)\b(?: \w+){0,4}? (?:from|in|into|on) (?:the |his |her |their )?arms|"
    r"svco|(?:svc|superior vena cava|vena cava superior|cava superior) (?:obstruct\w*|occlu\w*|syndrome|thrombos\w*)|"
    r"(?:other|opposite|contralateral|andere[rn]?) (?:arm|limb|side))\b"
)
_BARS = re.compile(
    r"\b(?:svco|(?:svc|superior vena cava|vena cava superior|cava superior) (?:obstruct\w*|occlu\w*|syndrome)|"
    r"(?:anc|ax|axilla|nodal|node|nodes) (?:clearance|dissection)|alnd|(?:not|never) (?:the )?arms|"
    r"(?:lump|quadrant|tumor)[eo]ctom\w*|breast (?:surgery|operation|cancer|ca|conservation|reconstruction)|"
    r"brust(?:krebs|op\w*)|cancer du sein|sentinel|axilla|"
    r"f[ií]stulas?|fistulae|fistules?|\w*fistel\w*|avf|fav|avg|grafts?|\w*shunts?|[\w-]*mastectom(?:y|ies|ia|ía)|mastektomie|"
    r"mastectomie|ablatio|mx|piccs?|midlines?|lymph(?:oe?|œ|ö)d[eè]me?a?|axillary|stroke|cva|weak\w*|gips\w*|pl[aâ]tre|"
    r"h?a?ematomas?|hämatom\w*|swelling|swollen|oedema|edema|wounds?|slings?|"
    r"lymph nodes?|hemipares\w*|hemipleg\w*|pare(?:tic|sis)|plegic|monopleg\w*|dvt|thrombos\w*|fractur\w*|plaster|cast|"
    r"burn(?:s|ed|t)?|cellulitis|amput\w*|restrict\w*|restr|barred|forbidden|not to be used|do not use|don'?t use|"
    r"not? use|unusable|avoid\w*|not for use|save|preserve|spare|protect(?:ed)?|nicht verwenden|gesperrt|"
    r"interdit|neither arm|no arms?|no (?:l|lt|left|r|rt|right) (?:upper )?(?:arm|limb))\b"
)
_NO_NEEDLE = re.compile(
    r"\b(?:no|not|never|don'?t|without|kein\w*|pas de)\b(?:[\s/&+]+\w+){0,4}?[\s/&+]+"
    r"(?:bps?|needles?|needling|veni?puncture|"
    r"venepunctures?|venipunctures?|puncture[sd]?|pricks?|sticks?|blood|bloods|bleed|bled|draws?|drawn|"
    r"drawing|samples?|sampling|"
    r"cannulas?|cannulation|iv|ivs|tourniquets?|cuffs?|blutentnahme\w*|blutdruck\w*)\b"
)
_RUNS = re.compile(
    r"\b(?:infus\w*|drips?|gtts?|kcl|potassium chloride|kaliumchlorid|"
    r"pumps?|perfus\w*|running|runs|continuous|fluids?|tpn|parenteral nutrition|transfus\w*|ufh|"
    r"heparin (?:iv|lines?)|(?:iv|lines?)(?: of| with)? heparin|noradrenalin\w*|norepinephrin\w*|adrenalin\w*|"
    r"ivi|ivt|ivs?|i/v|pivc?|pvc|cannula\w*|kanüle\w*|zugang|zugänge|saline|nacl|kochsalz\w*|dextrose|tropf|"
    r"epinephrin\w*|vasopress\w*|dopamin\w*|dobutamin\w*|arterial lines?|art lines?|a-lines?)\b"
)
"""Whatever runs into an arm spoils what is drawn there, and some of it must not be stopped for a draw [L60]."""
_DENIED = re.compile(r"\b(?:no|not|without|denies|denied|nil|negative for|ruled out|kein\w*|sans)\b(?:\s+\w+){0,2}\s*$")
_ELSEWHERE = re.compile(r"\b(?:legs?|foot|feet|ankle|knee|thigh|groin|femoral|hip|lle|rle|toes?)\b")
_ADVICE = re.compile(
    r"(?<!not )(?<!never )(?<!n't )\b(?:use|draw(?: from)?|take(?: from)?|prefer(?:red)?)\s+"
    r"(?:the\s+|only\s+)?(?:l|lt|left|r|rt|right|other|opposite)\b(?:\s+(?:arm|limb|side))?"
)
_ONLY = re.compile(
    r"\b(l|lt|left|r|rt|right)(?:\s+(?:upper\s+)?(?:arm|limb|side))?\s+only\b|"
    r"\bonly\s+(?:use\s+|draw\s+|from\s+|the\s+)*(l|lt|left|r|rt|right)\b"
)
"""'Left arm only' frees the left arm and bars the other, unless it goes on from a ban: 'no needles left arm only'."""
_BAN = re.compile(r"\b(?:no|not|never|without|avoid\w*|barred|restrict\w*|forbidden|kein\w*)\b")
_GOOD = re.compile(
    r"\b(?:other|opposite|contralateral|andere[rn]?|ok|okay|fine|good|usable|free|healthy|best|prefer\w*|easy)\b"
)
"""Words that speak for an arm, unless they are denied: 'right arm no good' is a reason that nobody has explained."""
_NOT_GOOD = re.compile(r"(?:\b(?:no|not|never|nor|without|nicht|kein\w*|pas|sans)|n['’]t)\b(?:\s+\w+){0,2}\s*$")
_NO_ARM = re.compile(
    r"\b(?:handed|lobes?|lungs?|eyes?|ears?|kidneys?|ventric\w*|atri\w*|bundle|heart|nephr\w*|ward|home|room)\b"
)
"""Words with which a side is no arm's. A breast is not among them: its arm may have lost its nodes."""
_LITRES = re.compile(r"(?<![\dx])\d\s*l\b(?!\s*(?:upper|forearm|arm|limb|hand|wrist|elbow))")
_FLUID = re.compile(r"%|\b(?:nacl|saline|kochsalz\w*|ringer\w*|hartmann\w*|dextrose|fluids?|intake|water|o2|oxygen)\b")
"""A number before L is litres where a part of a text speaks of a fluid and of nothing that bars an arm."""
_KINDS = {
    "line": re.compile(r"\b(?:piccs?|midlines?)\b"),
    "fistula": re.compile(
        r"\b(?:f[ií]stulas?|fistulae|fistules?|\w*fistel\w*|avf|fav|avg|\w*shunts?|"
        r"(?<!skin )(?<!bypass )grafts?(?! versus| vs))\b"
    ),
    "breast": re.compile(
        r"\b(?:[\w-]*mastectom(?:y|ies|ia|ía)|mastektomie|mastectomie|ablatio|"
        r"lymph(?:oe?|œ|ö)d[eè]me?a?|linfoe?dema|lymph nodes?|"
        r"axillary|axilla|axillaire|sentinel|(?:lump|quadrant|tumor)[eo][ck]tom\w*|alnd|"
        r"breast (?:surgery|operation|cancer|ca|conservation|reconstruction)|"
        r"brust(?:krebs|amputation|op\w*)|cancer du sein)\b"
    ),
    "weakness": re.compile(r"\b(?:hemipares\w*|hemipleg\w*|(?:paretic|plegic) arm)\b"),
}
"""Lasting reasons against one arm, by kind, which texts often give without the side."""
_AN_ARM = re.compile(r"\b(?:arms?|bras)\b")
_RULED_OUT = re.compile(r"\br/o\b")
_SIDES_ONLY = re.compile(
    r"^(?:\s|[/&+]|\b(?:l|lt|left|r|rt|right|lue|rue|arms?|upper|limbs?|side|sides|and|or|both|the|in|of)\b)+$"
)


def arms_said(text: str, *, is_about_arms: bool = False) -> ArmWords:
    """Return what a text says of arms; ``is_about_arms`` where its column bars every arm that it names."""
    return _said(text, is_about_arms)


@lru_cache(maxsize=4096)
def _said(text: str, is_about_arms: bool) -> ArmWords:
    found = ArmWords()
    bars, runs, named = is_about_arms, False, frozenset[Arm]()
    for raw in _PARTS.split(_RULED_OUT.sub("", text.casefold())):
        part, other = _without_only(_ADVICE.sub("", raw))
        found |= ArmWords(barred=other)
        if not part.strip():
            continue
        if _ELSEWHERE.search(part) and not re.search(r"\barms?\b", part):
            bars, runs, named = is_about_arms, False, frozenset()
            continue
        if _FLUID.search(part) and not (is_about_arms or _is_barring(part)):
            part = _LITRES.sub(" ", part)
        sides = _sides(part)
        if _SIDES_ONLY.match(part):
            named = sides
        else:
            bars = is_about_arms or _is_barring(part)
            runs = _is_given(_RUNS, part)
            sides, named = sides or named, frozenset()
        kinds = frozenset(kind for kind, reasons in _KINDS.items() if _is_given(reasons, part))
        found |= ArmWords(
            barred=sides if bars else frozenset(),
            running=sides if runs else frozenset(),
            unexplained=frozenset() if _is_understood(part) else sides,
            sided=kinds if sides else frozenset(),
            sideless=frozenset() if sides else kinds or _of_some_arm(part),
        )
    return found


def _of_some_arm(part: str) -> frozenset[str]:
    """Return a kind of its own, which no side explains, for a part that speaks of an arm but not in its favour."""
    return frozenset({"arm"} if _is_given(_AN_ARM, part) and not _is_praised(part) else ())


def _is_praised(part: str) -> bool:
    """Return whether a part speaks for an arm and nothing in it is denied."""
    good = [not _NOT_GOOD.search(part[: found.start()]) for found in _GOOD.finditer(part)]
    return bool(good) and all(good)


def _is_understood(part: str) -> bool:
    """Return whether a part holds a reason, denied or not, or says nothing against an arm."""
    return any(reason.search(part) for reason in (_BARS, _NO_NEEDLE, _RUNS, _NO_ARM)) or _is_praised(part)


def _without_only(part: str) -> tuple[str, frozenset[Arm]]:
    """Return a part without 'left arm only' and the like, and the arms that such words bar."""
    barred: frozenset[Arm] = frozenset()
    for found in reversed(list(_ONLY.finditer(part))):
        if not _BAN.search(part[: found.start()]):
            barred |= _BOTH - _sides(found[0])
            part = part[: found.start()] + part[found.end() :]
    return part, barred


def _is_barring(part: str) -> bool:
    """Return whether a part of a text gives a reason that is not denied: 'no fistula' gives none, 'no needles' does."""
    if _NO_NEEDLE.search(part):
        return True
    return _is_given(_BARS, part)


def _is_given(reasons: re.Pattern[str], part: str) -> bool:
    return any(not _DENIED.search(part[: found.start()]) for found in reasons.finditer(part))


def _sides(part: str) -> frozenset[Arm]:
    if _EITHER.search(part):
        return _BOTH
    return frozenset(arm for arm, pattern in _SIDES if pattern.search(part))
