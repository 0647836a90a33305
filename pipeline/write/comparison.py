"""The same design in layers and cut out puzzle-fashion, side by side: a picture and a page to show to people."""

from __future__ import annotations

from base64 import b64encode
from dataclasses import dataclass, replace
from io import BytesIO
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from pipeline.model import Plan, Sewing, Spot
from pipeline.write.page import facts, html, page, table
from pipeline.write.picture import picture
from pipeline.write.settings import WriteSettings
from pipeline.write.sheet import compared
from pipeline.write.whole import write_whole

Pixels = NDArray[np.uint8]

WHOLE_PX, CLOSE_MM, CLOSE_PX = 640, 14.0, 640
"""Width of a picture of the whole, the side of the close look in mm, and its width in pixels."""

CLOSE_PX_PER_MM = 32.0
"""Fineness at which the close look is drawn: a thread is eight wide."""

SEAM_PX = 24
"""White between pictures."""

MARK = (214, 0, 120)
"""Colour of the rings and frames that point at gaps: one that artwork seldom has."""


@dataclass(frozen=True)
class Opening:
    """A place where fabric shows once the stitches have pulled: where, how large, and between which elements."""

    at: Spot
    length_mm: float
    area_mm2: float
    between: str


@dataclass(frozen=True, eq=False)
class ComparisonSide:
    """One way to sew the design: its plan, the sewing after pull and push, and its openings, largest first."""

    plan: Plan
    pulled: Sewing
    openings: tuple[Opening, ...]


HEADS = ("In layers", "Cut out puzzle-fashion")


def write_comparison(
    layered: ComparisonSide, cut_out: ComparisonSide, folder: Path, stem: str, settings: WriteSettings
) -> None:
    """Write ``stem`` + ``.compare.png`` and ``.compare.html`` into ``folder``, both or none.

    Raises OSError.
    """
    drawn = comparison_picture(layered, cut_out, settings)
    target = BytesIO()
    Image.fromarray(drawn).save(target, format="PNG", compress_level=6)
    data = target.getvalue()
    contents = {
        folder / f"{stem}.compare.png": data,
        folder / f"{stem}.compare.html": comparison_bytes(layered, cut_out, data),
    }
    write_whole(contents)


def comparison_picture(layered: ComparisonSide, cut_out: ComparisonSide, settings: WriteSettings) -> Pixels:
    """Both as they would lie after pull: the whole above, gaps ringed, and the worst place close up below.

    The close look of both is at the largest opening of either, the cut-out one's first; without any, in the middle.
    """
    openings = (*cut_out.openings, *layered.openings)
    size = (layered.plan.source.width_mm, layered.plan.source.height_mm)
    spot = openings[0].at if openings else (size[0] / 2.0, size[1] / 2.0)
    columns = []
    for side in (layered, cut_out):
        fine = replace(settings, picture_px_per_mm=CLOSE_PX_PER_MM, picture_detail=1)
        plan = replace(side.plan, sewing=side.pulled)
        whole, origin, px = _drawn(plan, settings)
        close, corner, finer = _drawn(plan, fine)
        marked = _ringed(whole, side.openings, origin, px)
        columns.append(_stacked(_scaled(marked, WHOLE_PX), _cropped(close, spot, corner, finer)))
    height = max(len(column) for column in columns)
    padded = [_padded(column, height) for column in columns]
    seam = np.full((height, SEAM_PX, 3), 255, dtype=np.uint8)
    return np.hstack([padded[0], seam, padded[1]])


def _drawn(plan: Plan, settings: WriteSettings) -> tuple[Pixels, Spot, float]:
    """The sewn picture, its upper left corner in mm, and its fineness in pixels a mm."""
    drawn = picture(plan, settings)
    spots = [step.points for step in plan.sewing.passes]
    viewport = np.array([[0.0, 0.0], [plan.source.width_mm, plan.source.height_mm]])
    every = np.vstack([*spots, viewport])
    least, most = every.min(axis=0), every.max(axis=0)
    margin = settings.picture_margin_mm
    px = drawn.shape[1] / (float(most[0] - least[0]) + 2.0 * margin)
    return drawn, (float(least[0]) - margin, float(least[1]) - margin), px


def _ringed(drawn: Pixels, openings: tuple[Opening, ...], origin: Spot, px: float) -> Pixels:
    """The picture with a ring around every opening."""
    image = Image.fromarray(drawn)
    pen = ImageDraw.Draw(image)
    width = max(2, round(drawn.shape[1] / 300))
    for opening in openings:
        x, y = ((opening.at[axis] - origin[axis]) * px for axis in (0, 1))
        reach = px * max(1.5, min(opening.length_mm / 2.0, 6.0))
        pen.ellipse((x - reach, y - reach, x + reach, y + reach), outline=MARK, width=width)
    return np.asarray(image)


