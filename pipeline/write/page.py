"""What the sheet and the gallery share: escaping, small tables, the style, the whole page."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path

STYLE = Path(__file__).with_name("page.css")


@dataclass(frozen=True)
class Html:
    """Text that is HTML already; any other value is escaped where it enters a page."""

    text: str


def html(value: object) -> str:
    """A value as HTML text: escaped unless it is ``Html``."""
    return value.text if isinstance(value, Html) else escape(str(value))


def table(heads: Sequence[str], rows: Iterable[Sequence[object]], numeric: Sequence[int] = ()) -> str:
    """A table; columns in ``numeric`` are set flush right."""
    marks = [' class="n"' if column in numeric else "" for column in range(len(heads))]
    head = "".join(f"<th{mark}>{html(text)}</th>" for mark, text in zip(marks, heads, strict=True))
    body = "\n".join(
        "<tr>" + "".join(f"<td{m}>{html(v)}</td>" for m, v in zip(marks, row, strict=True)) + "</tr>"
        for row in rows
    )
    return f"<table>\n<thead><tr>{head}</tr></thead>\n<tbody>\n{body}\n</tbody>\n</table>"


def facts(pairs: Iterable[tuple[str, object]], wide: Sequence[str] = ()) -> str:
    """Named figures side by side; those named in ``wide`` take a whole line."""
    items = "\n".join(
        f"<div{' class=wide' if name in wide else ''}><dt>{html(name)}</dt><dd>{html(value)}</dd></div>"
        for name, value in pairs
    )
    return f'<dl class="facts">\n{items}\n</dl>'


def badge(word: str) -> Html:
    """A status or severity as a coloured word; its colour is chosen by the word itself."""
    return Html(f'<span class="mark {escape(word)}">{escape(word)}</span>')


def page(title: str, body: str, kind: str) -> bytes:
    """A whole page that needs nothing from outside; ``kind`` is the body's class."""
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{html(title)}</title>\n<style>\n{STYLE.read_text(encoding='utf-8')}</style>\n</head>\n"
        f'<body class="{kind}">\n{body}\n</body>\n</html>\n'
    ).encode()
