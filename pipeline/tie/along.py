"""The shortest way along the lines of a run, from a place near them to another."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import shapely
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra
from shapely.geometry import LineString, Point
from shapely.ops import substring

from pipeline.geometry.polyline import length, ring, without_repeats
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
    ends = np.rint(np.array([piece.coords[k] for piece in pieces for k in (0, -1)]) / SAME_MM)
    goals = np.rint(np.array([(spot.x, spot.y) for spot in spots]) / SAME_MM)
    places, number = np.unique(np.vstack([ends, goals]), axis=0, return_inverse=True)
    number = number.reshape(-1)
    best: dict[tuple[int, int], Points] = {}
    for piece, a, b in zip(pieces, number[:-2:2].tolist(), number[1:-2:2].tolist(), strict=True):
        points = shapely.get_coordinates(piece)
        for pair, way in (((a, b), points), ((b, a), points[::-1])):
            if a != b and (pair not in best or length(way) < length(best[pair])):
                best[pair] = way
    found = _shortest(best, len(places), int(number[-2]), int(number[-1]))
    if found is None:
        return None
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


def _shortest(best: dict[tuple[int, int], Points], count: int, first: int, last: int) -> list[Points] | None:
    """The pieces of the shortest way from one node to another."""
    if first == last:
        return []
    pairs = np.array(sorted(best)).reshape(-1, 2)
    weights = np.array([length(best[a, b]) for a, b in pairs.tolist()])
    graph = csr_array((weights, (pairs[:, 0], pairs[:, 1])), shape=(count, count))
    far, before = dijkstra(graph, indices=first, return_predecessors=True)
    if not np.isfinite(far[last]):
        return None
    ways, node = [], last
    while node != first:
        back = int(before[node])
        ways.append(best[back, node])
        node = back
    return ways[::-1]