def _cropped(drawn: Pixels, spot: Spot, origin: Spot, px: float) -> Pixels:
    """A square of ``CLOSE_MM`` about ``spot``, kept inside the picture."""
    side = min(round(CLOSE_MM * px), *drawn.shape[:2])
    left, top = (
        int(np.clip(round((spot[axis] - origin[axis]) * px - side / 2.0), 0, drawn.shape[1 - axis] - side))
        for axis in (0, 1)
    )
    return _scaled(drawn[top : top + side, left : left + side], CLOSE_PX)


def _scaled(drawn: Pixels, width: int) -> Pixels:
    height = max(1, round(drawn.shape[0] * width / drawn.shape[1]))
    return np.asarray(Image.fromarray(drawn).resize((width, height), Image.Resampling.LANCZOS))


def _stacked(above: Pixels, below: Pixels) -> Pixels:
    return np.vstack([above, np.full((SEAM_PX, above.shape[1], 3), 255, dtype=np.uint8), below])


def _padded(drawn: Pixels, height: int) -> Pixels:
    return np.vstack([drawn, np.full((height - len(drawn), drawn.shape[1], 3), 255, dtype=np.uint8)])


def comparison_rows(layered: ComparisonSide, cut_out: ComparisonSide) -> list[tuple[str, str, str]]:
    """Every figure of both, as text."""
    ours, theirs = layered.plan.counts, cut_out.plan.counts
    return [
        *compared(layered.plan.checks, cut_out.plan.checks),
        ("Stitches of foundation", f"{ours.foundation:,}", f"{theirs.foundation:,}"),
        ("Trims", str(ours.trims), str(theirs.trims)),
        ("Colour changes", str(ours.colour_changes), str(theirs.colour_changes)),
        ("Top thread", f"{ours.thread_m:.1f} m", f"{theirs.thread_m:.1f} m"),
        ("Sewing time", f"{ours.minutes:.1f} min", f"{theirs.minutes:.1f} min"),
    ]


def comparison_bytes(layered: ComparisonSide, cut_out: ComparisonSide, drawn: bytes) -> bytes:
    """The page as HTML in UTF-8, with the picture (PNG) inside it."""
    shown = b64encode(drawn).decode("ascii")
    name = layered.plan.source.name
    parts = [
        f"<h1>{html(name)}</h1>",
        '<p class="soft">In layers on the left, cut out puzzle-fashion on the right: the same artwork through the '
        "same engine, drawn as it lies once the stitches have pulled the fabric in. Above the whole, with rings "
        "where fabric shows; below the worst place close up.</p>",
        facts([("What it comes to", verdict(layered, cut_out))], wide=("What it comes to",)),
        f'<div class="pair"><img alt="In layers and cut out" src="data:image/png;base64,{shown}"></div>',
        "<h2>Figures</h2>" + table(("Figure", *HEADS), comparison_rows(layered, cut_out), numeric=(1, 2)),
        "<h2>Where fabric shows</h2>" + _openings(layered, cut_out),
        "<h2>Why</h2>" + WHY,
    ]
    return page(f"{name} · layered and cut out", "\n".join(parts), "sheet")


def verdict(layered: ComparisonSide, cut_out: ComparisonSide) -> str:
    """One sentence on gaps and stitches."""
    ours, theirs = layered.plan.checks, cut_out.plan.checks
    more = ours.stitches / max(theirs.stitches, 1) - 1.0
    words = f"{abs(more):.0%} {'more' if more > 0 else 'fewer'} stitches"
    return (
        f"In layers {ours.gap_mm2:.1f} mm² of fabric show at the joins, cut out {theirs.gap_mm2:.1f} mm²;"
        f" layering takes {words}."
    )


WHY = (
    "<p>Stitches draw the fabric in along their own direction. Where a lower fill was cut away to drop another "
    "piece in, both edges of the join go back, and fabric shows between them. A shape sewn whole has no edge "
    "there: the upper one lies on it and hides its own.</p>"
    '<p class="soft">The drawing is a model of pull and push by fabric, stitch length and direction, not a '
    "photograph; sew a test piece on the same fabric and stabilizer.</p>"
)


def _openings(layered: ComparisonSide, cut_out: ComparisonSide) -> str:
    rows = [
        (head, o.between, f"{o.at[0]:.1f}, {o.at[1]:.1f}", f"{o.length_mm:.1f}", f"{o.area_mm2:.2f}")
        for head, side in zip(HEADS, (layered, cut_out), strict=True)
        for o in side.openings
    ]
    if not rows:
        return "<p>Nowhere in either.</p>"
    return table(("Sewn", "Between", "At, mm", "Long, mm", "Area, mm²"), rows, numeric=(2, 3, 4))
