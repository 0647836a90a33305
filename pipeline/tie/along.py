"""The shortest way along the lines of a run, from a place near them to another."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry import LineString, Point
from shapely.ops import substring

from pipeline.geometry.graph import nodes_of, shortest, traced, without_parallels
from pipeline.geometry.polyline import ring, without_repeats
from pipeline.model import Line, Points, Spot

SAME_MM = 1e-4
"""Ends of lines nearer than this are one."""


def along_lines(lines: tuple[Line, ...], here: Spot, there: Spot) -> Points | None:
    """Points ``(n, 2)`` from ``here`` to ``there`` by way of the lines; None if they do not hang together."""
    tracks = [LineString(ring(line.points) if line.closed else line.points) for line in lines]
    spots = [
        shapely.line_interpolate_point(t, t.project(Point(spot))) for t, spot in _nearest(tracks, (here, there))
    ]
    pieces = [piece for track in tracks for piece in _cut(track, [s for s in spots if track.distance(s) < SAME_MM])]
    ends = [piece.coords[k] for piece in pieces for k in (0, -1)]
    number = nodes_of(np.array([*ends, *((spot.x, spot.y) for spot in spots)]), SAME_MM)
    tails, heads = number[:-2:2], number[1:-2:2]
    lengths = shapely.length(pieces)
    best = without_parallels(tails, heads, lengths)
    between = {pair: n for n in best.tolist() for pair in ((tails[n], heads[n]), (heads[n], tails[n]))}
    first, last = number[-2:].tolist()
    far, before = shortest(int(number.max()) + 1, tails[best], heads[best], lengths[best], np.array([first]))
    if not np.isfinite(far[0, last]):
        return None
    found = []
    for pair in pairwise(traced(before[0], last)):
        way = shapely.get_coordinates(pieces[between[pair]])
        found.append(way if tails[between[pair]] == pair[0] else way[::-1])
    return without_repeats(np.vstack([[here], *found, [there]]), SAME_MM)


def _nearest(tracks: list[LineString], spots: tuple[Spot, Spot]) -> list[tuple[LineString, Spot]]:
    """For each spot the line that is nearest to it."""
    return [(min(tracks, key=lambda track: track.distance(Point(spot))), spot) for spot in spots]


def _cut(track: LineString, spots: list[Point]) -> list[LineString]:
    """A line cut at places on it, and a ring cut in two so that it has a shorter way round."""
    places = sorted({0.0, track.length, *(track.project(spot) for spot in spots)})
    if track.is_ring and len(places) == 2:
        places.insert(1, track.length / 2)
    return [substring(track, a, b) for a, b in pairwise(places) if b - a > SAME_MM]
