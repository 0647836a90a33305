"""Overlays and buffers of shapes that come from outside: the only door to those operations of GEOS that can fail.

Now and then GEOS finds no consistent answer, for outlines that touch or cross within their last bits. Each
function here first tries the plain operation, so that nothing changes where that works; then, of arrays for the
failing elements only, it makes the shapes valid, puts them on a grid of ``GRIDS_MM`` and tries again, by snap
rounding (Hobby, Practical segment intersection with finite precision output, Computational Geometry 13, 1999).
What fails even so raises ``OverlayError``, which says where. Predicates and measures (``covers``, ``distance`` …)
are called directly: they make no new corners.

Shapes are shapely geometries, or arrays and lists of them that broadcast as in numpy; the outcome has the same
form. Lengths are in mm.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from contextlib import suppress
from typing import Any

import numpy as np
import shapely
from shapely.errors import GEOSException
from shapely.geometry.base import BaseGeometry

from pipeline.errors import OverlayError

GRIDS_MM = (1e-6, 1e-4)
"""Grids of the second and the third trial; the coarser is a thousandth of a machine's step."""
ROUNDING = 1e-6
"""Share of an area that rounding may take."""
PLACE = re.compile(r"at (?:or near point )?(-?[\d.]+(?:e[-+]?\d+)?) (-?[\d.]+(?:e[-+]?\d+)?)")
"""How GEOS names the spot at which it failed."""
Work = Callable[..., Any]
"""What to do with a grid size in mm (None: none) and shapes."""


def union_all(shapes: Any, grid_size: float = 0.0) -> Any:
    """All ``shapes`` as one; with ``grid_size`` (mm) its corners and their crossings lie on that grid."""

    def work(grid: float | None, *parts: Any) -> Any:
        return shapely.union_all(parts, grid_size=max(grid or 0.0, grid_size) or None)

    try:
        return shapely.union_all(shapes, grid_size=grid_size or None)
    except GEOSException:
        return _one(work, *np.asarray(shapes, dtype=object).ravel())


def joined(faces: Any) -> Any:
    """The union of ``faces`` of one polygonisation: they share their edges exactly, so that none is cut."""
    try:
        return shapely.coverage_union_all(faces)
    except GEOSException:
        return union_all(faces)


def union(one: Any, other: Any) -> Any:
    """What lies in either."""
    return _tried(lambda grid, a, b: shapely.union(a, b, grid_size=grid), one, other)


def intersection(one: Any, other: Any) -> Any:
    """What lies in both."""
    return _tried(lambda grid, a, b: shapely.intersection(a, b, grid_size=grid), one, other)


def difference(one: Any, other: Any) -> Any:
    """What lies in ``one`` and not in ``other``."""
    return _tried(lambda grid, a, b: shapely.difference(a, b, grid_size=grid), one, other)


def buffer(
    shape: Any,
    distance_mm: Any,
    *,
    quad_segs: int = 16,
    cap_style: str = "round",
    join_style: str = "round",
    mitre_limit: float = 5.0,
) -> Any:
    """``shape`` grown by ``distance_mm`` (areas shrink where it is negative).

    A quarter circle becomes ``quad_segs`` chords; ``cap_style`` is round, flat or square and ``join_style``
    round, mitre or bevel.

    GEOS 3.14 now and then loses all of a shape and says nothing: that counts as a failure, too. A single shape that
    should shrink then loses a band along its outline, with round corners.
    """

    def work(_: float | None, a: Any, by: Any) -> Any:
        found = shapely.buffer(
            a, by, quad_segs=quad_segs, cap_style=cap_style, join_style=join_style, mitre_limit=mitre_limit
        )
        if not _lost(a, by, found, mitre_limit):
            return found
        if isinstance(a, BaseGeometry) and by < 0.0:
            found = shapely.difference(a, shapely.buffer(a.boundary, -by, quad_segs=quad_segs))
            if not _lost(a, by, found, mitre_limit):
                return found
        raise GEOSException("all of a shape was lost")

    return _tried(work, shape, distance_mm)


def _lost(shape: Any, by: Any, found: Any, mitre_limit: float) -> bool:
    """Whether some buffer is smaller than it can be.

    What grows is no smaller than it was; what shrinks loses no more than a band along its outline, and at each
    corner what the band is longer on its inner side.
    """
    inwards = np.maximum(-np.asarray(by, dtype=float), 0.0)
    least = shapely.area(shape) * (1.0 - ROUNDING) - inwards * shapely.length(shape)
    every = np.broadcast_arrays(shape, inwards, least, shapely.area(found))
    return any(
        area < low - depth**2 * _corners(one, mitre_limit)
        for one, depth, low, area in zip(*(item[every[3] < every[2]] for item in every), strict=True)
    )


def _corners(shape: BaseGeometry, mitre_limit: float) -> float:
    """The areas of all corners of a band of width 1 along an outline."""
    every = 0.0
    for ring in shapely.get_rings(shapely.get_parts(shape)):
        (x, y) = np.diff(shapely.get_coordinates(ring), axis=0).T
        u, v = np.roll(x, -1), np.roll(y, -1)
        turn = np.abs(np.arctan2(x * v - y * u, x * u + y * v))
        every += float(np.minimum(np.tan(turn / 2), mitre_limit).sum())
    return every


def make_valid(shape: Any) -> Any:
    """``shape`` with the crossings of its outline resolved; maybe a collection."""
    return _tried(lambda _, a: shapely.make_valid(a), shape)


def _tried(work: Work, *given: Any) -> Any:
    """``work`` without a grid; where that fails, element by element with."""
    try:
        return work(None, *given)
    except GEOSException:
        every = np.broadcast_arrays(*(np.asarray(item, dtype=object) for item in given))
        done = np.empty(every[0].shape, dtype=object)
        for place in np.ndindex(done.shape):
            done[place] = _one(work, *(item[place] for item in every))
        return done[()]


def _one(work: Work, *given: Any) -> Any:
    """``work`` for one set of shapes: plainly, then on each grid."""
    try:
        return work(None, *given)
    except GEOSException as fault:
        for grid in GRIDS_MM:
            with suppress(GEOSException):
                return work(grid, *(_snapped(item, grid) for item in given))
        raise OverlayError(f"overlay failed: {fault}", _where(str(fault), given)) from fault


def _snapped(item: Any, grid: float) -> Any:
    """A shape made valid with its corners on the grid; what is no shape stays as it is."""
    if not isinstance(item, shapely.Geometry):
        return item
    rounded = shapely.set_precision(item, grid, mode="pointwise")
    valid = shapely.make_valid(rounded, method="structure", keep_collapsed=False)
    return shapely.set_precision(valid, grid)


def _where(message: str, given: tuple[Any, ...]) -> tuple[float, float] | None:
    """The spot that GEOS names, or the middle of the first shape; None if that has no place."""
    named = PLACE.search(message)
    if named:
        return float(named[1]), float(named[2])
    boxes = shapely.bounds([item for item in given if isinstance(item, shapely.Geometry)])
    x0, y0, x1, y1 = boxes[0].tolist()
    return ((x0 + x1) / 2, (y0 + y1) / 2) if np.isfinite(boxes[0]).all() else None
