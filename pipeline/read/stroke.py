"""Stroked lines to their exact outline (W3C SVG 2, 13.5: joins, caps, miter limit, dashes).

A track is cut at its sharp corners; each smooth run is widened with a round brush held square at its ends,
and the corners get their join as a piece of its own. So a miter beyond the limit is a true bevel, and a
tight curve keeps its round outside.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from pipeline.geometry import overlay
from pipeline.geometry.polygon import NOTHING
from pipeline.read import area
from pipeline.read.flatten import Track

Array = NDArray[np.float64]
Join = Literal["miter", "round", "bevel"]
Cap = Literal["butt", "round", "square"]
# A joint whose miter would reach this little (mm) past the round brush is treated as smooth.
SHALLOW = 0.005
# More dashes than this in one line are a mistake or an attack; the line is drawn solid, with a finding.
MOST_DASHES = 20_000


@dataclass(frozen=True)
class Pencil:
    """How a line is stroked, lengths in the units of the tracks."""

    width: float
    join: Join
    cap: Cap
    miter_limit: float
    dashes: tuple[float, ...]
    offset: float


def too_fine(track: Track, pencil: Pencil) -> bool:
    """Whether the dash pattern would cut a track into more than ``MOST_DASHES`` pieces."""
    period = sum(pencil.dashes)
    if period <= 0 or len(track.points) < 2:
        return False
    line, _ = _opened(track)
    return float(np.hypot(*np.diff(line, axis=0).T).sum()) * len(pencil.dashes) > MOST_DASHES * period


def dashed(track: Track, pencil: Pencil) -> list[Track]:
    """The dashes of a track, in order; the track itself without a dash pattern."""
    pattern = np.array(pencil.dashes)
    period = float(pattern.sum()) if len(pattern) else 0.0
    if period <= 0 or len(track.points) < 2:
        return [track]
    line, marks = _opened(track)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    total = float(along[-1])
    start = pencil.offset % period
    edges = np.concatenate([[0.0], np.cumsum(np.tile(pattern, math.ceil((total + start) / period) + 1))]) - start
    spans = [
        (max(float(a), 0.0), min(float(b), total))
        for a, b in zip(edges[0::2], edges[1::2], strict=False)
        if b >= 0 and a < total and (a >= 0 or b > 0)
    ]
    pieces = [_cut(line, marks, along, a, b) for a, b in spans]
    if track.closed and len(pieces) > 1 and spans[0][0] == 0 and spans[-1][1] == total:
        tail, head = pieces.pop(), pieces[0]
        pieces[0] = Track(
            np.vstack([tail.points, head.points[1:]]), np.concatenate([tail.corner, head.corner[1:]]), False
        )
    elif track.closed and len(pieces) == 1 and spans[0] == (0.0, total):
        return [track]
    return pieces


def _opened(track: Track) -> tuple[Array, NDArray[np.bool_]]:
    if not track.closed:
        return track.points, track.corner
    return np.vstack([track.points, track.points[:1]]), np.concatenate([track.corner, track.corner[:1]])


def _cut(line: Array, marks: NDArray[np.bool_], along: Array, a: float, b: float) -> Track:
    """The stretch of a line from arc length a to b."""
    inside = (along > a + 1e-9) & (along < b - 1e-9)
    ends = np.array([[np.interp(s, along, line[:, axis]) for axis in (0, 1)] for s in (a, b)])
    points = np.vstack([ends[:1], line[inside], ends[1:]])
    corner = np.concatenate(
        [[marks[0] if a == 0 else False], marks[inside], [marks[-1] if b == along[-1] else False]]
    )
    if b - a <= 1e-9:
        return _dot(line, along, a)
    return Track(points, corner, False)


def _dot(line: Array, along: Array, s: float) -> Track:
    """A dash of no length, as the shortest line in the line's own direction."""
    i = int(np.clip(np.searchsorted(along, s, side="right") - 1, 0, len(line) - 2))
    step = line[i + 1] - line[i]
    here = line[i] + step * ((s - along[i]) / (along[i + 1] - along[i]))
    return Track(np.vstack([here, here + step / np.hypot(*step) * 1e-7]), np.array([False, False]), False)


def outlined(lines: list[Track], pencil: Pencil, tolerance: float) -> MultiPolygon:
    """The area that ``pencil`` paints along ``lines``, round parts true to ``tolerance``; maybe empty."""
    half = pencil.width / 2
    if half <= 0:
        return NOTHING
    quarter = math.ceil(math.pi / 4 / math.acos(max(1 - tolerance / half, 0.7)))
    pieces: list[BaseGeometry] = []
    dots = [line for line in lines if len(line.points) == 1]
    plain: dict[str, list[BaseGeometry]] = {}
    for line in lines:
        if len(line.points) > 1:
            _widen(line, pencil, half, quarter, plain, pieces)
    style = {"butt": "flat", "round": "round", "square": "square"}[pencil.cap]
    for join, group in plain.items():
        whole = group[0] if len(group) == 1 else shapely.multilinestrings(group)
        pieces.append(
            overlay.buffer(
                whole, half, quad_segs=quarter, cap_style=style, join_style=join, mitre_limit=pencil.miter_limit
            )
        )
    if dots and pencil.cap != "butt":
        spots = shapely.points(np.vstack([dot.points for dot in dots]))
        pieces += list(overlay.buffer(spots, half, quad_segs=quarter, cap_style=style))
    solid = [piece for piece in pieces if not piece.is_empty]
    if not solid:
        return NOTHING
    return area.whole(solid[0] if len(solid) == 1 else overlay.union_all(solid))


