"""What a person would see: thread painted over fabric in sewing order, held against the artwork.

Method: artwork and thread are painted into grids of labels, a cell taking what lies at its centre; distances
are exact Euclidean ones between cell centres, so a border is known to about half a cell. The length of thread
beyond the artwork is exact: the grid only picks the stitches that may reach so far.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import ndimage
from shapely.geometry import MultiPolygon

from pipeline.geometry.offset import moved
from pipeline.geometry.polygon import multipolygon
from pipeline.geometry.raster import Grid, paint_polygons, paint_segments
from pipeline.measure.settings import MeasureSettings
from pipeline.measure.thread_path import COVER, FOUNDATION, Path, path
from pipeline.model import Points, Region, Sewing

Mask = NDArray[np.bool_]

BARE = -1
"""The label of fabric."""

PROBE_MM = 0.25
"""Step of the places at which a stitch is tried before it is cut exactly: finer costs time; a bay narrower
than this that a stitch crosses could be missed, and artwork grown by the spill distance has hardly any."""

RIM_CELLS = 4
"""Empty cells around all that is painted, so that every border has two sides."""

MOST_CELLS = 8_000_000
"""Cells in a grid. A larger design is looked at more coarsely, so that memory stays bounded: at the default
10 px/mm that begins at about 280 × 280 mm."""


@dataclass(frozen=True, eq=False)
class Artwork:
    """The artwork on a grid, cell by cell.

    ``region`` is the place in ``regions`` of the one that shows (``BARE`` for none); ``judged`` the cells
    farther than the border distance from a colour border; ``inner`` those farther than the gap's edge
    distance from the artwork's own border; ``beyond_mm`` the distance to the nearest cell of artwork.
    """

    grid: Grid
    regions: tuple[Region, ...]
    region: NDArray[np.int32]
    judged: Mask
    inner: Mask
    beyond_mm: NDArray[np.float32]

    @property
    def shown(self) -> Mask:
        """Where the artwork shows anything."""
        return np.asarray(self.region != BARE)

    @property
    def colours(self) -> tuple[str, ...]:
        """The regions' colours, each once."""
        return tuple(dict.fromkeys(region.colour for region in self.regions))


def artwork(regions: tuple[Region, ...], table: Path, settings: MeasureSettings) -> Artwork:
    """The visible areas of ``regions`` on a grid that also holds the thread of ``table``."""
    grid = _frame(regions, table, settings)
    region = grid.full(BARE, np.int32)
    paint_polygons(grid, [each.visible for each in regions], range(len(regions)), region)
    shown = region != BARE
    colours = dict.fromkeys(each.colour for each in regions)
    number = {colour: place for place, colour in enumerate(colours)}
    colour = np.array([*(number[each.colour] for each in regions), BARE], dtype=np.int32)[region]
    return Artwork(
        grid,
        regions,
        region,
        judged=shown & (_from(_rim(colour), grid) + 0.5 / grid.px_per_mm > settings.border_mm),
        inner=shown & (_from(~shown, grid) - 0.5 / grid.px_per_mm > settings.gap_edge_mm),
        beyond_mm=_from(shown, grid),
    )


def _frame(regions: tuple[Region, ...], table: Path, settings: MeasureSettings) -> Grid:
    """A grid that holds the artwork, the thread, and a rim so that every border lies inside."""
    boxes = [region.visible.bounds for region in regions if not region.visible.is_empty]
    if len(table.points):
        boxes.append((*table.points.min(axis=0).tolist(), *table.points.max(axis=0).tolist()))
    boxes = boxes or [(0.0, 0.0, 0.0, 0.0)]
    least, most = np.min(boxes, axis=0), np.max(boxes, axis=0)
    size = most[2:] - least[:2]
    px_per_mm = min(settings.px_per_mm, sqrt(MOST_CELLS / max(float(size[0] * size[1]), 1e-9)))
    bounds = (float(least[0]), float(least[1]), float(most[2]), float(most[3]))
    return Grid.around(bounds, px_per_mm, RIM_CELLS / px_per_mm)


def _rim(labels: NDArray[np.int32]) -> Mask:
    """The cells that touch one with another label across an edge."""
    rim = np.zeros(labels.shape, dtype=np.bool_)
    across = labels[:, 1:] != labels[:, :-1]
    down = labels[1:] != labels[:-1]
    rim[:, 1:] |= across
    rim[:, :-1] |= across
    rim[1:] |= down
    rim[:-1] |= down
    return rim


def _from(cells: Mask, grid: Grid) -> NDArray[np.float32]:
    """Distance in mm from every cell's centre to the nearest centre of ``cells``; infinite without any."""
    if not cells.any():
        return np.full(cells.shape, np.inf, dtype=np.float32)
    return np.asarray(ndimage.distance_transform_edt(~cells) / grid.px_per_mm, dtype=np.float32)


