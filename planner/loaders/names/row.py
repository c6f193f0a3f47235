"""One row of the table of names: what was found, what it is proposed to mean, and what a person says to that."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from planner.domain.site_names import NameKind, SiteName
from planner.findings import Source
from planner.loaders.names.known import name_key
from planner.loaders.tables.headings import plain, table_named

NAMES_FILE = "names.csv"
HEADINGS = ("kind", "found", "where", "means", "confirm", "note")
_YES = frozenset({"yes", "y", "ja", "j", "oui", "x", "true", "1"})
_NO = frozenset({"no", "n", "nein", "non", "false", "0"})


class Answer(Enum):
    """What a person wrote in the column ``confirm``."""

    OPEN = "open"
    REFUSED = "refused"
    CONFIRMED = "confirmed"
    """The proposal was confirmed, or another meaning was written in its place."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NameRow:
    """One row of the table: a name, where it stands, what it is proposed to mean, and what a person says to that.

    ``where`` is the table of a column; of another name it only helps a person to find it.
    """

    kind: NameKind
    found: str
    where: str
    proposed: str
    confirm: str = ""
    note: str = ""
    source: Source | None = None

    @classmethod
    def of(cls, name: SiteName) -> NameRow:
        """Return the row of a name that was confirmed before."""
        said = name.means or "no"
        return cls(kind=name.kind, found=name.found, where=name.table, proposed=name.means, confirm=said)

    @property
    def cells(self) -> tuple[str, ...]:
        """The row's text under `HEADINGS`."""
        return (self.kind.value, self.found, self.where, self.proposed, self.confirm, self.note)

    @property
    def table(self) -> str:
        """The table of a column (an order list where none is stated); empty for other names."""
        return (table_named(self.where) or "orders") if self.kind is NameKind.COLUMN else ""

    @property
    def key(self) -> tuple[NameKind, str, str]:
        """What two rows for the same name share."""
        return name_key(self.kind, self.table, self.found)

    @property
    def answer(self) -> Answer:
        """Whether the name is confirmed."""
        if not self.confirm.strip():
            return Answer.OPEN
        return Answer.REFUSED if plain(self.confirm) in _NO else Answer.CONFIRMED

    @property
    def means(self) -> str:
        """The meaning as written: the proposal after a yes, else what was written in its place."""
        return self.proposed if plain(self.confirm) in _YES else self.confirm.strip()
