"""The batch at a glance: a page with every picture."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path, PurePosixPath
from urllib.parse import quote

from pipeline.write.page import badge, html, page
from pipeline.write.summary import Row
from pipeline.write.whole import write_whole


def write_gallery(rows: Sequence[Row], folder: Path) -> None:
    """Write ``index.html`` into ``folder``, which links to the files beside it."""
    write_whole({folder / "index.html": gallery_bytes(rows)})


def gallery_bytes(rows: Sequence[Row]) -> bytes:
    """The gallery as HTML: failed files first, with their reason, then the others in their order."""
    failed = [row for row in rows if row.status == "failed"]
    done = [row for row in rows if row.status == "converted"]
    stitches, metres = sum(row.stitches for row in done), sum(row.thread_m for row in done)
    minutes = sum(row.minutes for row in done)
    text = (
        f"{len(done)} converted, {len(failed)} failed · {stitches:,} stitches · {metres:,.0f} m of top thread · "
        f"{minutes:,.0f} min of sewing"
    )
    cards = "\n".join([*map(_failed, failed), *map(_card, done)])
    links = '<a href="summary.csv">summary.csv</a> · <a href="summary.json">summary.json</a>'
    head = f'<h1>Sewing plans</h1>\n<p>{html(text)}</p>\n<p class="soft">{links}</p>'
    return page("Sewing plans", f'{head}\n<div class="cards">\n{cards}\n</div>', "gallery")


def _failed(row: Row) -> str:
    return (
        f'<article class="card"><div class="none">no plan</div><div class="text"><h2>{html(row.name)}</h2>'
        f"<p>{html(badge('failed'))}</p><p>{html(row.reason)}</p></div></article>"
    )


def _counted(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"


def _card(row: Row) -> str:
    stem = str(PurePosixPath(row.name).with_suffix(""))
    link = {suffix: html(quote(stem + suffix)) for suffix in (".html", ".plan.json", ".dst", ".png")}
    marks = [html(badge("converted"))]
    marks += [
        html(badge(word)) + f" {count}"
        for word, count in (("error", row.errors), ("warning", row.warnings))
        if count
    ]
    notes = row.findings - row.errors - row.warnings
    marks += [html(badge("note")) + f" {notes}"] if notes else []
    return (
        f'<article class="card"><a class="sewn" href="{link[".html"]}">'
        f'<img loading="lazy" alt="" src="{link[".png"]}"></a>'
        f'<div class="text"><h2>{html(row.name)}</h2>'
        f"<p>{row.stitches:,} stitches · {_counted(row.colours, 'colour')} · {_counted(row.trims, 'trim')}</p>"
        f'<p class="soft">{row.width_mm:.0f} × {row.height_mm:.0f} mm · '
        f"{row.minutes:.0f} min · {row.thread_m:.0f} m</p>"
        f"<p>{' '.join(marks)}</p>"
        f'<p class="links"><a href="{link[".html"]}">sheet</a><a href="{link[".plan.json"]}">plan</a>'
        f'<a href="{link[".dst"]}">machine file</a></p></div></article>'
    )
