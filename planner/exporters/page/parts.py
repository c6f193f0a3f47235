"""Small pieces of HTML: escaped texts, tables, definition lists."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from html import escape
from importlib.resources import files


def text(words: str) -> str:
    """Return a text that no browser reads as markup."""
    return escape(words, quote=True)


def attributes(**named: str) -> str:
    """Return attributes with escaped values; ``data_bed`` becomes ``data-bed``, ``class_`` ``class``."""
    return "".join(f' {name.rstrip("_").replace("_", "-")}="{text(value)}"' for name, value in named.items())


def paragraph(words: str, class_: str = "") -> str:
    """Return a paragraph; line breaks of the text are kept."""
    lines = "<br>".join(text(line) for line in words.split("\n"))
    return f"<p{attributes(class_=class_) if class_ else ''}>{lines}</p>"


def with_calls(words: str, numbers: Sequence[str]) -> str:
    """Return a text in which each of the numbers to phone is a link that dials it."""
    known = "|".join(re.escape(number) for number in sorted(numbers, key=len, reverse=True))
    parts = re.split(rf"(?<![\w.:])({known})(?![\w:])", words) if known else [words]
    return "".join(_call(part, part) if n % 2 else text(part) for n, part in enumerate(parts))


def call(words: str, numbers: Sequence[str]) -> str:
    """Return a text that ends with a number to phone as a link, all of it; empty for other texts."""
    number = max((number for number in numbers if words.endswith(number)), key=len, default="")
    return _call(words, number) if number else ""


def _call(words: str, number: str) -> str:
    digits = re.sub(r"[^\d+]", "", number)
    return f"<a{attributes(class_='tel', href=f'tel:{digits}')}>{text(words)}</a>"


def table(
    caption: str,
    heads: Sequence[str],
    rows: Iterable[Sequence[str]],
    class_: str = "list",
    numbers: Sequence[str] = (),
    *,
    is_scrolled: bool = True,
) -> str:
    """Return a table whose first column heads its rows; each cell names its column, for a phone's single column.

    ``numbers`` to phone are links in it. ``is_scrolled``: a keyboard can move it where it is wider than the screen.
    """
    head = "".join(f'<th scope="col">{text(words)}</th>' for words in heads)
    body = []
    for first, *rest in rows:
        told = zip(heads[1:], rest, strict=True)
        cells = "".join(f"<td{attributes(data_head=h)}>{with_calls(c, numbers)}</td>" for h, c in told)
        body.append(f'<tr><th scope="row">{text(first)}</th>{cells}</tr>')
    return (
        f'<div class="wide"{attributes(role="region", tabindex="0", aria_label=caption) if is_scrolled else ""}>'
        f"<table{attributes(class_=class_)}><caption>{text(caption)}</caption>"
        f"<thead><tr>{head}</tr></thead><tbody>{''.join(body)}</tbody></table></div>"
    )


def pairs(items: Iterable[tuple[str, str]], class_: str = "") -> str:
    """Return a definition list: a word, what it means."""
    inside = "".join(f"<div><dt>{text(word)}</dt><dd>{text(meaning)}</dd></div>" for word, meaning in items)
    return f"<dl{attributes(class_=class_) if class_ else ''}>{inside}</dl>"


def bullets(items: Iterable[str], tag: str = "ul", class_: str = "") -> str:
    """Return a list, ``ul`` or ``ol``."""
    inside = "".join(f"<li>{text(item)}</li>" for item in items)
    return f"<{tag}{attributes(class_=class_) if class_ else ''}>{inside}</{tag}>"


def css_string(words: str) -> str:
    """Return a text as a string of a style sheet, nothing in it left with a meaning of its own."""
    safe = "".join(c if c.isascii() and (c.isalnum() or c in " ,.:-") else f"\\{ord(c):x} " for c in words)
    return f'"{safe}"'


_STYLES = ("base", "screen", "cards", "controls", "phone", "print")
_SCRIPTS = ("clock", "keep", "visit", "stops", "file", "end", "follow", "start")
"""Files of the templates in the order in which they are joined; each holds one idea."""


def style() -> str:
    """Return the style sheet of the page, but for the rules of its paper."""
    return "".join(_template(f"style/{name}.css") for name in _STYLES)


def script() -> str:
    """Return the script of the page: one function, so that its names stay its own."""
    inside = "\n".join(_template(f"script/{name}.js") for name in _SCRIPTS)
    return f'"use strict";\n(function () {{\n{inside}}})();\n'


def _template(name: str) -> str:
    """Return a file of ``planner/exporters/page/templates``."""
    return (files("planner") / "exporters" / "page" / "templates" / name).read_text(encoding="utf-8")
