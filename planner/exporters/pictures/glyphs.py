"""Finds letters that no font at hand can print, so that the sheet says whose name comes out as empty squares.

What is printed elsewhere cannot be known here: this is asked only where this machine does the printing (the PDF) or
the drawing (the pictures, in a font of their own, the same everywhere).
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path

from planner.exporters.view.round_view import RoundView, RouteView
from planner.exporters.view.stop_view import StopView, VisitView
from planner.findings import Finding, Severity

_EVERYWHERE = 0x0530
"""Latin, Greek and Cyrillic letters lie below: every font for texts has them."""
NAME_ALERT = "name not whole in print: use birth date and number"
"""What stands at a patient whose name has letters that are not printed."""


def letters_without_font(texts: Iterable[str]) -> frozenset[str]:
    """Return the letters for which no font is installed; whether a font joins them rightly is not looked at."""
    return _missing(texts, _installed_fonts())


def letters_without_picture(texts: Iterable[str]) -> frozenset[str]:
    """Return the letters that the font of the pictures lacks."""
    return _missing(texts, _picture_fonts())


def with_names_noted(view: RoundView) -> tuple[RoundView, tuple[Finding, ...]]:
    """Return the view with a note at each patient whose name is not printed whole here, and a finding for each.

    Names do not appear in findings: they say bed and order numbers, and of which script the letters are.
    """
    missing = letters_without_font(visit.name for route in view.routes for visit in route.visits)
    if not missing:
        return view, ()
    routes = tuple(_noted(route, missing) for route in view.routes)
    findings = tuple(
        _finding(visit, missing & set(visit.name))
        for route in view.routes
        for visit in route.visits
        if missing & set(visit.name)
    )
    return replace(view, routes=routes), findings


def _noted(route: RouteView, missing: frozenset[str]) -> RouteView:
    def noted(stop: StopView) -> StopView:
        if isinstance(stop, VisitView) and missing & set(stop.name):
            return replace(stop, alerts=(NAME_ALERT, *stop.alerts))
        return stop

    return replace(route, stops=tuple(noted(stop) for stop in route.stops))


def _finding(visit: VisitView, letters: Iterable[str]) -> Finding:
    scripts = ", ".join(sorted({script_of(letter) for letter in letters}))
    message = (
        f"bed {visit.bed}, order {', '.join(visit.order_numbers)}: no font on this machine has some letters of the "
        f"name ({scripts}); the PDF says so beside it; install a font for them and print again"
    )
    return Finding(
        code="name-not-printed", severity=Severity.WARNING, message=message, order_ids=tuple(visit.order_numbers)
    )


def script_of(letter: str) -> str:
    """Return the script that a letter belongs to by the name of the character: 'Devanagari'."""
    name = unicodedata.name(letter, "unknown")
    return "Han" if name.startswith("CJK ") else name.split(" ", 1)[0].capitalize()


def _missing(texts: Iterable[str], fonts: Iterable[Path]) -> frozenset[str]:
    """Return the letters that none of the fonts has; fonts are opened one by one, and only while some are missing."""
    left = {c for text in texts for c in text if ord(c) >= _EVERYWHERE and unicodedata.category(c)[0] in "LMN"}
    if not left:
        return frozenset()
    for font in fonts:
        left -= _letters_of(font)
        if not left:
            break
    return frozenset(left)


def _letters_of(font: Path) -> set[str]:
    from matplotlib.ft2font import FT2Font

    try:
        return {chr(code) for code in FT2Font(str(font)).get_charmap()}
    except (RuntimeError, OSError):  # a damaged file prints nothing
        return set()


def _installed_fonts() -> Iterator[Path]:
    """Yield the fonts of the system: no printing program sees those that come with the drawing library."""
    import matplotlib
    from matplotlib.font_manager import findSystemFonts

    own = Path(matplotlib.get_data_path())
    found = sorted(Path(name) for name in findSystemFonts())
    yield from (path for path in found if own not in path.parents)


def _picture_fonts() -> Iterator[Path]:
    import matplotlib

    yield Path(matplotlib.get_data_path()) / "fonts" / "ttf" / "DejaVuSans.ttf"
