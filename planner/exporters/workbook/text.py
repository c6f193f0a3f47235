"""Texts for one worksheet: pieces with their own weight, and cells that hold text whatever it begins with."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from openpyxl.cell.rich_text import CellRichText, TextBlock
from openpyxl.cell.text import InlineFont

FONT = "Arial"
LARGE_PT, HEAD_PT, TUBE_PT, TEXT_PT = 16.0, 12.0, 10.0, 9.0
"""Sizes: what is read from the door (bed, time), names and headings, tubes, all else. Nothing is smaller: rules for
when something goes wrong are read in a hurry (our choice)."""


@dataclass(frozen=True, slots=True)
class Span:
    """A piece of a text that is bold or not."""

    text: str
    bold: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """A text over columns ``first`` to ``last`` (from 1, both included) of a row.

    ``spans``, where given, say which pieces of the text are bold; ``bold`` then says nothing.
    """

    text: str = ""
    spans: tuple[Span, ...] = field(default=())
    first: int
    last: int
    size: float = TEXT_PT
    bold: bool = False
    fill: str = ""
    is_white: bool = False
    middle: bool = False
    centre: bool = False
    is_boxed: bool = False
    """A thin line on all sides: there somebody writes."""

    @property
    def words(self) -> str:
        """The whole text."""
        return "".join(span.text for span in self.spans) if self.spans else self.text

    @property
    def weights(self) -> Sequence[bool]:
        """For each character whether it is bold."""
        if not self.spans:
            return [self.bold] * len(self.text)
        return [span.bold for span in self.spans for _ in span.text]


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One line of a margin cell, with its own size."""

    text: str
    size: float
    bold: bool = False


def write_text(cell: object, text: str) -> None:
    """Put a text into a cell as text, whatever it begins with, also when somebody edits the cell later."""
    from openpyxl.cell.cell import Cell

    assert isinstance(cell, Cell)
    cell.value = text
    cell.data_type = "s"
    if text[:1] in ("=", "+", "-", "@", "'"):
        cell.quotePrefix = True


def write_spans(cell: object, pieces: Sequence[tuple[str, float, bool]]) -> None:
    """Put pieces of (text, size in points, bold) into a cell."""
    from openpyxl.cell.cell import Cell

    assert isinstance(cell, Cell)
    cell.value = CellRichText(
        *(TextBlock(InlineFont(rFont=FONT, sz=size, b=bold), text) for text, size, bold in pieces if text)
    )
