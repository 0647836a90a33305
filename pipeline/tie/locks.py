"""Lock stitches: a few small ones over the first or last stitches of a block, so inside its cover."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely.geometry import Polygon

from pipeline.craft import Craft
from pipeline.geometry import overlay
from pipeline.geometry.polyline import at, length
from pipeline.model import Points

NEAREST = np.array([1.0, 0.15, 1.15])
"""Where the needle goes in, in lock lengths from the thread's end: no hole is hit twice, none far apart."""

SPREAD = np.array(
    [NEAREST, [1.0, 2.0, 0.9], [1.3, 2.6, 1.5], [1.2, 2.3, 3.4], [2.0, 3.2, 2.1], [2.8, 4.0, 2.9], [3.6, 4.8, 3.7]]
)
"""Where the needle has been often already, a lock goes so far along the middle of the stitching instead."""

CROWD_MM = 0.6
"""Needle points this near to one of a lock crowd it."""

FREE = 10
"""Up to so many of them, the lock's own among them, are no crowd: a denser place cuts fabric."""

HOLE_MM = 0.15
"""Needle points of locks this near to each other may come to be one hole on the machine's grid."""

WORN = 2
"""So many locks may share a hole: more cut fabric there."""

ASIDE = np.array([[x, y] for reach in (0.2, 0.4) for x in (0.0, reach, -reach) for y in (0.0, reach, -reach)])
"""Where every hole at hand is worn, as where many threads begin on a short path, a lock lies beside it (mm)."""

LOOK = 40
"""Needle points from the end within which a place for the lock is looked for: a few mm of any stitching."""
ROOM = np.array([-1.0, -1.0, 1.0, 1.0])
GRAZE_MM = 0.12
"""How far a lock may pass the edge of the face: cover is sewn at least so far past it to allow for pull."""


class Crowd:
    """The needle points of a sewing, to ask how many lie about a place; locks are added as they are laid."""

    def __init__(self, paths: list[Points]) -> None:
        """``paths`` are those of all blocks."""
        self.tree = cKDTree(np.vstack(paths))
        self.locks: dict[tuple[int, int], list[Points]] = {}  # by cells of CROWD_MM, so that few are asked

    def add(self, lock: Points) -> None:
        """Remember the needle points of a lock, ``(n, 2)``."""
        for cell, spot in zip(_cells(lock), lock, strict=True):
            self.locks.setdefault(cell, []).append(spot)

    def about(self, spots: Points) -> NDArray[np.intp]:
        """The needle points within ``CROWD_MM`` of each of ``spots``, ``(..., 2)`` to ``(...)``."""
        count = self.tree.query_ball_point(spots, CROWD_MM, return_length=True)
        return np.asarray(count + self.locked(spots, CROWD_MM))

    def locked(self, spots: Points, near_mm: float) -> NDArray[np.intp]:
        """The needle points of locks within ``near_mm``, up to ``CROWD_MM``, of each of ``spots``."""
        ends = spots.reshape(-1, 2)
        (left, top), (right, bottom) = _cells(np.array([ends.min(axis=0) - near_mm, ends.max(axis=0) + near_mm]))
        cells = ((i, j) for i in range(left, right + 1) for j in range(top, bottom + 1))
        near = [spot for cell in cells for spot in self.locks.get(cell, ())]
        if not near:
            return np.zeros(spots.shape[:-1], dtype=np.intp)
        far = np.hypot(*np.moveaxis(spots[..., None, :] - np.array(near), -1, 0))
        return np.asarray((far <= near_mm).sum(axis=-1))


def _cells(spots: Points) -> list[tuple[int, int]]:
    return [(int(i), int(j)) for i, j in np.floor(spots / CROWD_MM)]


def tie_in(path: Points, area: Polygon, lock_mm: float, crowd: Crowd, craft: Craft) -> Points:
    """Needle points that secure a thread at the start of ``path``; the path itself follows, ``(3, 2)``.

    They lie on ``area``, the face that ``path`` sews, where any of its first stitches leads along it, and clear
    of places where the needle goes in often already. ``crowd`` is told of them.
    """
    lock: Points = _placed(path, area, lock_mm, crowd, craft)[::-1]
    return lock


