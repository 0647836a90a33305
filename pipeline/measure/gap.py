"""Where fabric shows once the stitches have pulled and pushed it, and between which neighbours.

Here, unlike where cover is judged, thread ends square at its needle point: it dives there, and half a thread's
width beyond it would hide just the gaps that are looked for. To the side a nearness counts that just closes the
notches between row ends 0.4 mm apart.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from pipeline.craft import Craft
from pipeline.geometry.raster import Grid, ragged
from pipeline.measure.coverage import BARE, Artwork
from pipeline.measure.displacement import displaced
from pipeline.measure.nearness import Mask, Patch, patches
from pipeline.measure.settings import MeasureSettings
from pipeline.measure.thread_path import Path
from pipeline.model import Spot

CHUNK = 2000
"""Segments painted at a time: more fall out of the processor's cache, fewer cost more calls; same result."""

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
    lay_square(np.stack([start, moved], axis=1)[table.lies], width, art.grid, laid)
    return np.asarray(art.inner & ~laid)


def lay_square(segments: NDArray[np.float64], width_mm: float, grid: Grid, into: Mask) -> None:
    """Set the cells whose centres lie in the rectangles ``width_mm`` wide about ``segments`` ``(n, 2, 2)``.

    A rectangle is convex: each grid line across its longer axis cuts it in one span, between its two sides
    and its two ends.
    """
    ends = grid.cells(segments)
    flat = into.reshape(-1)
    for first in range(0, len(ends), CHUNK):
        _stamp(grid, ends[first : first + CHUNK], width_mm * grid.px_per_mm / 2.0, flat)


def _stamp(grid: Grid, ends: NDArray[np.float64], half: float, flat: Mask) -> None:
    """One chunk. Spans are counted along ``u``, the longer axis of each segment, and lie along ``v``."""
    run = ends[:, 1] - ends[:, 0]
    steep = np.abs(run[:, 1]) > np.abs(run[:, 0])
    ends = np.where(steep[:, None, None], ends[:, :, ::-1], ends)
    ends = np.where((ends[:, 0, 0] > ends[:, 1, 0])[:, None, None], ends[:, ::-1], ends)
    run = ends[:, 1] - ends[:, 0]
    size = np.hypot(run[:, 0], run[:, 1])
    real = size > 1e-9
    steep, ends, run, size = steep[real], ends[real], run[real], size[real]
    along, aside = (run / size[:, None]).T
    lean = half * np.abs(aside)
    reach_u, reach_v = np.where(steep, grid.height, grid.width), np.where(steep, grid.width, grid.height)
    lowest = np.clip(np.ceil(ends[:, 0, 0] - lean - 0.5), 0, reach_u).astype(np.int64)
    highest = np.clip(np.floor(ends[:, 1, 0] + lean - 0.5), -1, reach_u - 1).astype(np.int64)
    owner, place = ragged(lowest, np.maximum(highest - lowest + 1, 0))
    if len(owner) == 0:
        return
    ahead = place + 0.5 - ends[owner, 0, 0]
    # The sides cut v at slope·u ± half / along, the ends where the way along the segment is 0 and its size.
    slope, side = (aside / along)[owner], (half / along)[owner]
    middle = ahead * slope
    sign = np.where(aside >= 0.0, 1.0, -1.0)
    steepness = np.maximum(np.abs(aside), 1e-12)
    back = (-sign * along / steepness)[owner] * ahead
    far = back + (sign * size / steepness)[owner]
    base = ends[owner, 0, 1] - 0.5
    low = np.maximum(middle - side, np.minimum(back, far)) + base
    high = np.minimum(middle + side, np.maximum(back, far)) + base
    low = np.maximum(np.ceil(np.clip(low, -1e6, 1e6)), 0).astype(np.int64)
    high = np.minimum(np.floor(np.clip(high, -1e6, 1e6)).astype(np.int64), reach_v[owner] - 1)
    # Spans are a few cells long: cell by cell of all of them at once.
    stride_u = np.where(steep, grid.width, 1)[owner]
    stride_v = np.where(steep, 1, grid.width)[owner]
    begin = place * stride_u + low * stride_v
    count = high - low + 1
    for step in range(max(0, int(count.max(initial=0)))):
        there = count > step
        flat[begin[there] + step * stride_v[there]] = True


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
