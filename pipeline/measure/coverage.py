"""What a person would see: thread painted over fabric in sewing order, held against the artwork.

Method: artwork and thread are painted into grids of labels, a cell taking what lies at its centre; what is within
a distance is told exactly between cell centres, so a border is known to about half a cell. The length of thread
beyond the artwork is exact: the grid only picks the stitches that may reach so far.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

from pipeline.geometry import overlay
from pipeline.geometry.offset import moved
from pipeline.geometry.polygon import multipolygon
from pipeline.geometry.polyline import numbered
from pipeline.geometry.raster import Grid, paint_polygons, paint_segments
from pipeline.measure.nearness import Mask, grown
from pipeline.measure.settings import MeasureSettings
from pipeline.measure.thread_path import Path
from pipeline.model import Points, Region

Labels = NDArray[np.int32]

BARE = -1
"""The label of fabric."""

PROBE_MM = 0.375
"""Step of the places at which a stitch is tried before it is cut or painted exactly: finer costs time; a bay
narrower than this that a stitch crosses could be missed, and artwork grown by the spill distance has hardly any."""

RIM_MM = 0.4
"""Room around the artwork and what may spill, so that every border has two sides."""

MOST_CELLS = 8_000_000
"""Cells in a grid. A larger design is looked at more coarsely, so that memory stays bounded: at the default
8 px/mm that begins at about 350 × 350 mm."""


@dataclass(frozen=True, eq=False)
class Artwork:
    """The artwork on a grid, cell by cell: made once, held against any sewing of it.

    ``region`` is the place in ``regions`` of the one that shows (``BARE`` for none); ``judged`` the cells
    farther than the border distance from a colour border; ``inner`` those farther than the gap's edge
    distance from the artwork's own border; ``near`` those safely within the spill distance of it.
    """

    grid: Grid
    regions: tuple[Region, ...]
    region: Labels
    judged: Mask
    inner: Mask
    near: Mask

    @property
    def shown(self) -> Mask:
        """Where the artwork shows anything."""
        return np.asarray(self.region != BARE)

    @property
    def colours(self) -> tuple[str, ...]:
        """The regions' colours, each once."""
        return tuple(dict.fromkeys(region.colour for region in self.regions))


def artwork(regions: tuple[Region, ...], settings: MeasureSettings) -> Artwork:
    """The visible areas of ``regions`` on a grid that holds them and what may spill over."""
    boxes = [region.visible.bounds for region in regions if not region.visible.is_empty]
    grid = _frame(boxes, settings, settings.spill_mm + RIM_MM)
    region = grid.full(BARE, np.int32)
    paint_polygons(grid, [each.visible for each in regions], range(len(regions)), region)
    shown = region != BARE
    colours = dict.fromkeys(each.colour for each in regions)
    number = {colour: place for place, colour in enumerate(colours)}
    colour = np.array([*(number[each.colour] for each in regions), BARE], dtype=np.int32)[region]
    px = grid.px_per_mm
    return Artwork(
        grid,
        regions,
        region,
        judged=shown & ~grown(_rim(colour), settings.border_mm * px - 0.5),
        inner=shown & ~grown(~shown, settings.gap_edge_mm * px + 0.5),
        near=grown(shown, settings.spill_mm * px - 1.5),
    )


def _frame(boxes: list[tuple[float, ...]], settings: MeasureSettings, margin_mm: float) -> Grid:
    """A grid that holds ``boxes`` and a margin around them."""
    boxes = boxes or [(0.0, 0.0, 0.0, 0.0)]
    least, most = np.min(boxes, axis=0), np.max(boxes, axis=0)
    size = most[2:] - least[:2]
    px_per_mm = min(settings.px_per_mm, sqrt(MOST_CELLS / max(float(size[0] * size[1]), 1e-9)))
    bounds = (float(least[0]), float(least[1]), float(most[2]), float(most[3]))
    return Grid.around(bounds, px_per_mm, margin_mm)


def _rim(labels: Labels) -> Mask:
    """The cells that touch one with another label across an edge."""
    rim = np.zeros(labels.shape, dtype=np.bool_)
    across = labels[:, 1:] != labels[:, :-1]
    down = labels[1:] != labels[:-1]
    rim[:, 1:] |= across
    rim[:, :-1] |= across
    rim[1:] |= down
    rim[:-1] |= down
    return rim


@dataclass(frozen=True, eq=False)
class Probes:
    """Places in the middles of equal pieces of segments: each one's segment ``(k,)``, the places ``(k, 2)`` and
    their pieces' lengths ``(k,)`` in mm.
    """

    owner: NDArray[np.intp]
    places: Points
    pieces: NDArray[np.float64]