def tie_off(path: Points, area: Polygon, lock_mm: float, crowd: Crowd, craft: Craft) -> Points:
    """Needle points that secure a thread after the last point of ``path``, ``(3, 2)``; otherwise the same."""
    return _placed(path[::-1], area, lock_mm, crowd, craft)


def _placed(path: Points, area: Polygon, lock_mm: float, crowd: Crowd, craft: Craft) -> Points:
    """The lock of a path's first point, in the order away from it."""
    near = path[:LOOK]
    locks = np.concatenate([_straight(near, lock_mm, craft.planned_mm), _along(near, lock_mm)])
    found: Points = locks[_best(near[0], locks, area, crowd, craft.kept_mm)]
    if _worn(found, crowd):
        locks = np.concatenate([locks + shift for shift in ASIDE])
        found = locks[_best(near[0], locks, area, crowd, craft.kept_mm)]
    crowd.add(found)
    return found


def _straight(path: Points, lock_mm: float, least_mm: float) -> NDArray[np.float64]:
    """Locks ``(n, 3, 2)`` towards every needle point that is far enough, or shorter where all are near (a dot)."""
    offsets = path - path[0]
    far = np.hypot(*offsets.T)
    enough = np.flatnonzero(far >= lock_mm)
    if len(enough):
        ways = offsets[enough] * (lock_mm / far[enough])[:, None]
    elif far.max() >= 1e-6:
        reach = min(lock_mm, max(least_mm, float(far.max()) / float(NEAREST.max())))
        ways = offsets[[int(far.argmax())]] * (reach / far.max())
    else:
        ways = np.array([[least_mm, 0.0]])
    return np.asarray(path[0] + NEAREST[:, None] * ways[:, None])


def _along(path: Points, lock_mm: float) -> NDArray[np.float64]:
    """Locks ``(n, 3, 2)`` along the middle of the stitching: of satin its centreline, of a run the run."""
    middle = np.vstack([path[:1], 0.5 * (path[1:] + path[:-1])])
    reach = SPREAD[lock_mm * SPREAD.max(axis=1) <= length(middle)]
    return at(middle, lock_mm * reach.reshape(-1)).reshape(-1, len(NEAREST), 2)


def _best(start: Points, locks: NDArray[np.float64], area: Polygon, crowd: Crowd, kept_mm: float) -> int:
    """The lock that keeps to the face, in holes that are not worn, with the fewest needle points about it.

    Of equals it is the first.

    Where stitching curls up, places far apart along it can be close together: such a lock would be taken out.
    """
    ways = np.concatenate([np.broadcast_to(start, (len(locks), 1, 2)), locks], axis=1)
    shortest = np.hypot(*np.moveaxis(np.diff(ways, axis=1), -1, 0)).min(axis=1)
    lines = shapely.linestrings(ways)
    room = overlay.buffer(
        overlay.intersection(area, shapely.box(*shapely.total_bounds(lines) + ROOM)), GRAZE_MM, quad_segs=2
    )
    shapely.prepare(room)
    leaves = ~shapely.covers(room, lines)  # few do, and asking is many times cheaper than cutting
    outside = np.zeros(len(lines))
    outside[leaves] = np.floor(shapely.length(overlay.difference(lines[leaves], room)) / GRAZE_MM)
    spots = np.concatenate([locks, 0.5 * (locks + np.roll(locks, 1, axis=1))], axis=1)
    own = np.hypot(*np.moveaxis(spots[:, :, None] - locks[:, None], -1, 0)) <= CROWD_MM
    crowded = (crowd.about(spots) + own.sum(axis=-1)).max(axis=1)
    return int(np.lexsort((np.maximum(crowded, FREE), _worn(locks, crowd), outside, shortest < kept_mm))[0])


def _worn(locks: NDArray[np.float64], crowd: Crowd) -> NDArray[np.intp]:
    """How many locks too many lie in the hole of each of ``locks``, ``(..., 3, 2)``, that has most."""
    return np.asarray(np.maximum(crowd.locked(locks, HOLE_MM).max(axis=-1) - (WORN - 1), 0))
