"""Needle points along a line: spacing, shortest stitches, and strands."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.scanline import Array
from pipeline.model import Layer, Strand, points
from pipeline.stitch.rows import Flags

Ranks = NDArray[np.int8]
TRAVEL, FIELD, TURN, EDGE = 0, 1, 2, 3
"""Ranks of needle points: on hidden ways, along rows, on the outline between rows, on ways along the outline."""

GRID_MM = 0.1
"""The machine's grid. The plan's centre lies on it, so it is the same grid in the artwork's coordinates."""
TIE_MM = 1e-6


def spaced(line: Array, stitch_mm: float) -> Array:
    """``line`` with further points, so that no step is longer than ``stitch_mm``; its own points are kept."""
    steps = np.hypot(*np.diff(line, axis=0).T)
    parts = np.maximum(np.ceil(steps / stitch_mm - 1e-9), 1).astype(np.int64)
    index = np.repeat(np.arange(len(parts)), parts)
    share = (np.arange(len(index)) - np.repeat(np.cumsum(parts) - parts, parts)) / parts[index]
    inner = line[index] + share[:, None] * (line[index + 1] - line[index])
    return np.vstack([inner, line[-1:]])


def on_grid(line: Array, slides: Flags, angle_deg: float) -> Array:
    """``line`` on the machine's grid; points that may slide along rows at ``angle_deg`` keep true to their row.

    Rounding throws a point up to 0.07 mm off its row, a third of the rows' distance. A point in the field may as
    well lie 0.2 mm farther along, and among five places one is nearly on the row.
    """
    # the shift settles ties the same way on all rows, whatever the last bits of their heights
    snapped = np.rint((line + TIE_MM) / GRID_MM) * GRID_MM
    along = np.array([np.cos(np.deg2rad(angle_deg)), -np.sin(np.deg2rad(angle_deg))])
    major = int(abs(along[1]) > abs(along[0]))
    slope = along[1 - major] / along[major]
    if abs(slope) < 1e-3:
        return snapped
    free = line[slides]
    middle = np.rint(free[:, major] / GRID_MM)
    least = np.full(len(free), np.inf)
    best = np.empty((2, len(free)))
    for step in (0.0, 1.0, -1.0, 2.0, -2.0):
        cell = middle + step
        other = (free[:, 1 - major] + slope * (cell * GRID_MM - free[:, major])) / GRID_MM
        near = np.rint(other)
        miss = np.abs(other - near)
        better = miss < least
        least[better] = miss[better]
        best[0, better], best[1, better] = cell[better], near[better]
    placed = np.empty_like(free)
    placed[:, major], placed[:, 1 - major] = best * GRID_MM
    snapped[slides] = placed
    return snapped


def without_short(line: Array, rank: Ranks, least_mm: float, longest_mm: float) -> Flags:
    """Which points stay so that no stitch is shorter than ``least_mm``; both ends do.

    Of two points too close the one of higher rank stays, else the earlier. The loop runs over short stitches
    only, which are rare outside slivers.
    """
    keep = np.ones(len(line), dtype=bool)
    near = np.hypot(*np.diff(line, axis=0).T) < least_mm - 1e-9
    if not near.any():
        return keep
    last = len(line) - 1

    def apart(a: int, b: int) -> float:
        return float(np.hypot(line[a, 0] - line[b, 0], line[a, 1] - line[b, 1]))

    done = 0
    for first in np.flatnonzero(near).tolist():
        if first < done:
            continue
        kept, at = first, first + 1
        while at <= last and apart(kept, at) < least_mm - 1e-9:
            if (rank[at] > rank[kept] or at == last) and kept > 0:
                before = kept - 1
                while not keep[before]:
                    before -= 1
                if apart(before, at) <= longest_mm or at == last:
                    keep[kept] = False
                    kept = before
                    if apart(kept, at) >= least_mm - 1e-9:
                        kept, at = at, at + 1
                    continue
            if at == last:
                break
            keep[at] = False
            at += 1
        done = at
    return keep


def strands_of(line: Array, travel: Flags, layer: Layer) -> tuple[Strand, ...]:
    """Points as strands of ``layer`` and of travel; each point belongs to the layer of the stitch that leads to it."""
    if not len(line):
        return ()
    cuts = np.flatnonzero(np.diff(travel.astype(np.int8))) + 1
    pieces = np.split(line, cuts)
    kinds = travel[np.concatenate([[0], cuts])]
    return tuple(
        Strand("travel" if kind else layer, points(piece)) for piece, kind in zip(pieces, kinds, strict=True)
    )