@dataclass(frozen=True, eq=False)
class Sight:
    """What shows of the thread, where the artwork shows anything.

    ``agrees`` where the top thread, at the width that it lies, has the artwork's colour; ``covered`` where thread
    lies or is near; ``passes`` where the top one of the threads that cover has the artwork's colour: the
    hair-fine notches between the ends of rows, which ``agrees`` counts as faults, are none there.
    """

    agrees: Mask
    covered: Mask
    passes: Mask


def sight(table: Path, colours: tuple[str, ...], art: Artwork, laid_mm: float, settings: MeasureSettings) -> Sight:
    """The stitches of ``table``, its threads in ``colours`` lying ``laid_mm`` wide, as they show on ``art``."""
    known = tuple(dict.fromkeys((*art.colours, *colours)))
    number = {colour: place for place, colour in enumerate(known)}
    lies = table.lies
    label = np.array([number[colour] for colour in colours], dtype=np.int32)[table.thread[lies]]
    top, near = art.grid.full(BARE, np.int32), art.grid.full(BARE, np.int32)
    paint_segments(art.grid, table.segments[lies], laid_mm, label, top)
    paint_segments(art.grid, table.segments[lies], laid_mm + 2.0 * settings.near_mm, label, near)
    wanted = np.array([*(number[each.colour] for each in art.regions), BARE], dtype=np.int32)[art.region]
    return Sight(
        agrees=art.shown & (top == wanted),
        covered=art.shown & (near != BARE),
        passes=art.shown & (near == wanted),
    )


def share(part: Mask, whole: Mask) -> float:
    """Cells of ``part`` in ``whole`` as a share of ``whole``; 1 if there are none to judge."""
    total = int(whole.sum())
    return float((part & whole).sum()) / total if total else 1.0


def thread_outside(table: Path, art: Artwork, settings: MeasureSettings) -> tuple[float, float]:
    """Thread in mm farther than the spill distance outside the artwork, and all thread that lies there."""
    lies = table.lies
    segments, lengths = table.segments[lies], table.lengths[lies]
    every = float(lengths.sum())
    owner, places, _ = probes(segments, PROBE_MM)
    slack_mm = 1.5 / art.grid.px_per_mm
    far = _look(art.beyond_mm, art.grid, places) > settings.spill_mm - slack_mm
    doubtful = np.unique(owner[far])
    if len(doubtful) == 0:
        return 0.0, every
    shown = multipolygon(shapely.union_all([region.visible for region in art.regions]))
    allowed: MultiPolygon = moved(shown, settings.spill_mm)
    shapely.prepare(allowed)
    lines = shapely.linestrings(segments[doubtful])
    kept = shapely.length(shapely.intersection(lines, allowed))
    return float(np.maximum(lengths[doubtful] - kept, 0.0).sum()), every


def probes(segments: NDArray[np.float64], step_mm: float) -> tuple[NDArray[np.intp], Points, NDArray[np.float64]]:
    """Places in the middles of equal pieces of every segment, none longer than ``step_mm``.

    Returns each place's segment ``(k,)``, the places ``(k, 2)`` and their pieces' lengths ``(k,)`` in mm.
    """
    ways = segments[:, 1] - segments[:, 0]
    lengths = np.hypot(ways[:, 0], ways[:, 1])
    pieces = np.maximum(1, np.ceil(lengths / step_mm)).astype(np.intp)
    owner = np.repeat(np.arange(len(segments)), pieces)
    place = np.arange(len(owner)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    share_of_way = ((place + 0.5) / pieces[owner])[:, None]
    return owner, segments[owner, 0] + share_of_way * ways[owner], (lengths / pieces)[owner]


def _look(values: NDArray[np.float32], grid: Grid, places: Points) -> NDArray[np.float32]:
    """``values`` of the cells that hold ``places``."""
    columns, rows = np.floor(grid.cells(places)).astype(np.intp).T
    return np.asarray(values[np.clip(rows, 0, grid.height - 1), np.clip(columns, 0, grid.width - 1)])


def foundation_on_cover(sewing: Sewing, settings: MeasureSettings, laid_mm: float = 0.25) -> tuple[float, float]:
    """Foundation in mm that was sewn onto cover already there (of any part, ``laid_mm`` wide), and all."""
    table = path(sewing)
    grid = _frame((), table, settings)
    order = np.arange(len(table.points), dtype=np.int32)
    cover = table.sewn & (table.layer == COVER)
    first = grid.full(np.iinfo(np.int32).max, np.int32)
    # The last painted wins, so painting backwards leaves the first cover of each cell.
    paint_segments(grid, table.segments[cover][::-1], laid_mm, order[cover][::-1], first)
    base = table.sewn & (table.layer == FOUNDATION)
    owner, places, pieces = probes(table.segments[base], PROBE_MM)
    columns, rows = np.floor(grid.cells(places)).astype(np.intp).T
    late = first[rows, columns] < order[base][owner]
    return float(pieces[late].sum()), float(pieces.sum())
