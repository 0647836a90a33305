"""One face made a satin column, or refused."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from pipeline.geometry import overlay
from pipeline.geometry.polyline import Array, ring, stations
from pipeline.model import Column, points
from pipeline.split.rails import STRAIGHT_MM, Sides, cross_sections, crossing, swept, swept_mm2
from pipeline.split.settings import SplitSettings

SPARE = 1.07, 1.6
"""Cross-sections may be longer than satin is wide by these factors: nine tenths of the column's length, and all
of it (mitred corners and flares)."""

BUTT = 0.6, 0.64, 0.94
"""An end is butt if it has a straight edge of this share of the width, turned from square to the column by no more
than this cosine, its pieces turned from one another by no more than that cosine."""

FLAT = 0.04
"""The edge of a butt end may bulge by this share of the column's width."""

ASKEW_DEG = 20.0
"""Half of a column's length may be this far from square to its middle line; a column of a lumpy face is not."""

PLAIN_MM = 0.002
"""Outlines are compared without points that stand out by less."""

SEAM_MM = 0.06
"""A ring's last cross-section is this far (both sides summed) from its first."""

LUMP = 0.93, 0.03
"""A lump is satin if parallel cross-sections cover this share of it, and no more than that share beside it."""

LUMP_DEG = 15.0
"""Directions tried on a lump differ by this."""

Chord = tuple[Array, Array]
"""Two points across a shape: left and right of the way along it."""


def open_column(
    face: Polygon, start: Chord, end: Chord, free: tuple[bool, bool], settings: SplitSettings
) -> Column | None:
    """The column of ``face`` from the cross-section ``start`` to ``end``; None where it would not cover it.

    At an end that is ``free`` the chord is only the last regular one; the face reaches beyond it.
    """
    if face.interiors:
        return None
    line = shapely.get_coordinates(orient(face, -1.0).exterior)[:-1]  # anticlockwise as seen, as y is down
    order = [_nearest(line, spot) for spot in (start[1], end[1], end[0], start[0])]
    line = np.roll(line, -order[0], axis=0)
    _, re, le, ls = ((k - order[0]) % len(line) for k in order)
    if not 0 <= re <= le <= ls:
        return None
    loop = ring(line)
    tips, sharp = [0, re, le, ls], [False, False]
    if free[1]:
        edge = _butt(loop[re : le + 1], end)
        sharp[1] = edge is None
        tip = re + _tip(loop[re : le + 1], end, 1.0)
        tips[1], tips[2] = (tip, tip) if edge is None else (re + edge[0], re + edge[1])
    if free[0]:
        edge = _butt(loop[ls:], start)
        sharp[0] = edge is None
        tip = ls + _tip(loop[ls:], start, -1.0)
        tips[3], after = (tip, tip) if edge is None else (ls + edge[0], ls + edge[1])
        tips[0] = after - len(line)
    right, left = _walked(line, tips[0], tips[1]), _walked(line, tips[2], tips[3])[::-1]
    if len(right) < 2 or len(left) < 2:
        return None
    u, v = stations(right), stations(left)
    regular = (
        (float(u[-tips[0]]), float(v[tips[3] - ls])) if sharp[0] else None,
        (float(u[re - tips[0]]), float(v[tips[3] - le])) if sharp[1] else None,
    )
    return checked(cross_sections(Sides(right, left, *regular), face), face, settings, False)


def swept_column(face: Polygon, direction: Array, settings: SplitSettings) -> Column | None:
    """The column of a compact ``face`` with parallel cross-sections square to ``direction``."""
    if face.interiors:
        return None
    line = shapely.get_coordinates(orient(face, -1.0).exterior)[:-1]
    return checked(swept(_swept_sides(line, direction), direction), face, settings, False)


