"""Tatami: brick-offset rows over any area, as one continuous thread.

How: cut the area into rows (``rows``), walk all of them once (``walk``), then set the needle points, all rows at
once: brick points along each row and one point a turn on the outline, from which the next row fans out.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import Polygon

from pipeline.geometry.scanline import Array, Ints, outline, turned, turned_back
from pipeline.model import Fabric, Spot, Step, Strand
from pipeline.stitch.ends import Approach, ends
from pipeline.stitch.ground import lay_foundation
from pipeline.stitch.rows import Flags, Rows, lay_rows
from pipeline.stitch.spacing import (
    FIELD,
    TRAVEL,
    Ranks,
    on_grid,
    spaced,
    strands_of,
    stretched,
    with_corners,
    without_short,
)
from pipeline.stitch.tatami_settings import FoundationSettings, TatamiSettings
from pipeline.stitch.turns import Turns, pulled, turns
from pipeline.stitch.walk import walked

GRID_MARGIN_MM = 0.55
"""Rounding, sliding along the row, and leaving out a short stitch may lengthen a stitch by this much."""

SCATTER_MM = 0.25
"""Every other row that fans does so this much farther inside, so that these needle points make no line."""
LEAST_MM = 0.65
"""Two needle points of one row keep this distance, to be no shorter than the shortest stitch after rounding."""
REST_MM = 1.4
"""A row that would have less than this left between its additional needle point and its other end gets none."""
LONE = 1.5
"""A row longer than this many stitches has at least one needle point of the pattern."""
SPILL_MM = 0.2
"""How far beyond pull compensation a stitch may leave the area where leaving out short ones cut a corner."""


def fill(
    area: Polygon,
    angle_deg: float,
    row_mm: float,
    stitch_mm: float,
    pull_mm: float,
    start: Spot,
    end: Spot,
    settings: TatamiSettings,
    far_row_mm: float | None = None,
) -> tuple[Array, NDArray[np.bool_]]:
    """Needle points ``(n, 2)`` that fill ``area`` from ``start`` to ``end`` exactly, without a jump.

    ``row_mm`` is the distance of neighbouring rows (changing to ``far_row_mm`` if given), ``pull_mm`` how far
    each row is sewn past the outline at both ends. The second array says of every point whether the stitch that
    leads to it is travel. Never raises for a valid polygon.
    """
    rows = lay_rows(area, angle_deg, row_mm, settings.slit_mm, far_row_mm)
    if not len(rows.u):
        return np.array([start, end]), np.array([False, False])
    spots = turned(np.array([start, end], dtype=np.float64), angle_deg)
    approach = ends(rows, spots[0], spots[1])
    walk = walked(rows, approach.first, approach.last)
    tips = pulled(rows, pull_mm)
    bends = turns(rows, walk, tips, settings)
    pattern = brick(rows, row_mm, stitch_mm, settings)
    line, rank, travel = _threaded(rows, tips, bends, approach, spots, pattern, settings)
    placed = on_grid(turned_back(line, angle_deg), rank == FIELD, angle_deg)
    keep = without_short(placed, rank, settings.shortest_mm, settings.longest_mm)
    keep = with_corners(placed, keep, area, pull_mm + SPILL_MM, settings.shortest_mm)
    sewn = stretched(placed[keep], area, pull_mm + SPILL_MM, settings.shortest_mm, settings.longest_mm)
    sewn[0], sewn[-1] = start, end
    return sewn, travel[keep]


@dataclass(frozen=True, eq=False)
class Brick:
    """Where needle points may fall on each row: at ``phase[row] + k * stitch_mm``."""

    phase: Array
    stitch_mm: float
    merge_mm: float
    fan_mm: float
    lone_mm: float


def brick(rows: Rows, row_mm: float, stitch_mm: float, settings: TatamiSettings) -> Brick:
    """The pattern, anchored to the design's own coordinates through the rows' numbers."""
    longest = settings.longest_mm - GRID_MARGIN_MM
    merge = min(settings.merge_mm, 0.25 * longest)
    stitch = min(stitch_mm, longest - merge)
    numbers = rows.first + np.arange(len(rows.heights))
    phase = np.mod(numbers * brick_offset(row_mm, stitch), 1.0) * stitch
    lone = max(stitch + merge, min(LONE * stitch, longest))
    return Brick(phase, stitch, merge, settings.fan_mm, lone)


@lru_cache(maxsize=256)
def brick_offset(row_mm: float, stitch_mm: float) -> float:
    """The share of a stitch by which each row is shifted: the one whose nearest needle points lie farthest apart.

    Rows one, two and three away must be at least an eighth of a stitch out of line. For 0.20 mm rows of 4 mm it
    gives 0.92 mm between nearest points (a hexagonal pattern, the optimum of any, would give 0.96).
    """
    shares = np.arange(0.125, 0.5, 0.0025)[:, None]
    away = np.arange(1, 41)[None, :]
    aside = np.abs(np.mod(shares * away + 0.5, 1.0) - 0.5)
    nearest = np.hypot(aside * stitch_mm, away * row_mm).min(axis=1)
    nearest[(aside[:, :3] < 0.125).any(axis=1)] = 0.0
    return float(shares[int(np.argmax(nearest)), 0])


def _threaded(
    rows: Rows,
    tips: Array,
    bends: Turns,
    approach: Approach,
    spots: Array,
    pattern: Brick,
    settings: TatamiSettings,
) -> tuple[Array, Ranks, Flags]:
    """The way in, then turn, row, turn, row … turn, and the way out: points, ranks, and which travel leads to."""
    in_row, field = _field(rows, tips, bends, pattern)
    count = np.bincount(in_row, minlength=len(bends.rows))
    # pieces in order: turn 0, row 0, turn 1, row 1, …, turn n
    turn_count = np.diff(bends.starts)
    sizes = np.empty(2 * len(count) + 1, dtype=np.int64)
    sizes[::2], sizes[1::2] = turn_count, count
    begin = np.cumsum(sizes) - sizes
    line = np.empty((int(sizes.sum()), 2))
    rank = np.full(len(line), FIELD, dtype=np.int8)
    travel = np.zeros(len(line), dtype=bool)
    where = np.repeat(begin[::2] - bends.starts[:-1], turn_count) + np.arange(len(bends.points))
    line[where], rank[where], travel[where] = bends.points, bends.rank, bends.travel
    line[np.repeat(begin[1::2] - np.cumsum(count) + count, count) + np.arange(len(field))] = field
    way_in = spaced(np.vstack([spots[:1], approach.way_in, line[:1]]), settings.travel_mm)[:-1]
    way_out = spaced(np.vstack([line[-1:], approach.way_out, spots[1:]]), settings.travel_mm)[1:]
    hidden_in, hidden_out = np.full(len(way_in), TRAVEL), np.full(len(way_out), TRAVEL)
    return (
        np.vstack([way_in, line, way_out]),
        np.concatenate([hidden_in, rank, hidden_out]).astype(np.int8),
        np.concatenate([hidden_in == TRAVEL, travel, hidden_out == TRAVEL]),
    )


def _field(rows: Rows, tips: Array, bends: Turns, pattern: Brick) -> tuple[Ints, Array]:
    """The needle points along all walked rows, in order, and the walked row that each belongs to."""
    left = bends.rows & ~1
    phase = pattern.phase[rows.row[left]]
    near, far = _inner(rows, tips, bends, pattern)
    begin, end = tips[left] + near, tips[left + 1] - far
    low = np.ceil((begin + pattern.merge_mm - phase) / pattern.stitch_mm)
    high = np.floor((end - pattern.merge_mm - phase) / pattern.stitch_mm)
    lone = (high < low) & (end - begin > pattern.lone_mm)
    middle = np.rint((0.5 * (begin + end) - phase) / pattern.stitch_mm)
    low, high = np.where(lone, middle, low), np.where(lone, middle, high)
    count = np.maximum(high - low + 1, 0).astype(np.int64) + (near > 0) + (far > 0)
    in_row = np.repeat(np.arange(len(count)), count)
    local = np.arange(len(in_row)) - np.repeat(np.cumsum(count) - count, count)
    k = np.where((bends.rows % 2 == 1)[in_row], count[in_row] - 1 - local, local)
    place = phase[in_row] + (low - (near > 0))[in_row] * pattern.stitch_mm + k * pattern.stitch_mm
    first, last = (k == 0) & (near > 0)[in_row], (k == count[in_row] - 1) & (far > 0)[in_row]
    place = np.where(first, begin[in_row], np.where(last, end[in_row], place))
    return in_row, np.column_stack([place, rows.v[left][in_row]])


def _inner(rows: Rows, tips: Array, bends: Turns, pattern: Brick) -> tuple[Array, Array]:
    """How far inside its left and right end each walked row has an additional needle point; 0 for none.

    A row that shares its neighbour's turn leaves its place on the way there, which opens a wedge to its other
    neighbour. One more needle point just inside the edge keeps the wedge short; rows too short go without.
    """
    left = bends.rows & ~1
    backwards = bends.rows % 2 == 1
    before, after = bends.fans[:-1, 1], bends.fans[1:, 0]
    fan_left, fan_right = np.where(backwards, after, before), np.where(backwards, before, after)
    wanted = pattern.fan_mm + SCATTER_MM * ((rows.first + rows.row[left]) // 2 % 2)
    width = tips[left + 1] - tips[left]
    fits = width >= wanted + REST_MM
    middle = fan_left & fan_right & (width < 2 * wanted + LEAST_MM)
    wanted = np.where(middle, 0.5 * width, wanted)
    return np.where(fan_left & fits, wanted, 0.0), np.where(fan_right & fits & ~middle, wanted, 0.0)


def cost(
    area: Polygon, angle_deg: float, row_mm: float, stitch_mm: float, settings: TatamiSettings | None = None
) -> float:
    """Stitches that filling ``area`` at ``angle_deg`` takes, in closed form; travel is not in it.

    area / (row × stitch) for the field, two needle points a turn, less what is left out near row ends. V / row
    rows, V being half the summed extent of all edges across the rows.
    """
    settings = settings or TatamiSettings()
    shape = outline(area, angle_deg)
    inner = np.ones(len(shape.points) - 1, dtype=bool)
    inner[shape.first[1:-1] - 1] = False
    rows = 0.5 * float(np.abs(np.diff(shape.points[:, 1]))[inner].sum()) / row_mm
    left_out = (2.0 * settings.merge_mm + settings.fan_mm) / stitch_mm
    return float(area.area) / (row_mm * stitch_mm) + (2.0 - left_out) * rows


def lay_tatami(
    step: Step, settings: TatamiSettings, foundation: FoundationSettings, fabric: Fabric
) -> tuple[Strand, ...]:
    """Foundation where the part asks for it, then its cover, from ``step.start`` to ``step.end`` in one thread."""
    part = step.part
    ground = lay_foundation(step, settings, foundation, fabric)
    start = ground[-1].points[-1] if ground else np.array(step.start)
    stitch = settings.stitch_mm
    if part.width_mm[1] < settings.narrow_mm:
        stitch = min(stitch, settings.narrow_stitch_mm)
    line, travel = fill(
        part.area, part.angle_deg or 0.0, part.row_mm, stitch, fabric.pull_mm, (start[0], start[1]),
        step.end, settings,
    )  # fmt: skip
    if ground:
        return (*ground, *strands_of(line[1:], travel[1:], "cover"))
    return strands_of(line, travel, "cover")
