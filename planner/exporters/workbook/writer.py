"""Lays rows of text out on one worksheet: heights from the texts, blocks that no page break splits, page set-up."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from math import ceil
from typing import TYPE_CHECKING

from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.pagebreak import Break

from planner.exporters.pictures.text_layout import LINE, ONE_LINE, height_pt, wrap
from planner.exporters.view.paper import FOOTER_MM, HEADER_MM, USABLE_MM, Paper
from planner.exporters.workbook.text import FONT, TEXT_PT, Run, Text, write_spans, write_text

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

_PAD_PT = 0.75
"""Added to texts of several lines; one line has room enough, see `LINE`."""
_BELOW = 0.25
"""Share of a font's size that a line has below its digits: Arial's 0.21 and the line's own white."""
_CELL_MARGIN_PT = 4.0
_MAX_ROW_PT = 400.0
"""Programs cut a row at 409 points: a longer text goes on in the next row."""
_PT_PER_MM = 72 / 25.4
_PX_PER_MM = 96 / 25.4
_SLACK = 0.99
"""Share of a page's height that is filled: printers round."""

WRITE_PT = 22.75
"""Height of the boxes to write in: 8 mm, for hands in gloves."""

LIGHT = "EFEFEF"
MEDIUM = "D9D9D9"
BLACK = "000000"
_THIN = Side(style="thin", color="808080")
_THICK = Side(style="medium", color="000000")