def lump_column(face: Polygon, settings: SplitSettings) -> Column | None:
    """Parallel cross-sections of a lumpy ``face``, swept whichever way covers most; None if none does.

    The last resort before a lump is sewn as something that does not cover it: a serif with a stump of its stem is
    swept along the serif.
    """
    if face.interiors:
        return None
    line = shapely.get_coordinates(orient(face, -1.0).exterior)[:-1]
    most_mm2 = (1.0 + LUMP[1]) * face.area + 2.0 * STRAIGHT_MM * face.length
    best: tuple[float, Column] | None = None
    for turn in np.radians(np.arange(0.0, 180.0, LUMP_DEG)) + _longest_way(face):
        direction = np.array([np.cos(turn), np.sin(turn)])
        sides = _swept_sides(line, direction)
        if swept_mm2(sides, direction) > most_mm2:
            continue
        rails = swept(sides, direction)
        if rails is None or np.hypot(*(rails[0] - rails[1]).T).max() > settings.satin_up_to_mm:
            continue
        if not _may_cover(*rails, face):
            continue
        inside, outside = _cover(*rails, face)
        if inside >= LUMP[0] * face.area and outside <= LUMP[1] * face.area:
            score = round((inside - outside) / face.area, 3)
            if best is None or score > best[0]:
                best = (score, Column(points(rails[0]), points(rails[1])))
    return None if best is None else best[1]


def _may_cover(left: Array, right: Array, face: Polygon) -> bool:
    """Whether what a column paints is of about the area of the lump ``face``: no overlay is needed to see it isn't.

    A column that overlaps itself is given the benefit of the doubt.
    """
    paint = Polygon(np.vstack([left, right[::-1]]))
    slack = PLAIN_MM * (paint.length + face.length)
    low, high = LUMP[0] * face.area - slack, (1.0 + LUMP[1]) * face.area + slack
    return low <= paint.area <= high or not paint.is_valid


def _longest_way(face: Polygon) -> float:
    """The direction (radians) of the longer side of the smallest rectangle about ``face``."""
    box = shapely.get_coordinates(shapely.minimum_rotated_rectangle(face))
    if len(box) < 4:
        return 0.0
    long = max(box[1] - box[0], box[2] - box[1], key=lambda side: float(np.hypot(*side)))
    return float(np.arctan2(long[1], long[0]))


def _swept_sides(line: Array, direction: Array) -> Sides:
    height = line @ direction
    low, high = int(np.argmin(height)), int(np.argmax(height))
    high += len(line) if high < low else 0
    return Sides(_walked(line, low, high), _walked(line, high, low + len(line))[::-1])


def closed_column(face: Polygon, settings: SplitSettings) -> Column | None:
    """The column of a ring-shaped ``face`` (one hole)."""
    if len(face.interiors) != 1:
        return None
    outer = shapely.get_coordinates(orient(face, -1.0).exterior)
    inner = shapely.get_coordinates(Polygon(face.interiors[0]))
    inner = inner if not shapely.is_ccw(shapely.LinearRing(inner)) else inner[::-1]
    inside = LineString(inner)
    shapely.prepare(inside)
    gap = shapely.distance(inside, shapely.points(outer))
    first = int(np.argmin(gap[:-1]))
    outer = ring(np.roll(outer[:-1], -first, axis=0))
    where = shapely.line_locate_point(inside, shapely.Point(outer[0]))
    inner = _opened(inner, float(where))
    # Walked anticlockwise as seen, the outside lies to the right.
    rails = cross_sections(Sides(outer, inner), face, seam=True)
    if rails is None:
        return None
    left, right = rails[0][:-1], rails[1][:-1]
    moved = np.hypot(*(left - left[0]).T) + np.hypot(*(right - right[0]).T)
    while len(left) > 3 and moved[len(left) - 1] < SEAM_MM:  # the last cross-section all but repeats the first
        left, right = left[:-1], right[:-1]
    return checked((left, right), face, settings, True)


def checked(
    rails: tuple[Array, Array] | None, face: Polygon, settings: SplitSettings, closed: bool
) -> Column | None:
    """A column if its cross-sections do not cross and cover its face, else None."""
    if rails is None or len(rails[0]) < 2 or crossing(*rails).any():
        return None
    if _too_wide(*rails, settings.satin_up_to_mm) or _askew(*rails) > ASKEW_DEG:
        return None
    left, right = (ring(side) if closed else side for side in rails)
    inside, outside = _cover(left, right, face)
    if inside < settings.coverage * face.area or outside > 0.02 * face.area:
        return None
    return Column(points(rails[0]), points(rails[1]), closed)


