"""What stitches do to the fabric: they pull it in along their own direction, and it may show at joins.

The model (simple, our own): a row or rung of cover, that is stitches that go on in about one direction, draws
its ends in by the fabric's pull, times a factor that grows with its length up to 1. What meets at a needle point
adds up, and no point moves farther than the pull: ends of rows and rungs move in, the points inside a row, held
from both sides, stay. Published distortion studies find the same direction of the effect, sewn widths smaller
than designed (Radavičienė and Jucienė, Fibres & Textiles in Eastern Europe 20(3), 2012).

Here, unlike where cover is judged, thread ends square at its needle point: it dives there, and half a thread's
width beyond it would hide just the gaps that are looked for. To the side a nearness counts that just closes the
notches between row ends 0.4 mm apart.
"""

from __future__ import annotations

from math import pi

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.raster import Grid, paint_segments
from pipeline.measure.coverage import Artwork, Mask
from pipeline.measure.settings import MeasureSettings
from pipeline.measure.thread_path import COVER, Path
from pipeline.model import Fabric, Points, Thread

STRIPS = 3
"""Lines that a thread with square ends is painted as: more cost time, fewer make the ends rounder."""


def pulled(table: Path, fabric: Fabric, settings: MeasureSettings) -> Points:
    """The needle points of ``table`` after pull, ``(n, 2)`` mm."""
    cover = table.sewn & (table.layer == COVER)
    lengths = table.lengths
    # A row begins where the thread bends sharply, or where what came before is no cover.
    row = np.cumsum(~(table.straight_on & cover & np.concatenate([[False], cover[:-1]]))) - 1
    row_mm = np.bincount(row, weights=np.where(cover, lengths, 0.0))[row]
    factor = np.where(cover, np.minimum(1.0, row_mm / settings.full_pull_mm), 0.0)
    safe = np.where(lengths > 0.0, lengths, 1.0)
    draw = (table.points - table.start) * (factor / safe)[:, None]
    # A stitch draws its end back along itself and its start forward.
    sums = -draw
    sums[:-1] += draw[1:]
    size = np.hypot(sums[:, 0], sums[:, 1])
    return np.asarray(table.points + fabric.pull_mm * sums / np.maximum(1.0, size)[:, None])


def gaps(table: Path, art: Artwork, thread: Thread, fabric: Fabric, settings: MeasureSettings) -> Mask:
    """Where fabric shows after pull, farther than the edge distance inside the artwork's own border."""
    moved = pulled(table, fabric, settings)
    start = np.concatenate([moved[:1], moved[:-1]])
    laid = art.grid.full(False, np.bool_)
    width = thread.laid_mm + 2.0 * settings.gap_side_mm
    _lay_square(np.stack([start, moved], axis=1)[table.lies], width, art.grid, laid)
    return np.asarray(art.inner & ~laid)


def _lay_square(segments: NDArray[np.float64], width_mm: float, grid: Grid, into: Mask) -> None:
    """Paint thread with square ends: ``STRIPS`` thin parallel lines, their small round ends pulled back."""
    strip = width_mm / STRIPS
    ways = segments[:, 1] - segments[:, 0]
    lengths = np.hypot(ways[:, 0], ways[:, 1])
    long = lengths > strip
    unit = ways[long] / lengths[long][:, None]
    # A round end of radius r reaches past its centre by πr/4 on average over the strip's width.
    back = (unit * strip * pi / 8.0)[:, None, :]
    trimmed = segments[long] + np.concatenate([back, -back], axis=1)
    aside = np.column_stack([-unit[:, 1], unit[:, 0]])
    for place in range(STRIPS):
        shift = (place - (STRIPS - 1) / 2.0) * strip
        paint_segments(grid, trimmed + (aside * shift)[:, None, :], strip, True, into)
