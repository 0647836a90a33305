"""Needle points along a line: spacing, shortest stitches, and strands."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon

from pipeline.craft import GRID_MM
from pipeline.geometry import overlay
from pipeline.geometry.polyline import aside
from pipeline.geometry.scanline import Array, Ints
from pipeline.model import Layer, Strand, points
from pipeline.stitch.rows import Flags

Ranks = NDArray[np.int8]
TRAVEL, FIELD, TURN, EDGE = 0, 1, 2, 3
"""Ranks of needle points: on hidden ways, along rows, on the outline between rows, on ways along the outline."""

TIE_MM = 1e-6
LEVEL = 1e-3
"""Rows that lean less than this against the grid stay on their row wherever a point is put along it."""
ROUNDS = 3
"""How often corners are looked for: a corner that comes back may leave another beside it. Two rounds settle all
drawings tried; what is left after the last shows as thread outside."""
_CELLS = [(x, y) for x in range(-3, 4) for y in range(-3, 4) if x * x + y * y <= 9]
MOVES = np.array(sorted(_CELLS, key=lambda move: (move[0] ** 2 + move[1] ** 2, move))) * GRID_MM
"""Where else a needle point may go to make a stitch long enough: up to 0.3 mm, the nearest first."""
NEARLY = 0.75
"""Points left out are looked at from this share of the allowed spill on."""


def on_grid(line: Array) -> Array:
    """``line`` on the machine's grid. The shift settles ties the same way, whatever a number's last bits."""
    return np.asarray(np.rint((line + TIE_MM) / GRID_MM) * GRID_MM)


@dataclass(frozen=True, eq=False)
class Slide:
    """How needle points of rows at one angle come onto the machine's grid and keep true to their row.

    Rounding throws a point up to 0.07 mm off its row, a third of the rows' distance. A point in the field may as
    well lie 0.2 mm farther along, and among five places one is nearly on the row. Which one depends on nothing
    but how far the row passes from the grid there, so it is looked up (``steps``).

    In grid units: a place ``u`` along a row at height ``v`` has the coordinate ``place(u, v)`` on the axis that
    rows at this angle follow more (``major``), and ``aside(v) + slope * place`` on the other one.
    """

    major: int
    pace: float
    across: tuple[float, float]
    slope: float
    steps: Array

    @staticmethod
    def at(angle_deg: float) -> Slide:
        """For rows at ``angle_deg``."""
        cos, sin = float(np.cos(np.deg2rad(angle_deg))), float(np.sin(np.deg2rad(angle_deg)))
        along, across = (cos, -sin), (sin / GRID_MM, cos / GRID_MM)
        major = int(abs(along[1]) > abs(along[0]))
        slope = along[1 - major] / along[major]
        return Slide(major, along[major] / GRID_MM, across, slope, _steps(slope))

    def place(self, u: Array, v: Array) -> Array:
        """The major coordinate, in grid units, of places ``u`` on rows at heights ``v``."""
        return np.asarray(u * self.pace + v * self.across[self.major])

    def aside(self, v: Array) -> Array:
        """The other coordinate, in grid units, of rows at heights ``v`` where the major one is 0."""
        return np.asarray(v * (self.across[1 - self.major] - self.slope * self.across[self.major]))

    def on_grid(self, place: Array, aside: Array) -> Array:
        """Needle points ``(n, 2)`` in mm for ``place`` (n,) on rows that lie ``aside`` (n,); both are used up."""
        points = np.empty((len(place), 2))
        if abs(self.slope) < LEVEL:
            aside += self.slope * place
            place += TIE_MM / GRID_MM
            np.rint(place, out=place)
        else:
            np.rint(place, out=place)
            off = aside + self.slope * place
            off -= np.rint(off)
            off += 0.5
            off *= len(self.steps) - 1
            place += self.steps.take(off.astype(np.intp))
            aside += self.slope * place
        np.multiply(place, GRID_MM, out=points[:, self.major])
        aside += TIE_MM / GRID_MM
        np.rint(aside, out=aside)
        np.multiply(aside, GRID_MM, out=points[:, 1 - self.major])
        return points


@lru_cache(maxsize=256)
def _steps(slope: float) -> Array:
    """How many units to go on along a row that passes ``k / 1024 - 0.5`` units off the grid, ``(1025,)``."""
    off = (np.arange(1025) + 0.5) / 1024 - 0.5
    least, steps = np.abs(off), np.zeros(len(off))
    for step in (1.0, -1.0, 2.0, -2.0):
        miss = off + slope * step
        miss = np.abs(miss - np.rint(miss))
        better = miss < least - TIE_MM
        least[better], steps[better] = miss[better], step
    steps.setflags(write=False)
    return steps


def without_short(line: Array, rank: Ranks, least_mm: float, longest_mm: float) -> Flags:
    """Which points stay so that no stitch is shorter than ``least_mm``; both ends do.

    Of two points too close the one of higher rank stays, else the earlier. The loop runs over short stitches
    only, which are rare outside slivers; in each of its rounds a point goes.
    """
    keep = np.ones(len(line), dtype=bool)
    near = _short(line, least_mm)
    last = len(line) - 1

    def apart(a: int, b: int) -> float:
        return float(np.hypot(line[a, 0] - line[b, 0], line[a, 1] - line[b, 1]))

    done = 0
    for first in near.tolist():
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


def uneven(line: Array, least_mm: float, most_mm: float) -> tuple[bool, bool]:
    """Whether any stitch is shorter than ``least_mm``, and whether any is longer than ``most_mm``."""
    step = line[1:] - line[:-1]
    squares = np.einsum("ij,ij->i", step, step)
    return bool(squares.min() < (least_mm - 1e-9) ** 2), bool(squares.max() > most_mm**2)


def halved(line: Array, kind: Ranks, longest_mm: float) -> tuple[Array, Ranks]:
    """``line`` and ``kind`` with a needle point in the middle of every stitch longer than ``longest_mm``.

    Few are: where a long stitch of the pattern meets a slanting edge and both of its points slid apart.
    """
    step = line[1:] - line[:-1]
    far = np.flatnonzero(np.einsum("ij,ij->i", step, step) > (longest_mm + 1e-9) ** 2) + 1
    if not len(far):
        return line, kind
    return np.insert(line, far, on_grid(0.5 * (line[far - 1] + line[far])), axis=0), np.insert(kind, far, kind[far])


def _short(line: Array, least_mm: float) -> Ints:
    """The numbers of the stitches shorter than ``least_mm``."""
    step = line[1:] - line[:-1]
    return np.flatnonzero(np.einsum("ij,ij->i", step, step) < (least_mm - 1e-9) ** 2)


def with_corners(line: Array, keep: Flags, area: Polygon, spill_mm: float, least_mm: float) -> Flags:
    """``keep`` again, with points restored where the line without them leaves ``area`` by over ``spill_mm``.

    The neighbour of a restored point goes instead if it can; else a stitch stays shorter than ``least_mm``. The
    loop runs over such corners only.
    """
    wide: Polygon | MultiPolygon | None = None
    for _ in range(ROUNDS):
        kept, lost = np.flatnonzero(keep), np.flatnonzero(~keep)
        after = np.searchsorted(kept, lost)
        a, b = kept[after - 1], kept[after]
        off = aside(line[lost], line[a], line[b])
        order = np.lexsort((-off, a))
        far = order[np.unique(a[order], return_index=True)[1]]
        far = far[off[far] > NEARLY * spill_mm]
        if not len(far):
            return keep
        if wide is None:
            wide = overlay.buffer(area, spill_mm)
            shapely.prepare(wide)
        chords = shapely.linestrings(np.stack([line[a[far]], line[b[far]]], axis=1))
        corners = lost[far[~shapely.covers(wide, chords)]]
        if not len(corners):
            return keep
        keep = keep.copy()
        for corner in corners.tolist():
            _restore(line, keep, corner, wide, least_mm)
    return keep


def _restore(line: Array, keep: Flags, corner: int, wide: Polygon | MultiPolygon, least_mm: float) -> None:
    """Keep ``corner``; ``keep`` is changed in place."""
    kept = np.flatnonzero(keep)
    place = int(np.searchsorted(kept, corner))
    keep[corner] = True
    for near, beyond in ((place - 1, place - 2), (place, place + 1)):
        if np.hypot(*(line[kept[near]] - line[corner])) >= least_mm - 1e-9:
            continue
        if 0 <= beyond < len(kept) and wide.covers(shapely.LineString(line[[kept[beyond], corner]])):
            keep[kept[near]] = False


def stretched(line: Array, area: Polygon, spill_mm: float, least_mm: float, longest_mm: float) -> Array:
    """``line`` with needle points moved a little where a stitch is still shorter than ``least_mm``.

    Such stitches are left at the tips of spurs, where every point is needed. One of their two points moves, else
    both, by no more than need be, and so that no stitch goes farther beyond ``area`` than ``spill_mm`` if it did
    not before. The two ends of the line stay.
    """
    short = _short(line, least_mm)
    if not len(short):
        return line
    line = line.copy()
    wide = overlay.buffer(area, spill_mm)
    shapely.prepare(wide)
    for i in short.tolist():
        for group in ([i], [i + 1], [i, i + 1]):
            if group[0] > 0 and group[-1] < len(line) - 1 and _moved(line, group, wide, least_mm, longest_mm):
                break
    return line


def _moved(line: Array, group: list[int], wide: Polygon | MultiPolygon, least_mm: float, longest_mm: float) -> bool:
    """Whether moving the points of ``group`` mends their stitches; if so ``line`` is changed in place."""
    first, last = group[0] - 1, group[-1] + 1
    piece = line[first : last + 1]
    ways = MOVES[:, None, :] if len(group) == 1 else np.array([[a, b] for a in MOVES for b in MOVES])
    ways = ways[np.argsort((ways**2).sum(axis=(1, 2)), kind="stable")]
    tried = np.repeat(piece[None], len(ways), axis=0)
    tried[:, 1:-1] += ways
    lengths = np.hypot(*np.moveaxis(np.diff(tried, axis=1), 2, 0))
    fits = ((lengths >= least_mm - 1e-9) & (lengths <= longest_mm + 1e-9)).all(axis=1)
    inside = shapely.covers(wide, shapely.linestrings(np.stack([piece[:-1], piece[1:]], axis=1)))
    for way in np.flatnonzero(fits).tolist():
        chords = shapely.linestrings(np.stack([tried[way, :-1], tried[way, 1:]], axis=1))
        if (shapely.covers(wide, chords) | ~inside).all():
            line[first : last + 1] = tried[way]
            return True
    return False


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
