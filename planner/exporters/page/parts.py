"""Small pieces of HTML: escaped texts, tables, definition lists."""

from __future__ import annotations

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


def table(caption: str, heads: Sequence[str], rows: Iterable[Sequence[str]], class_: str = "list") -> str:
    """Return a table whose first column heads its rows; each cell names its column, for a phone's single column."""
    head = "".join(f'<th scope="col">{text(words)}</th>' for words in heads)
    body = []
    for first, *rest in rows:
        cells = "".join(f"<td{attributes(data_head=h)}>{text(c)}</td>" for h, c in zip(heads[1:], rest, strict=True))
        body.append(f'<tr><th scope="row">{text(first)}</th>{cells}</tr>')
    return (
        f'<div class="wide"{attributes(role="region", tabindex="0", aria_label=caption)}>'
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


def template(name: str) -> str:
    """Return a file of ``planner/exporters/templates``."""
    return (files("planner") / "exporters" / "page" / "templates" / name).read_text(encoding="utf-8")
