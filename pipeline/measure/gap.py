"""Where fabric shows once the stitches have pulled and pushed it, and between which neighbours.

Here, unlike where cover is judged, thread ends square at its needle point: it dives there, and half a thread's
width beyond it would hide just the gaps that are looked for. To the side a nearness counts that just closes the
notches between row ends 0.4 mm apart.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

import numpy as np
from scipy.spatial import cKDTree

from pipeline.craft import Craft
from pipeline.geometry.raster import paint_segments
from pipeline.measure.coverage import BARE, Artwork
from pipeline.measure.displacement import displaced
from pipeline.measure.nearness import Mask, Patch, patches
from pipeline.measure.settings import MeasureSettings
from pipeline.measure.thread_path import Path
from pipeline.model import Spot

MOST_GAPS = 12
"""The largest gaps that are looked at one by one."""

JOIN_MM = 0.2
"""Half of what may lie between pieces of one gap: thread ends that reach across make a dotted line of it."""

LEAST_GAP_MM2 = 0.05
"""Smaller gaps count in the sum but are not looked at: single cells where row ends meet."""


def gaps(table: Path, art: Artwork, craft: Craft, settings: MeasureSettings) -> Mask:
    """Where fabric shows after pull and push, farther than the edge distance inside the artwork's own border."""
    moved = displaced(table, craft.fabric, settings)
    start = np.concatenate([moved[:1], moved[:-1]])
    laid = art.grid.full(False, np.bool_)
    width = craft.thread_mm + 2.0 * settings.gap_side_mm
    paint_segments(art.grid, np.stack([start, moved], axis=1)[table.lies], width, True, laid, square=True)
    return np.asarray(art.inner & ~laid)


@dataclass(frozen=True)
class Gap:
    """A piece of fabric that shows: its area and length, a place in it, and the regions on its two sides.

    ``between`` are places in the artwork's regions, the lower first; one of them twice where only one is near.
    """

    area_mm2: float
    length_mm: float
    at: Spot
    between: tuple[int, int]


def largest_gaps(cells: Mask, art: Artwork, most: int = MOST_GAPS) -> tuple[Gap, ...]:
    """The largest patches of ``cells``, largest first."""
    grid = art.grid
    found = patches(cells, most, ceil(LEAST_GAP_MM2 / grid.cell_mm2), JOIN_MM * grid.px_per_mm)
    if not found:
        return ()
    spots = grid.places(*np.array([patch.middle for patch in found]).T).tolist()
    sides = _sides(art, found)
    return tuple(
        Gap(patch.cells * grid.cell_mm2, patch.length / grid.px_per_mm, (x, y), pair)
        for patch, (x, y), pair in zip(found, spots, sides, strict=True)
    )


def _sides(art: Artwork, found: list[Patch]) -> list[tuple[int, int]]:
    """For each patch its own region and that beyond the nearest border."""
    labels = art.region
    pairs = []
    for one, other in (((slice(None), slice(1, None)), (slice(None), slice(None, -1))),
                       ((slice(1, None), slice(None)), (slice(None, -1), slice(None)))):  # fmt: skip
        rows, columns = np.nonzero((labels[one] != labels[other]) & (labels[one] != BARE) & (labels[other] != BARE))
        pairs.append(np.column_stack([rows, columns, labels[one][rows, columns], labels[other][rows, columns]]))
    border = np.concatenate(pairs)
    middles = np.array([patch.middle for patch in found])
    own = labels[middles[:, 0], middles[:, 1]]
    if len(border) == 0:
        return [(int(each), int(each)) for each in own]
    _, nearest = cKDTree(border[:, :2]).query(middles)
    sides = border[np.asarray(nearest), 2:]
    return [(int(min(a, b)), int(max(a, b))) for a, b in sides]