class SheetWriter:
    """Writes rows from the top; remembers heights, so that page breaks fall between blocks."""

    def __init__(self, sheet: Worksheet, paper: Paper, widths_mm: Sequence[float]) -> None:
        if sum(widths_mm) > USABLE_MM:
            raise ValueError(f"columns of {sum(widths_mm)} mm do not fit {USABLE_MM} mm")
        self.sheet, self.paper = sheet, paper
        self.widths_mm = tuple(width * paper.usable_mm / USABLE_MM for width in widths_mm)
        self.row = 0
        self._blocks: list[tuple[int, float]] = []
        self._keep_first: int | None = None
        self._in_block = False
        self._title_pt = 0.0
        self._places: Sequence[tuple[int, int]] = tuple((i, i) for i in range(1, len(widths_mm) + 1))
        for i, width in enumerate(self.widths_mm, start=1):
            sheet.column_dimensions[get_column_letter(i)].width = (round(width * _PX_PER_MM) - 5) / 7
        sheet.sheet_view.showGridLines = False

    def use(self, places: Sequence[tuple[int, int]]) -> None:
        """Let columns of texts stand for these columns of the sheet, first and last, from now on.

        So tables of different columns share a sheet, and thus its pages.
        """
        self._places = places

    def width_pt(self, first: int, last: int) -> float:
        """Return the room for text between two columns of the sheet, in points."""
        return sum(self.widths_mm[first - 1 : last]) * _PT_PER_MM - _CELL_MARGIN_PT

    def line(self, *texts: Text, min_pt: float = 0.0, rule: bool = False) -> None:
        """Write one row; its height is what its tallest text needs. ``rule`` draws a line above.

        Sizes and heights are those of ordinary print; large print multiplies them.
        """
        for part in self._parts([self._zoomed(text) for text in texts]):
            self._line(part, min_pt * self.paper.zoom, rule)
            rule = False

    def title(self, *texts: Text) -> None:
        """Write a row that is repeated at the top of each page; call it before any other row."""
        self._line([self._zoomed(text) for text in texts], 0.0, False)
        self._title_pt += self._height(self.row)
        self._blocks.clear()
        self.sheet.print_title_rows = f"1:{self.row}"
        self.sheet.freeze_panes = f"A{self.row + 1}"

    def repeat_first_row_beyond_a_page(self) -> None:
        """Repeat the first row at the top of each page, as a title, if what is written so far takes more than one."""
        if sum(height for _, height in self._blocks) > self.page_pt():
            self._title_pt += self._height(1)
            self._blocks[0] = (2, self._blocks[0][1] - self._height(1))
            self.sheet.print_title_rows = "1:1"

    def gap(self, points: float = 6.0) -> None:
        """Leave an empty row."""
        self._next_row(points * self.paper.zoom)

    def picture(self, png: bytes, width_pt: float, height_pt: float, *, with_next: bool = False) -> None:
        """Put a picture at the left, over as many empty rows as it is high; no page break falls inside."""
        from openpyxl.drawing.image import Image

        room = self.page_pt()
        scale = min(1.0, room / height_pt)
        image = Image(io.BytesIO(png))
        image.width, image.height = (round(side * scale * 96 / 72) for side in (width_pt, height_pt))
        with self.block(with_next=with_next, is_framed=False):
            self.sheet.add_image(image, f"A{self.row + 1}")
            left = height_pt * scale + 2
            while left > 0:
                self._next_row(min(left, _MAX_ROW_PT))
                left -= _MAX_ROW_PT

    def page_pt(self) -> float:
        """Return the room that a page has for rows."""
        return (self.paper.height_mm - self.paper.top_mm - self.paper.bottom_mm) * _PT_PER_MM * _SLACK - self._title_pt

    @contextmanager
    def block(
        self,
        margin: Sequence[Run] = (),
        *,
        fill: str = "",
        with_next: bool = False,
        is_framed: bool = True,
    ) -> Iterator[None]:
        """Keep the rows written inside on one page; ``margin`` stands in column 1 beside all of them.

        ``with_next`` keeps the next row or block on that page too: a heading never ends a page. ``is_framed`` draws
        a strong line above and below.
        """
        first = self.row + 1
        before = len(self._blocks)
        self._in_block = True
        try:
            yield
        finally:
            self._in_block = False
        if margin:
            self._margin(first, [replace(run, size=run.size * self.paper.zoom) for run in margin], fill)
        if self.row >= first:
            if is_framed:
                self._outline(first)
            height = sum(self._height(r) for r in range(first, self.row + 1))
            self._blocks[before:] = []
            self._add_block(first, height)
            self._keep_first = first if with_next else None

    def finish(self, *, left: str, centre: str, right: str, footer: str, printed: str = "") -> None:
        """Set the page up: paper, margins, header and footer, page breaks between blocks."""
        sheet, paper = self.sheet, self.paper
        sheet.page_setup.paperSize = paper.code
        sheet.page_setup.orientation = "landscape" if paper.is_landscape else "portrait"
        sheet.page_setup.scale = 100
        sheet.print_options.horizontalCentered = True
        margins = sheet.page_margins
        margins.left = margins.right = paper.side_mm / 25.4
        margins.top, margins.bottom = paper.top_mm / 25.4, paper.bottom_mm / 25.4
        margins.header, margins.footer = HEADER_MM / 25.4, FOOTER_MM / 25.4
        for part, text in (("left", left), ("center", centre), ("right", right)):
            item = getattr(sheet.oddHeader, part)
            item.text, item.size, item.font = _escape(text), 9, f"{FONT},Bold"
        page = f"{_escape(printed).strip()}   Page &P of &N".strip()
        for part, text, size in (("left", _escape(footer), 8), ("right", page, 9)):
            item = getattr(sheet.oddFooter, part)
            item.text, item.size = text, size
        last = get_column_letter(len(self.widths_mm))
        sheet.print_area = f"A1:{last}{max(self.row, 1)}"
        self._break_pages()

    def num_pages(self) -> int:
        """Return how many pages the rows take; known after `finish`."""
        return len(self.sheet.row_breaks.brk) + 1

    def _break_pages(self) -> None:
        room = self.page_pt()
        used = 0.0
        for first, height in self._blocks:
            if used and used + height > room:
                self.sheet.row_breaks.append(Break(id=first - 1))
                used = 0.0
            used += height

    def _next_row(self, height: float) -> int:
        self.row += 1
        self.sheet.row_dimensions[self.row].height = ceil(round(height * 4, 6)) / 4
        if not self._in_block:
            self._add_block(self.row, self._height(self.row))
        return self.row

    def _add_block(self, first: int, height: float) -> None:
        if self._keep_first is not None:
            first, before = self._blocks.pop()
            height += before
            self._keep_first = None
        self._blocks.append((first, height))

    def _height(self, row: int) -> float:
        return float(self.sheet.row_dimensions[row].height or 0)

    def _zoomed(self, text: Text) -> Text:
        first, last = self._places[text.first - 1][0], self._places[text.last - 1][1]
        return replace(text, first=first, last=last, size=text.size * self.paper.zoom)

    def _parts(self, texts: Sequence[Text]) -> Iterator[tuple[Text, ...]]:
        """Cut texts that are taller than a row can be into several rows."""
        most = {i: int(_MAX_ROW_PT / (t.size * LINE * 1.4)) for i, t in enumerate(texts)}
        lines = [wrap(t.words, self.width_pt(t.first, t.last), t.size, bold=t.weights) for t in texts]
        if all(len(part) <= most[i] for i, part in enumerate(lines)):
            yield tuple(texts)
            return
        count = max(-(-len(part) // most[i]) for i, part in enumerate(lines))
        for n in range(count):
            yield tuple(
                replace(t, text=" ".join(lines[i][n * most[i] : (n + 1) * most[i]]), spans=())
                for i, t in enumerate(texts)
            )

    def _line(self, texts: Sequence[Text], min_pt: float, rule: bool) -> None:
        heights = [height_pt(t.words, self.width_pt(t.first, t.last), t.size, bold=t.weights) for t in texts]
        one_line = [t.size * ONE_LINE for t in texts]
        pads = [_PAD_PT if height > line else 0.0 for height, line in zip(heights, one_line, strict=True)]
        row = self._next_row(max([min_pt, *(h + pad for h, pad in zip(heights, pads, strict=True))]))
        is_low = not any(pads)  # the white that programs leave above a text would cut letters below the line
        for text in texts:
            self._cell(row, replace(text, middle=text.middle or is_low))
        if rule:
            for column in range(texts[0].first, len(self.widths_mm) + 1):
                self._border(row, column, top=_THIN)
        for text in (text for text in texts if text.is_boxed):
            for column in range(text.first, text.last + 1):
                self._border(row, column, top=_THIN, bottom=_THIN)
            self._border(row, text.first, left=_THIN)
            self._border(row, text.last, right=_THIN)

    def _cell(self, row: int, text: Text) -> None:
        cell = self.sheet.cell(row, text.first)
        if text.spans:
            write_spans(cell, [(span.text, text.size, span.bold) for span in text.spans])
        else:
            write_text(cell, text.text)
        colour = "FFFFFF" if text.is_white else None
        cell.font = Font(name=FONT, size=text.size, bold=text.bold, color=colour)
        cell.alignment = Alignment(
            wrap_text=True,
            vertical="center" if text.middle else "top",
            horizontal="center" if text.centre else "left",
        )
        if text.last > text.first:
            self.sheet.merge_cells(start_row=row, end_row=row, start_column=text.first, end_column=text.last)
        if text.fill:
            for column in range(text.first, text.last + 1):
                self.sheet.cell(row, column).fill = PatternFill("solid", fgColor=text.fill)

    def _margin(self, first: int, runs: Sequence[Run], fill: str) -> None:
        """Write the margin cell over all rows of a block; the last row grows if the margin is taller."""
        width = self.width_pt(1, 1)
        needed = sum(height_pt(r.text, width, r.size, bold=r.bold) for r in runs) + 2 * _PAD_PT
        if not any(map(str.isalpha, runs[-1].text)):  # a time has no letters below the line, and needs no white there
            needed -= runs[-1].size * _BELOW + _PAD_PT
        have = sum(self._height(r) for r in range(first, self.row + 1))
        if needed > have:
            dimension = self.sheet.row_dimensions[self.row]
            dimension.height = ceil(round((self._height(self.row) + needed - have) * 4, 6)) / 4
        cell = self.sheet.cell(first, 1)
        ends = ["\n"] * (len(runs) - 1) + [""]
        write_spans(cell, [(r.text + end, r.size, r.bold) for r, end in zip(runs, ends, strict=True)])
        cell.font = Font(name=FONT, size=TEXT_PT)
        cell.alignment = Alignment(wrap_text=True, vertical="top", horizontal="center")
        if self.row > first:
            self.sheet.merge_cells(start_row=first, end_row=self.row, start_column=1, end_column=1)
        if fill:
            for row in range(first, self.row + 1):
                self.sheet.cell(row, 1).fill = PatternFill("solid", fgColor=fill)

    def _outline(self, first: int) -> None:
        """Draw a strong line above and below a block."""
        for column in range(1, len(self.widths_mm) + 1):
            self._border(first, column, top=_THICK)
            self._border(self.row, column, bottom=_THICK)

    def box(self, first: int) -> None:
        """Draw a strong line around the rows from ``first`` to the last one written; pages may break between them."""
        self._outline(first)
        for row in range(first, self.row + 1):
            self._border(row, 1, left=_THICK)
            self._border(row, len(self.widths_mm), right=_THICK)

    def _border(self, row: int, column: int, **sides: Side) -> None:
        cell = self.sheet.cell(row, column)
        old = {side: getattr(cell.border, side) for side in ("top", "bottom", "left", "right")}
        cell.border = Border(**(old | sides))


def _escape(text: str) -> str:
    """Return a text for a header or footer: the ampersand begins a code there, and 255 characters are the limit."""
    return " " + text[:80].replace("&", "&&") if text else ""
