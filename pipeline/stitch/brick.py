"""Needle points along the rows of a tatami: where the pattern puts them, all rows at once, on the machine's grid.

Everything that depends on the row only is worked out per row, rotation included; per needle point there remain a
few passes over flat arrays.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from pipeline.craft import Craft
from pipeline.geometry.scanline import Array, Ints
from pipeline.stitch.rows import Rows
from pipeline.stitch.settings import TatamiSettings
from pipeline.stitch.spacing import Slide
from pipeline.stitch.turns import Turns

GRID_MARGIN_MM = 0.55
"""Rounding, sliding along the row, and leaving out a short stitch may lengthen a stitch by this much."""
SCATTER_MM = 0.25
"""Every other row that fans does so this much farther inside, so that these needle points make no line."""
REST_MM = 1.4
"""A row that would have less than this left between its additional needle point and its other end gets none."""
LONE = 1.5
"""A row longer than this many stitches has at least one needle point of the pattern."""


@dataclass(frozen=True, eq=False)
class Brick:
    """Where needle points may fall on each row: at ``phase[row] + k * stitch_mm``."""

    phase: Array
    stitch_mm: float
    merge_mm: float
    fan_mm: float
    lone_mm: float
    least_mm: float


def brick(rows: Rows, row_mm: float, stitch_mm: float, settings: TatamiSettings, craft: Craft) -> Brick:
    """The pattern, anchored to the design's own coordinates through the rows' numbers."""
    longest = craft.longest_mm - GRID_MARGIN_MM
    merge = min(settings.merge_mm, 0.25 * longest)
    stitch = min(stitch_mm, longest - merge)
    numbers = rows.first + np.arange(len(rows.heights))
    phase = np.mod(numbers * brick_offset(row_mm, stitch), 1.0) * stitch
    lone = max(stitch + merge, min(LONE * stitch, longest))
    return Brick(phase, stitch, merge, settings.fan_mm, lone, craft.surely_mm)


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


@dataclass(frozen=True, eq=False)
class Places:
    """The needle points of every walked row in the order they are sewn: ``count`` (rows,) of them, the first at
    ``start`` along the row and each next one ``step`` farther (negative where the row is sewn to the left); but
    the one numbered ``first_at`` lies at ``begin`` and that numbered ``last_at`` at ``end`` (-1 for none)."""

    count: Ints
    start: Array
    step: Array
    first_at: Ints
    begin: Array
    last_at: Ints
    end: Array


def places(rows: Rows, tips: Array, bends: Turns, pattern: Brick) -> Places:
    """Where along each walked row its needle points lie."""
    left = bends.rows & ~1
    backwards = bends.rows % 2 == 1
    phase = pattern.phase[rows.row[left]]
    near, far = _inner(rows, tips, bends, pattern)
    begin, end = tips[left] + near, tips[left + 1] - far
    low = np.ceil((begin + pattern.merge_mm - phase) / pattern.stitch_mm)
    high = np.floor((end - pattern.merge_mm - phase) / pattern.stitch_mm)
    lone = (high < low) & (end - begin > pattern.lone_mm)
    middle = np.rint((0.5 * (begin + end) - phase) / pattern.stitch_mm)
    low, high = np.where(lone, middle, low), np.where(lone, middle, high)
    count = np.maximum(high - low + 1, 0).astype(np.int64) + (near > 0) + (far > 0)
    start = phase + (low - (near > 0) + np.where(backwards, count - 1, 0)) * pattern.stitch_mm
    step = np.where(backwards, -pattern.stitch_mm, pattern.stitch_mm)
    first_at = np.where(near > 0, np.where(backwards, count - 1, 0), -1)
    last_at = np.where(far > 0, np.where(backwards, 0, count - 1), -1)
    return Places(count, start, step, first_at, begin, last_at, end)


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
    middle = fan_left & fan_right & (width < 2 * wanted + pattern.least_mm)
    wanted = np.where(middle, 0.5 * width, wanted)
    return np.where(fan_left & fits, wanted, 0.0), np.where(fan_right & fits & ~middle, wanted, 0.0)


def laid(found: Places, height: Array, room: Ints, slide: Slide) -> Array:
    """The needle points on the machine's grid, ``(room.sum(), 2)``; ``height`` is where each row lies.

    Every row's points come first in its ``room``; what is left of it is for the caller to fill.
    """
    begin = np.cumsum(room) - room
    along = np.arange(room.sum(), dtype=np.float64)
    along -= np.repeat(begin.astype(np.float64), room)
    along *= np.repeat(found.step * slide.pace, room)
    along += np.repeat(slide.place(found.start, height), room)
    for at, place in ((found.first_at, found.begin), (found.last_at, found.end)):
        own = np.flatnonzero(at >= 0)
        along[begin[own] + at[own]] = slide.place(place[own], height[own])
    return slide.on_grid(along, np.repeat(slide.aside(height), room))