def probes(segments: NDArray[np.float64], step_mm: float = PROBE_MM) -> Probes:
    """Places along every one of ``segments`` ``(n, 2, 2)``, their pieces no longer than ``step_mm``."""
    ways = segments[:, 1] - segments[:, 0]
    lengths = np.hypot(ways[:, 0], ways[:, 1])
    pieces = np.maximum(1, np.ceil(lengths / step_mm)).astype(np.intp)
    owner, place = numbered(pieces)
    share_of_way = ((place + 0.5) / pieces[owner])[:, None]
    return Probes(owner, segments[owner, 0] + share_of_way * ways[owner], (lengths / pieces)[owner])


@dataclass(frozen=True, eq=False)
class Sight:
    """What shows of the thread, where the artwork shows anything.

    ``agrees`` where the top thread, at the width that it lies, has the artwork's colour; ``covered`` where thread
    lies or is near; ``passes`` where the top one of the threads that cover has the artwork's colour: the
    hair-fine notches between the ends of rows, which ``agrees`` counts as faults, are none there. ``top`` is the
    number, among the stretches of thread that lie, of the one on top (``BARE`` for none).
    """

    agrees: Mask
    covered: Mask
    passes: Mask
    top: Labels


def sight(
    table: Path, colours: tuple[str, ...], art: Artwork, tried: Probes, laid_mm: float, settings: MeasureSettings
) -> Sight:
    """The stitches of ``table``, its threads in ``colours`` lying ``laid_mm`` wide, as they show on ``art``.

    ``tried`` are the probes of the stretches that lie.
    """
    known = tuple(dict.fromkeys((*art.colours, *colours)))
    number = {colour: place for place, colour in enumerate(known)}
    segments = table.segments[table.lies]
    label = np.array([number[colour] for colour in colours], dtype=np.int32)[table.thread[table.lies]]
    wanted = np.array([*(number[each.colour] for each in art.regions), BARE], dtype=np.int32)[art.region]
    top = art.grid.full(BARE, np.int32)
    paint_segments(art.grid, segments, laid_mm, np.arange(len(segments)), top)
    agrees = art.shown & (np.append(label, BARE)[top] == wanted)
    # A wider thread can only matter where the picture does not agree yet: only what comes near that is painted.
    reach_mm = laid_mm / 2.0 + settings.near_mm
    doubtful = grown(art.shown & ~agrees, (reach_mm + PROBE_MM / 2.0) * art.grid.px_per_mm + 1.5)
    chosen = np.unique(tried.owner[look(doubtful, art.grid, tried.places)])
    near = art.grid.full(BARE, np.int32)
    paint_segments(art.grid, segments[chosen], 2.0 * reach_mm, label[chosen], near)
    return Sight(
        agrees,
        covered=art.shown & (agrees | (near != BARE)),
        # What agrees does so by the thread on top; a wider neighbour that reaches a little over it is no fault.
        passes=agrees | (art.shown & (near == wanted)),
        top=top,
    )


def share(part: Mask, whole: Mask) -> float:
    """Cells of ``part`` in ``whole`` as a share of ``whole``; 1 if there are none to judge."""
    total = int(np.count_nonzero(whole))
    return int(np.count_nonzero(part & whole)) / total if total else 1.0


def thread_outside(
    table: Path, art: Artwork, tried: Probes, settings: MeasureSettings
) -> tuple[float, float, Points]:
    """Thread in mm farther than the spill distance outside the artwork, all thread, and the places tried out there.

    ``tried`` are the probes of the stretches that lie.
    """
    segments, lengths = table.segments[table.lies], table.lengths[table.lies]
    every = float(lengths.sum())
    far = ~look(art.near, art.grid, tried.places)
    doubtful = np.unique(tried.owner[far])
    if len(doubtful) == 0:
        return 0.0, every, np.empty((0, 2))
    shown = multipolygon(overlay.union_all([region.visible for region in art.regions]))
    allowed: MultiPolygon = moved(shown, settings.spill_mm)
    shapely.prepare(allowed)
    lines = shapely.linestrings(segments[doubtful])
    kept = shapely.length(overlay.intersection(lines, allowed))
    places = tried.places[far]
    out = ~shapely.contains_xy(allowed, places[:, 0], places[:, 1])
    return float(np.maximum(lengths[doubtful] - kept, 0.0).sum()), every, places[out]


def look(cells: Mask, grid: Grid, places: Points) -> Mask:
    """What ``cells`` say at ``places`` ``(k, 2)``; nothing of places outside the grid."""
    columns, rows = np.floor(grid.cells(places)).astype(np.int32).T
    inside = (columns >= 0) & (rows >= 0) & (columns < grid.width) & (rows < grid.height)
    found = np.zeros(len(places), dtype=np.bool_)
    found[inside] = cells[rows[inside], columns[inside]]
    return found
