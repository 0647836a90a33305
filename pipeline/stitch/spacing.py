"""Needle points along a line: spacing, shortest stitches, and strands."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon

from pipeline.geometry.scanline import Array
from pipeline.model import Layer, Strand, points
from pipeline.stitch.rows import Flags

Ranks = NDArray[np.int8]
TRAVEL, FIELD, TURN, EDGE = 0, 1, 2, 3
"""Ranks of needle points: on hidden ways, along rows, on the outline between rows, on ways along the outline."""

GRID_MM = 0.1
"""The machine's grid. The plan's centre lies on it, so it is the same grid in the artwork's coordinates."""
TIE_MM = 1e-6
SHORT_MM = 0.3
"""The least stitch of all, taken only where leaving it out would lead the thread across a corner."""


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
    place, beside = line[slides, major], line[slides, 1 - major]
    cell = np.rint(place / GRID_MM)
    other = beside / GRID_MM + slope * (cell - place / GRID_MM)
    off = other - np.rint(other)
    least, step = np.abs(off), np.zeros(len(off))
    for shift in (1.0, -1.0, 2.0, -2.0):
        miss = off + slope * shift
        miss -= np.rint(miss)
        np.abs(miss, out=miss)
        better = miss < least - TIE_MM
        np.copyto(least, miss, where=better)
        np.copyto(step, shift, where=better)
    snapped[slides, major] = (cell + step) * GRID_MM
    snapped[slides, 1 - major] = np.rint(other + slope * step) * GRID_MM
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


def with_corners(line: Array, keep: Flags, area: Polygon, spill_mm: float, least_mm: float) -> Flags:
    """``keep`` again, with points restored where the line without them leaves ``area`` by over ``spill_mm``.

    The neighbour of a restored point goes instead if it can; else a stitch stays shorter than ``least_mm``, yet at
    least ``SHORT_MM``. The loop runs over such corners only.
    """
    kept, lost = np.flatnonzero(keep), np.flatnonzero(~keep)
    if not len(lost):
        return keep
    after = np.searchsorted(kept, lost)
    a, b = kept[after - 1], kept[after]
    aside = _aside(line[lost], line[a], line[b])
    order = np.lexsort((-aside, a))
    far = order[np.unique(a[order], return_index=True)[1]]
    far = far[aside[far] > spill_mm]
    if not len(far):
        return keep
    wide = area.buffer(spill_mm)
    shapely.prepare(wide)
    chords = shapely.linestrings(np.stack([line[a[far]], line[b[far]]], axis=1))
    keep = keep.copy()
    for i in far[~shapely.covers(wide, chords)].tolist():
        _restore(line, keep, int(lost[i]), wide, least_mm)
    return keep


def _restore(line: Array, keep: Flags, corner: int, wide: Polygon | MultiPolygon, least_mm: float) -> None:
    """Keep ``corner``; ``keep`` is changed in place."""
    kept = np.flatnonzero(keep)
    place = int(np.searchsorted(kept, corner))
    keep[corner] = True
    for near, beyond in ((place - 1, place - 2), (place, place + 1)):
        gap = float(np.hypot(*(line[kept[near]] - line[corner])))
        if gap >= least_mm - 1e-9:
            continue
        if 0 <= beyond < len(kept) and wide.covers(shapely.LineString(line[[kept[beyond], corner]])):
            keep[kept[near]] = False
        elif gap < SHORT_MM:
            keep[corner] = False


def _aside(spots: Array, a: Array, b: Array) -> Array:
    """The distance of each spot from the straight line between ``a`` and ``b``."""
    along = b - a
    share = np.clip(((spots - a) * along).sum(axis=1) / np.maximum((along**2).sum(axis=1), 1e-12), 0.0, 1.0)
    distance: Array = np.hypot(*(spots - a - share[:, None] * along).T)
    return distance


def strands_of(line: Array, travel: Flags, layer: Layer) -> tuple[Strand, ...]:
    """Points as strands of ``layer`` and of travel; a point belongs to the layer of the stitch that leads to it."""
    if not len(line):
        return ()
    cuts = np.flatnonzero(np.diff(travel.astype(np.int8))) + 1
    pieces = np.split(line, cuts)
    kinds = travel[np.concatenate([[0], cuts])]
    return tuple(
        Strand("travel" if kind else layer, points(piece)) for piece, kind in zip(pieces, kinds, strict=True)
    )
