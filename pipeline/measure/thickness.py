"""How much thread lies at one place, and how often the needle went in there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pipeline.craft import GRID_MM
from pipeline.measure.coverage import Probes
from pipeline.measure.nearness import patches
from pipeline.measure.settings import MeasureSettings
from pipeline.measure.thread_path import Path
from pipeline.model import Points, Spot

Array = NDArray[np.float64]
Cells = NDArray[np.int32]

WINDOW_CELLS = 4
"""Cells along a side of the thickness window: pieces of stitches are weighed by cells of this size."""

MOST_PATCHES = 6
"""The largest places over a limit that are told one by one."""


@dataclass(frozen=True)
class Over:
    """A place over the limit: its area in mm², the largest value in the map, and where that is."""

    area_mm2: float
    value: float
    at: Spot


@dataclass(frozen=True, eq=False)
class Map:
    """Values in windows that slide by one cell: ``values[row, column]`` is that of the window whose middle lies
    at ``x0 + column · cell_mm``, ``y0 + row · cell_mm``; ``side`` is that of the window in cells.
    """

    values: NDArray[np.float32]
    x0: float
    y0: float
    cell_mm: float
    side: int

    @property
    def peak(self) -> float:
        """The largest value; 0 for an empty map."""
        return float(self.values.max(initial=0.0))

    def area_over(self, limit: float) -> float:
        """The area of places whose window holds more than ``limit``, mm²."""
        return float(np.count_nonzero(self.values > limit)) * self.cell_mm**2

    def over(self, limit: float, most: int = MOST_PATCHES) -> tuple[Over, ...]:
        """The largest patches of places over ``limit``, largest first; one where windows share cells."""
        found = []
        for patch in patches(self.values > limit, most, join=self.side / 2.0):
            values = self.values[patch.rows, patch.columns]
            best = int(np.argmax(values))
            column, row = int(patch.columns[best]), int(patch.rows[best])
            at = (self.x0 + column * self.cell_mm, self.y0 + row * self.cell_mm)
            found.append(Over(patch.cells * self.cell_mm**2, float(values[best]), at))
        return tuple(found)


def layers(tried: Probes, layer_mm_per_mm2: float, settings: MeasureSettings) -> Map:
    """Thread at every place, in full layers: mm of thread a mm² in a square window, by that of one layer.

    ``tried`` are the probes of the stretches that lie, ``layer_mm_per_mm2`` the thread in one full layer.
    """
    cell = settings.thickness_window_mm / WINDOW_CELLS
    origin = (tried.places.min(axis=0) if len(tried.places) else np.zeros(2)) - cell / 2.0
    cells, weights = _spread((tried.places - origin) / cell - 0.5, tried.pieces)
    weights /= settings.thickness_window_mm**2 * layer_mm_per_mm2
    return _sliding(cells, weights, WINDOW_CELLS, origin, cell)


def penetrations(table: Path) -> Map:
    """Needle penetrations in every square of 1 mm (half-open, on the machine's grid)."""
    origin = table.points[0] if len(table.points) else np.zeros(2)
    cells = np.rint((table.points - origin) / GRID_MM).astype(np.int32)
    least = cells.min(axis=0) if len(cells) else np.zeros(2, dtype=np.int32)
    start = origin + (least - 0.5) * GRID_MM
    return _sliding(cells - least, None, round(1.0 / GRID_MM), start, GRID_MM)


def _spread(places: Points, weights: Array) -> tuple[Cells, Array]:
    """Each weight shared among the four cells around its place (in cells, 0 at a centre) by bilinear weights.

    Without that, a window would hold seven rows or eight by chance.
    """
    low = np.floor(places).astype(np.int32)
    right, below = (places - low).T
    cells = np.concatenate([low + np.array(corner, np.int32) for corner in ((0, 0), (1, 0), (0, 1), (1, 1))])
    here, there = weights * (1.0 - below), weights * below
    shares = (here * (1.0 - right), here * right, there * (1.0 - right), there * right)
    return np.maximum(cells, 0, out=cells), np.concatenate(shares)


def _sliding(cells: Cells, weights: Array | None, side: int, origin: Array, cell_mm: float) -> Map:
    """The sums of all windows of ``side`` × ``side`` cells that hold anything; counts without ``weights``."""
    if len(cells) == 0:
        return Map(np.zeros((0, 0), dtype=np.float32), 0.0, 0.0, cell_mm, side)
    # An empty rim of one window on all sides: windows that hold only the outermost cells count too.
    width, height = (cells.max(axis=0) + 1 + 2 * side).tolist()
    places = (cells[:, 1] + side) * width + cells[:, 0] + side
    # A count is exact in half the memory. What is summed is overwritten: of large designs maps are the largest.
    sums: NDArray[Any] = np.bincount(places, weights, width * height).astype(
        np.float64 if weights is not None else np.float32
    )
    sums = sums.reshape(height, width)
    for axis in (0, 1):
        sums = np.cumsum(sums, axis=axis, out=sums)
        sums = sums[side:] - sums[:-side] if axis == 0 else sums[:, side:] - sums[:, :-side]
    # The window at [row, column] begins one cell after row and column of the padded grid.
    middle = (1.0 + side / 2.0 - side) * cell_mm
    return Map(sums.astype(np.float32), float(origin[0]) + middle, float(origin[1]) + middle, cell_mm, side)
