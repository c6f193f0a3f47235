"""Which column is which: headings are compared without case, accents, spaces and punctuation."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping, Sequence
from difflib import get_close_matches
from functools import lru_cache
from typing import TYPE_CHECKING

from planner.columns import TABLES

if TYPE_CHECKING:
    from planner.loaders.names.known import SiteNames

Columns = list[tuple[str | None, str]]
"""For each cell of a row of headings our name of the column (None: not recognised) and the heading as it stands."""

_ALIKE = 0.82
"""Similarity from which a heading is taken for a slip of a known one (engineering choice)."""


@lru_cache(maxsize=20_000)
def plain(text: str) -> str:
    """Return a heading as it is compared: 'Geb.-Datum (Patient)' -> 'gebdatumpatient'."""
    folded = unicodedata.normalize("NFKD", text.casefold())
    return "".join(c for c in folded if c.isalnum())


_INDEX: Mapping[str, Mapping[str, str]] = {
    name: {plain(word): column.name for column in table.columns.values() for word in column.words}
    | {plain(column): column for column in table.columns}
    for name, table in TABLES.items()
    if table.has_synonyms
}
_ORDER_LIST: Mapping[str, str] = {**_INDEX["patients"], **_INDEX["orders"]}
_TABLES: Mapping[str, str] = {
    plain(word): name for name, table in TABLES.items() if table.words for word in (name, *table.words)
}


def table_named(name: str) -> str | None:
    """Return our name of a table for a file or sheet name; None when it is not one of ours."""
    return _TABLES.get(plain(name))


def column_named(table: str, heading: str, own: SiteNames | None = None) -> str | None:
    """Return our name of a column for a heading; an order list may hold the patient columns too.

    ``own`` are the site's own names of columns; none of them hides a heading that is known here.
    """
    index = _ORDER_LIST if table == "orders" else _INDEX[table]
    return index.get(plain(heading)) or (own.column(table, heading) if own else None)


def may_be_headings(table: str, cells: Sequence[str]) -> bool:
    """Return whether two cells of a row are headings that are known as they stand: a quick look at many rows."""
    index = _ORDER_LIST if table == "orders" else _INDEX[table]
    return sum(cell.casefold().replace(" ", "").replace("_", "") in index for cell in cells if len(cell) < 40) > 1


def nearest_column(table: str, heading: str) -> str | None:
    """Return the column whose heading makes up most of an unknown one, or is spelled like it; None if there is none."""
    index = _ORDER_LIST if table == "orders" else _INDEX.get(table, {})
    wanted = plain(heading)
    if within := [known for known in index if known in wanted and 2 * len(known) > len(wanted)]:
        return index[max(within, key=len)]
    close = get_close_matches(wanted, index, n=1, cutoff=_ALIKE)
    return index[close[0]] if close else None


def columns_of(table: str, upper: Sequence[str] | None, lower: Sequence[str], own: SiteNames | None = None) -> Columns:
    """Return for each column our name (None: not known) and the heading as written.

    With two heading rows the upper one, carried on over the blanks to its right, is read together with the
    lower ('Patient' over 'Number'); a column whose lower heading is blank goes by the upper one alone.
    """
    found: Columns = []
    carried = ""
    for index in range(max(len(lower), len(upper or ()))):
        below = lower[index] if index < len(lower) else ""
        above = upper[index] if upper is not None and index < len(upper) else ""
        carried = above or carried
        if upper is None or not (both := f"{carried} {below}".strip()):
            found.append((column_named(table, below, own) if below else None, below))
        elif below:
            name = column_named(table, both, own) or column_named(table, below, own)
            found.append((name, both if column_named(table, both, own) else below))
        else:
            found.append((column_named(table, above, own) if above else None, above))
    return found
