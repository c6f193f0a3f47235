"""What places are called wherever anybody reads of them, and which bed a person means by what they write."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from difflib import SequenceMatcher

from planner.domain.places import Place, PlaceId, PlaceKind

_PARTS = re.compile(r"\d+|[^\W\d_]+")
_BED_WORDS = frozenset({"bed", "bett", "lit"})


class PlaceNames:
    """What each place of a round is called, in findings, lists, notes, maps and files alike.

    A bed is ward and bed ('Heron 3A') as soon as the beds of the round lie in more than one ward, for then 3A may be
    on each of them; else the bed alone ('3A'). Any other place has its ward where its name stands more than once.
    """

    def __init__(self, places: Iterable[Place]) -> None:
        self._places = {place.id: place for place in places}
        wards = {place.ward for place in self._places.values() if place.kind is PlaceKind.BED}
        self.has_several_wards = len({key for ward in wards if (key := name_parts(ward))}) > 1
        self._counts = Counter(_label(p) for p in self._places.values() if p.kind is not PlaceKind.BED)

    def __call__(self, place_id: str) -> str:
        """Return the name of a place; a number that is no place of the round stays as it is."""
        place = self._places.get(PlaceId(place_id))
        if place is None:
            return place_id
        needs_ward = self.has_several_wards if place.kind is PlaceKind.BED else self._counts[_label(place)] > 1
        return with_ward(place.ward, _label(place)) if needs_ward else _label(place)

    def of_bed(self, ward: str, bed: str) -> str:
        """Return the name of a bed that need not be on the map."""
        return with_ward(ward, bed) if self.has_several_wards and bed else bed

    def listed(self, place_ids: Iterable[str]) -> str:
        """Return names one after the other, each once; between them what none of them holds."""
        return names_listed(self(place_id) for place_id in place_ids)


def names_listed(names: Iterable[str]) -> str:
    """Return names one after the other, each once: with commas, with semicolons where a name holds a comma."""
    kept = list(dict.fromkeys(names))
    return ("; " if any("," in name for name in kept) else ", ").join(kept)


def with_ward(ward: str, label: str) -> str:
    """Return ward and name: 'Heron 3A'; 'Ward 3/12', lest two numbers run together; 'Heron 3A' for itself."""
    own, said = name_parts(ward), name_parts(label)
    if not own or (said[: len(own)] == own and len(said) > len(own) and any(part.isalpha() for part in own)):
        return label
    return f"{ward}{'/' if ward[-1].isdigit() and label[:1].isdigit() else ' '}{label}"


def _label(place: Place) -> str:
    return place.label or place.id


def find_beds(places: Iterable[Place], text: str) -> tuple[PlaceId, ...]:
    """Return the beds that a text can mean, in the order of the places; several: it is not clear which.

    A bed whose id or whole label is written goes before one of which only the end is: '14' means the bed called 14, and
    only where there is none the bed called 'Alder 14'. Case, blanks, punctuation and leading zeros do not count.
    """
    wanted = name_parts(text)
    beds = [place for place in places if place.kind is PlaceKind.BED]
    if not wanted:
        return ()
    same = [b.id for b in beds if b.id == text.strip()]
    same = same or [b.id for b in beds if wanted in map(name_parts, (b.id, b.label, f"{b.ward} {b.label or b.id}"))]
    return tuple(same or [b.id for b in beds if _ends_with(name_parts(b.label or b.id), wanted)])


def which_bed(text: str, names: Iterable[str]) -> str:
    """Return what to say of a text that several beds answer to, by their names: a person decides, never likeness."""
    return f"bed {text!r} can be {' or '.join(names)}; write one of these"


def nearest_beds(places: Iterable[Place], text: str) -> str:
    """Return what to say of the beds most like a text that names none: they are shown, and none of them is taken."""
    listed_places = tuple(places)
    names = [PlaceNames(listed_places)(place.id) for place in _close_beds(listed_places, text)]
    if not names:
        return "Look at the sheet for the beds of the round"
    if len(names) == 1:
        return f"Similar: {names[0]}. Ask which bed was meant before you write it"
    listed = f"{', '.join(names[:-1])} or {names[-1]}"
    return f"Similar: {listed}. Ask which bed was meant, then write one of these or another bed of the sheet"


def _close_beds(places: Iterable[Place], text: str) -> list[Place]:
    """Return up to three beds most like a text: what is alike in letters, the ward's name and the number apart."""
    wanted = " ".join(name_parts(text))
    scored = []
    for place in places:
        if place.kind is PlaceKind.BED:
            names = (" ".join(name_parts(with_ward(place.ward, _label(place)))), " ".join(name_parts(_label(place))))
            scored.append((max(SequenceMatcher(None, wanted, name).ratio() for name in names), place))
    scored.sort(key=lambda pair: -pair[0])
    return [place for score, place in scored[:3] if score >= max(0.6, scored[0][0] - 0.05)]


def ward_and_bed(wards: Iterable[str], text: str) -> tuple[str, str] | None:
    """Return the ward, one of those given, and the bed that a text such as 'Kite (South) 9Z' names; None: no ward."""
    found = list(_PARTS.finditer(text))
    for ward in sorted(filter(None, wards), key=lambda ward: -len(name_parts(ward))):
        own = name_parts(ward)
        if own and len(found) > len(own) and name_parts(text)[: len(own)] == own:
            bed = text[found[len(own)].start() :].strip()
            words = bed.split(maxsplit=1)
            return ward, words[1] if len(words) > 1 and words[0].casefold() in _BED_WORDS else bed
    return None


class BedNamed:
    """Whether a text of several words names one of the beds (ward and bed, either may be empty) somewhere in it."""

    def __init__(self, beds: Iterable[tuple[str, str]]) -> None:
        keys = {(name_parts(ward), name_parts(bed)) for ward, bed in beds if bed}
        self._wanted = {(*ward, *bed) for ward, bed in keys if ward} | {
            (w, *bed) for _, bed in keys for w in _BED_WORDS
        }
        self._wanted |= {(*ward, w, *bed) for ward, bed in keys if ward for w in _BED_WORDS}
        self._lengths = {len(parts) for parts in self._wanted}

    def __call__(self, text: str) -> bool:
        """Return whether the text names a bed."""
        parts = tuple(_folded(part) for part in _PARTS.findall(text.casefold()))
        return any(parts[i : i + n] in self._wanted for n in self._lengths for i in range(len(parts)))


def _folded(part: str) -> str:
    return part.lstrip("0") or "0" if part.isdigit() else part


def name_parts(text: str) -> tuple[str, ...]:
    """Return the words and numbers of a name, as names of wards and beds are compared: 'Bed 04-A' is 4 and a."""
    parts = [_folded(part) for part in _PARTS.findall(text.casefold())]
    return tuple(parts[1:] if len(parts) > 1 and parts[0] in _BED_WORDS else parts)


def _ends_with(parts: tuple[str, ...], wanted: tuple[str, ...]) -> bool:
    """Whether the last parts are the wanted ones and only words stand before: '2' is not bed 2 of room 3, '3-2'."""
    before = parts[: -len(wanted)]
    return bool(before) and parts[len(before) :] == wanted and not any(part.isdigit() for part in before)
