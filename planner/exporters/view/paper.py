"""Paper of the sheets, margins, and the room that is left for columns."""

from __future__ import annotations

from dataclasses import dataclass, replace

SIDE_MM, HEADER_MM, FOOTER_MM = 9.0, 4.7, 4.5
_LARGE_SIDE_MM = 6.5
"""Large print goes nearer to the edge: printers leave about 6 mm white (common practice, no source)."""
_ROUNDING = 1.031
"""Programs print columns up to so much wider than the file says (measured with LibreOffice: 1.016 to 1.026)."""
LARGE = 1.4
"""Large print: 10 points become 14 (the least that large-print guides accept, common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """A sheet of paper as it lies, with its code in the workbook format; ``zoom`` multiplies sizes of letters.

    White above and below holds header and footer.
    """

    code: int
    width_mm: float
    height_mm: float
    top_mm: float = 8.4
    bottom_mm: float = 8.1
    is_landscape: bool = False
    zoom: float = 1.0

    @property
    def side_mm(self) -> float:
        """White at the left and at the right."""
        return _LARGE_SIDE_MM if self.is_landscape else SIDE_MM

    @property
    def usable_mm(self) -> float:
        """Width for columns."""
        return (self.width_mm - 2 * self.side_mm) / _ROUNDING


PAPERS = {
    "a4": Paper(code=9, width_mm=210.0, height_mm=297.0),
    "letter": Paper(code=1, width_mm=215.9, height_mm=279.4),
}

USABLE_MM = min(paper.usable_mm for paper in PAPERS.values())
"""The width that columns are given in; on wider paper all of them grow alike."""


def paper_for(name: str, *, large_print: bool = False) -> Paper:
    """Return the paper of this name; large print turns it and enlarges everything, the layout stays.

    Raises
    ------
    ValueError
        If the paper is not known.
    """
    if name not in PAPERS:
        raise ValueError(f"paper is one of {', '.join(PAPERS)}, not {name!r}")
    paper = PAPERS[name]
    if not large_print:
        return paper
    return replace(paper, width_mm=paper.height_mm, height_mm=paper.width_mm, is_landscape=True, zoom=LARGE)
