"""Foundation held against the cover that was sewn before it: what should lie under cover, not on it."""

from __future__ import annotations

import numpy as np

from pipeline.geometry.raster import Grid, paint_segments
from pipeline.measure.coverage import probes
from pipeline.measure.thread_path import LAYERS, path
from pipeline.model import Sewing

PX_PER_MM = 16.2
"""Enough for a few per cent."""


def foundation_on_cover(sewing: Sewing, laid_mm: float) -> tuple[float, float]:
    """Foundation in mm that was sewn onto cover already there (of any part, ``laid_mm`` wide), and all."""
    table = path(sewing)
    bounds = (*table.points.min(axis=0).tolist(), *table.points.max(axis=0).tolist())
    grid = Grid.around(bounds, PX_PER_MM, laid_mm)
    order = np.arange(len(table.points), dtype=np.int32)
    cover, base = (table.sewn & (table.layer == LAYERS.index(layer)) for layer in ("cover", "foundation"))
    first = grid.full(np.iinfo(np.int32).max, np.int32)
    # The last painted wins, so painting backwards leaves the first cover of each cell.
    paint_segments(grid, table.segments[cover][::-1], laid_mm, order[cover][::-1], first)
    tried = probes(table.segments[base], 0.25)
    columns, rows = np.floor(grid.cells(tried.places)).astype(np.intp).T
    late = first[rows, columns] < order[base][tried.owner]
    return float(tried.pieces[late].sum()), float(tried.pieces.sum())