def _widen(
    line: Track,
    pencil: Pencil,
    half: float,
    quarter: int,
    plain: dict[str, list[BaseGeometry]],
    pieces: list[BaseGeometry],
) -> None:
    """Sort a line in: whole to the ``plain`` ones of its join, or cut up into ``pieces`` of its outline."""
    closed = line.closed and len(line.points) > 2
    points = line.points
    sharp, simple = _sharp(line, pencil, half) if pencil.join != "round" else (np.zeros(0, dtype=np.int64), True)
    if simple:
        join = {"miter": "mitre"}.get(pencil.join, pencil.join) if len(sharp) else "round"
        whole = np.concatenate([points, points[:1]]) if closed else points
        plain.setdefault(join, []).append(shapely.linestrings(whole))
        return
    pieces += _joins(points, sharp, pencil, half)
    if closed:
        points = np.roll(points, -int(sharp[0]), axis=0)
        points = np.vstack([points, points[:1]])
        cuts = [*(int(i - sharp[0]) for i in sharp), len(points) - 1]
    else:
        cuts = [0, *(int(i) for i in sharp), len(points) - 1]
    runs = [shapely.LineString(points[a : b + 1]) for a, b in itertools.pairwise(cuts)]
    pieces += list(overlay.buffer(runs, half, quad_segs=quarter, cap_style="flat", join_style="round"))
    if not closed and pencil.cap != "butt":
        for end, inward in ((points[0], points[1]), (points[-1], points[-2])):
            pieces.append(_cap(end, inward, pencil.cap, half, quarter))


def _sharp(line: Track, pencil: Pencil, half: float) -> tuple[NDArray[np.int64], bool]:
    """The corners whose miter would stand out visibly; and whether one plain widening gives them their joins.

    It does where all joins are alike (none beyond the miter limit) and the line is smooth between its corners.
    """
    points = line.points
    legs = np.diff(points, axis=0, append=points[:1])
    size = np.hypot(legs[:, 0], legs[:, 1])
    before = np.concatenate([legs[-1:], legs[:-1]])
    square = np.maximum(size * np.concatenate([size[-1:], size[:-1]]), 1e-300)
    # The miter's length over the stroke's width is 1 / cos(turn/2).
    longer = 1 / np.sqrt(np.maximum((1 + np.einsum("ij,ij->i", before, legs) / square) / 2, 1e-6))
    steep = half * (longer - 1) > SHALLOW
    if not (line.closed and len(points) > 2):
        steep[0] = steep[-1] = False
    sharp = steep & line.corner
    indices = np.flatnonzero(sharp)
    if not len(indices):
        return indices, True
    alike = pencil.join == "bevel" or bool((longer[indices] <= pencil.miter_limit).all())
    return indices, alike and not bool((steep & ~line.corner).any())


def _joins(points: Array, sharp: NDArray[np.int64], pencil: Pencil, half: float) -> list[BaseGeometry]:
    """A triangle (bevel) or kite (miter within the limit) on the outside of every sharp corner."""
    n = len(points)
    into = _unit(points[sharp] - points[(sharp - 1) % n])
    out = _unit(points[(sharp + 1) % n] - points[sharp])
    cross = into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0]
    side = np.where(cross > 0, 1.0, -1.0)[:, None] * half
    here = points[sharp]
    a = here + np.column_stack([into[:, 1], -into[:, 0]]) * side
    b = here + np.column_stack([out[:, 1], -out[:, 0]]) * side
    cosine = np.clip((1 + (into * out).sum(axis=1)) / 2, 0.0, 1.0)
    pieces: list[BaseGeometry] = []
    middle = (a + b) / 2 - here
    for i in range(len(sharp)):
        # The miter's length over the stroke's width is 1 / sin(θ/2) = 1 / cos(turn/2).
        if pencil.join == "miter" and cosine[i] > 1e-12 and 1 / math.sqrt(cosine[i]) <= pencil.miter_limit:
            pieces.append(Polygon([here[i], a[i], here[i] + middle[i] / cosine[i], b[i]]))
        else:
            pieces.append(Polygon([here[i], a[i], b[i]]))
    return pieces


def _unit(legs: Array) -> Array:
    return np.asarray(legs / np.hypot(legs[:, 0], legs[:, 1])[:, None])


def _cap(end: Array, inward: Array, cap: Cap, half: float, quarter: int) -> BaseGeometry:
    if cap == "round":
        return overlay.buffer(shapely.Point(end), half, quad_segs=quarter)
    ahead = (end - inward) / np.hypot(*(end - inward)) * half
    across = np.array([-ahead[1], ahead[0]])
    return Polygon([end + across, end + across + ahead, end - across + ahead, end - across])
