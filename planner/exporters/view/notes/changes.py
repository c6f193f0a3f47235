"""What a replanned round prints beside its stops: what changed, add-ons, what is done, the note to read out."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeLine:
    """One stop that is not as the last sheet has it."""

    word: str
    """NEW, MOVED, DROPPED or OTHER TUBES."""
    bed: str
    now: str
    before: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AddOnLine:
    """A test that a tube already drawn can serve: somebody phones the laboratory."""

    bed: str
    name: str
    born: str
    patient_number: str
    order: str
    test: str
    tube: str
    drawn: str
    """When, and by whom (the initials on the label)."""
    limit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DoneLine:
    """A stop that was made before this revision; ``is_assumed`` when nobody said so."""

    number: int
    at: str
    place: str
    name: str
    what: str
    is_assumed: bool = False
    is_under_way: bool = False


class NoteKind(IntEnum):
    """What a sentence of the change note is about, in the order in which a short answer says it."""

    ASK_STAT = 1
    """A stat that was due and is not reported: whoever is sent to draw it asks first."""
    STAT = 2
    """A stat to draw."""
    ASK = 3
    """Another visit that was due and is not reported."""
    LEAVE_OUT = 4
    GO = 5
    """A stop that is new to this person."""
    CHANGED = 6
    """Another time, bed or test of a stop that stays."""
    PAUSE = 7
    """A hand-over, break or courier, or where to wait."""
    LACK = 8
    NOTHING = 9
    """That nothing changes."""
    STANDING = 10
    """What every note says: the stops to come, what holds at every bed, what the note replaces."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NoteLine:
    """A sentence of the change note, to be read out, and what belongs to it; ``short`` where a few words will do.

    ``bed`` is the ward and bed that it is about, for an answer without room for the sentence; ``limit`` says until when
    it must be drawn where that is close, such as "not after 06:30". ``is_stat``: a stat is or was to be drawn there.
    """

    text: str
    details: tuple[str, ...] = ()
    kind: NoteKind = NoteKind.STANDING
    short: str = ""
    bed: str = ""
    limit: str = ""
    is_stat: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ReplanView:
    """What a revision that goes on from another prints first."""

    as_of: str
    parent: str
    """The revision that this one replaces: "revision 1"."""
    given: tuple[str, ...]
    """The events that made this revision, in words."""
    changes: tuple[ChangeLine, ...]
    addons: tuple[AddOnLine, ...]
    assumed: tuple[str, ...] = ()
    """What nobody has told, by person: "AB: beds 3, 4 done; at bed 5 now"."""
    earlier: tuple[str, ...] = ()
    """Words of a plan file of schema 1 on what was given before it."""
    read_back: tuple[str, ...] = ()
    """The same, with who lies in each bed: to be read back over the phone."""
    untold: tuple[str, ...] = ()
    """Visits that were due by now and are taken not to have been made, by person: "AB: bed 3 (05:20)"."""
