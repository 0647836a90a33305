"""Where a unit may be entered and left, and what each pair of places costs inside it."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from pipeline.geometry.polyline import at, length, ring
from pipeline.geometry.scanline import turned
from pipeline.model import Part, Points
from pipeline.steps.units import Unit

Floats = NDArray[np.float64]

MOST = 6
"""Places offered a unit: orders are sought over all pairs, so the time grows with the square of it."""

ON_EDGE_MM = 0.01

EDGE_ROWS = 1.5
"""Corners this many rows from a tatami's first or last row still count as its ends."""


@dataclass(frozen=True, eq=False)
class Gates:
    """``enter`` ``(a, 2)``, ``leave`` ``(b, 2)`` and ``extra`` ``(a, b)``: mm of stitches that the pair takes more
    than the best. ``part`` ``(a,)`` is the part of the unit that is sewn first. A unit that is ``turnable`` can
    be walked backwards: its ``enter`` and ``leave`` are the same places and ``extra`` is symmetric."""

    enter: Points
    part: NDArray[np.int64]
    leave: Points
    extra: Floats
    turnable: bool


def gates(unit: Unit, beside: Points) -> Gates:
    """The places of a unit: of its leaves to enter, of its root to leave.

    ``beside`` ``(k, 2)`` are places on its edge that lie close to others; tatami is entered and left there too.
    """
    root = unit.parts[unit.root]
    if root.kind == "tatami":
        own = shapely.dwithin(shapely.points(beside), root.area, ON_EDGE_MM) if len(beside) else []
        leave, extra = _of_rows(root, beside[own])
    else:
        leave, extra = _places(root)
    if len(unit.parts) == 1:
        return Gates(leave, np.zeros(len(leave), dtype=np.int64), leave, extra, True)
    leaves = [index for index in range(len(unit.parts)) if index not in unit.parent]
    places = [_leaf_places(unit.parts[index], np.array(unit.joint[index])) for index in leaves]
    enter = np.vstack([spots for spots, _ in places])
    cost = np.concatenate([own for _, own in places])
    owner = np.repeat(leaves, [len(spots) for spots, _ in places])
    kept = _spread(enter, MOST)
    whole = cost[kept][:, None] + np.zeros(len(leave))[None, :]
    return Gates(enter[kept], owner[kept].astype(np.int64), leave, whole, False)


def _leaf_places(part: Part, joint: Points) -> tuple[Points, Floats]:
    """Where a part may be entered that is left at ``joint``."""
    spots, extra = _places(part)
    out = int(np.argmin(np.hypot(*(spots - joint).T)))
    return spots, extra[:, out]


def _places(part: Part) -> tuple[Points, Floats]:
    """The places at which a part is entered or left, and what going in at one and out at another costs."""
    if part.lines:
        return _of_lines(part)
    if part.column is None:
        return _of_rows(part, np.zeros((0, 2)))
    middle = (part.column.left + part.column.right) / 2.0
    if part.column.closed:
        return _of_ring(middle)
    twice = length(middle)
    return middle[[0, -1]], np.array([[twice, 0.0], [0.0, twice]])


def _of_ring(line: Points) -> tuple[Points, Floats]:
    """Any place of a ring will do, and the thread leaves where it came in; others are reached beneath it."""
    closed = ring(line)
    whole = length(closed)
    count = MOST if whole > 3.0 else 2
    spots = at(closed, np.arange(count) * whole / count)
    step = np.abs(np.subtract.outer(np.arange(count), np.arange(count)))
    return spots, np.minimum(step, count - step) * whole / count


def _of_lines(part: Part) -> tuple[Points, Floats]:
    """Loose ends and odd junctions, where a walk begins and ends without sewing anything twice."""
    if len(part.lines) == 1 and part.lines[0].closed:
        return _of_ring(part.lines[0].points)
    tips = [tuple(spot) for line in part.lines if not line.closed for spot in line.points[[0, -1]].tolist()]
    odd = np.array(sorted(spot for spot, count in Counter(tips).items() if count % 2), dtype=np.float64)
    if not len(odd):
        line = max((line.points for line in part.lines), key=length)
        spots = at(line, np.linspace(0.0, length(line), MOST))
        return spots, np.hypot(*(spots[:, None] - spots[None]).transpose(2, 0, 1))
    whole = sum(length(ring(line.points) if line.closed else line.points) for line in part.lines)
    spots = odd[_spread(odd, MOST)]
    extra = np.zeros((len(spots), len(spots)))
    np.fill_diagonal(extra, whole / max(1.0, len(odd) / 2.0))
    return spots, extra


def _of_rows(part: Part, beside: Points) -> tuple[Points, Floats]:
    """The ends of the first and last rows, the outermost places along the rows, and those ``beside`` others.

    Rows run from one side to the other, so coming in and going out on the same side takes a way across beneath.
    """
    outline = shapely.get_coordinates(Polygon(part.area).exterior)[:-1]
    along, across = turned(outline, part.angle_deg or 0.0).T
    low, high = float(across.min()), float(across.max())
    chosen = []
    for edge in (np.flatnonzero(across <= low + EDGE_ROWS * part.row_mm),
                 np.flatnonzero(across >= high - EDGE_ROWS * part.row_mm)):  # fmt: skip
        chosen += [int(edge[np.argmin(along[edge])]), int(edge[np.argmax(along[edge])])]
    chosen += [int(np.argmin(along)), int(np.argmax(along))]
    index = np.array(sorted(set(chosen)), dtype=np.int64)
    spots = np.vstack([outline[index], beside])
    place = (turned(spots, part.angle_deg or 0.0)[:, 1] - low) / max(high - low, 1e-9)
    # From one side to the other is free; what is missing of that way is sewn as travel.
    extra = (high - low) * (1.0 - np.abs(place[:, None] - place[None, :]))
    return spots, extra


def _spread(spots: Points, most: int) -> NDArray[np.int64]:
    """Indices of at most ``most`` spots that lie far from each other, in their order."""
    if len(spots) <= most:
        return np.arange(len(spots))
    chosen = [int(np.lexsort((spots[:, 1], spots[:, 0]))[0])]
    away = np.hypot(*(spots - spots[chosen[0]]).T)
    while len(chosen) < most:
        chosen.append(int(np.argmax(away)))
        away = np.minimum(away, np.hypot(*(spots - spots[chosen[-1]]).T))
    return np.array(sorted(chosen), dtype=np.int64)