def _cover(left: Array, right: Array, face: Polygon) -> tuple[float, float]:
    """What a column paints inside ``face`` and outside it (mm²)."""
    closed = len(left) > 3 and np.array_equal(left[0], left[-1]) and np.array_equal(right[0], right[-1])
    cover: BaseGeometry = Polygon(right, [left]) if closed else Polygon(np.vstack([left, right[::-1]]))
    if not cover.is_valid:  # a column that overlaps itself
        quads = np.stack([left[:-1], left[1:], right[1:], right[:-1], left[:-1]], axis=1)
        cover = overlay.union_all(overlay.make_valid(shapely.polygons(quads)))
    # Both have vertices every few tenths of a millimetre, most on straight edges: without them it is as exact.
    cover, plain = shapely.simplify([cover, face], PLAIN_MM, preserve_topology=False)
    if not (cover.is_valid and plain.is_valid):
        cover, plain = overlay.make_valid([cover, plain])
    inside = float(overlay.intersection(cover, plain).area)
    return inside, float(cover.area) - inside


def _too_wide(left: Array, right: Array, limit: float) -> bool:
    widths = np.hypot(*(left - right).T)
    if widths.max() <= SPARE[0] * limit:
        return False
    way = np.hypot(*np.diff(0.5 * (left + right), axis=0).T)
    wide = np.minimum(widths[1:], widths[:-1]) > SPARE[0] * limit
    return bool(way[wide].sum() > 0.1 * way.sum() or widths.max() > SPARE[1] * limit)


def _askew(left: Array, right: Array) -> float:
    """How far the cross-sections are from square to the middle line (degrees, median by length)."""
    middle = 0.5 * (left + right)
    step, across = np.diff(middle, axis=0), (left - right)[1:] + (left - right)[:-1]
    length, wide = np.hypot(*step.T), np.hypot(*across.T)
    solid = (length > 1e-6) & (wide > 1e-6)
    if not solid.any():
        return 0.0
    sine = np.abs((step * across).sum(axis=1)[solid]) / (length * wide)[solid]
    order = np.argsort(sine)
    share = np.cumsum(length[solid][order])
    return float(np.degrees(np.arcsin(min(1.0, sine[order][np.searchsorted(share, 0.5 * share[-1])]))))


def _nearest(line: Array, spot: Array) -> int:
    return int(np.argmin(np.hypot(*(line - spot).T)))


def _butt(cap: Array, chord: Chord) -> tuple[int, int] | None:
    """The two corners (numbers of points of ``cap``) between which a free end is cut off straight, if it is."""
    across = chord[0] - chord[1]
    width = float(np.hypot(*across))
    if len(cap) < 3 or width < 1e-6:
        return None
    edges = np.diff(cap, axis=0)
    lengths = np.maximum(np.hypot(*edges.T), 1e-12)
    square = np.abs(edges @ across) > BUTT[1] * lengths * width
    if not square.any():
        return None
    way = edges[square].sum(axis=0)
    level = np.flatnonzero((edges @ way) > BUTT[2] * lengths * float(np.hypot(*way)))
    runs = np.split(level, np.flatnonzero(np.diff(level) > 1) + 1)
    best = max(runs, key=lambda run: float(lengths[run].sum()))
    if not len(best):
        return None
    first, last = int(best[0]), int(best[-1]) + 1
    x, y = cap[last] - cap[first]
    long = float(np.hypot(x, y))
    off = np.abs((cap[first : last + 1] - cap[first]) @ np.array([-y, x])) / max(long, 1e-12)
    return (first, last) if long >= BUTT[0] * width and off.max() <= FLAT * width else None


def _tip(cap: Array, chord: Chord, sign: float) -> int:
    """Which point of a free end reaches farthest beyond its chord."""
    x, y = chord[0] - chord[1]
    return int(np.argmax(cap @ np.array([-y, x]) * sign))


def _walked(line: Array, first: int, last: int) -> Array:
    return line[np.arange(first, last + 1) % len(line)]


def _opened(loop: Array, where: float) -> Array:
    """A closed loop (first point repeated) begun at arc length ``where``."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(loop, axis=0).T))])
    spot = np.column_stack([np.interp([where], along, loop[:, axis]) for axis in (0, 1)])
    return np.vstack([spot, loop[1:][along[1:] > where + 1e-9], loop[1:][along[1:] < where - 1e-9], spot])
