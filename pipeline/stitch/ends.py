"""Where a fill's walk begins and ends, for the spots at which the thread comes in and has to leave."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry import Polygon

from pipeline.geometry import overlay
from pipeline.geometry.graph import shortest, traced, without_parallels
from pipeline.geometry.polyline import length, stations
from pipeline.geometry.scanline import Array, Ints
from pipeline.stitch.beneath_rows import routed_way
from pipeline.stitch.rows import Bridge, Flags, Rows, lay_rows, parted
from pipeline.stitch.walk import LONG_MM, may_join, walked

NEAREST = 8
"""Row ends that are tried for the way in before a way through the whole fill is looked for."""
INSET_MM = 0.6
SLACK_MM = 0.05
"""A straight way may touch the outline or leave it by this much, far less than a thread's width."""
OFF_ROW_MM = 0.45
"""A spot this far from every row piece is reached along the outline."""
LONG_WAY_MM = 1.5
"""Where the thread leaves this far from both ends of a row, the row is sewn in two pieces that meet there."""
NEAR_ROW_MM = 0.8
"""Row ends farther apart than this along the outline are no neighbours that a bridge may begin at."""
ON_TOP = 3.0
"""How much worse a way on top is than hidden travel of that length."""
WAY_ROW_MM = 0.5
"""Rows on which a way is looked for: narrower necks are passed along their outline."""


@dataclass(frozen=True, eq=False)
class Ends:
    """The walk's first and last node; ``way_in`` and ``way_out`` are points on the way from and to the spots.

    ``rows`` are those given, but for one that is cut where the thread leaves in its midst; then a ``bridge``
    leads to the cut.
    """

    rows: Rows
    first: int
    last: int
    way_in: Array
    way_out: Array
    bridge: Bridge | None = None


def ends(rows: Rows, start: Array, end: Array) -> Ends:
    """The walk's ends for the thread's ``start`` and ``end``, ``(2,)`` each, along and across the rows.

    The last node is the one with the shortest way to ``end``, for that way lies on top (on its own row, where it
    does not show unless it is long). The first must be on the same ring; the way to it is hidden under all rows.
    """
    last, back = _reached(rows, end)
    left = last & ~1
    if len(back) == 1 and np.abs(back[0, 0] - rows.u[[left, left + 1]]).min() > LONG_WAY_MM:
        found = _parted(parted(rows, left, float(back[0, 0])), left, start, back)
        if found is not None:
            return found
    reached = _reached(rows, start)
    long = np.flatnonzero((rows.ring == rows.ring[last]) & (rows.gap > LONG_MM))
    after = rows.after[long]
    bays = long[(rows.row[after] == rows.row[long]) & (after != long ^ 1)]
    tried: list[tuple[float, int, Ends]] = []
    for node, extra in _near(rows, last) if len(long) else [(last, 0.0)]:
        if extra < NEAR_ROW_MM:
            first, way_in, cost = _begun(rows, start, node, *reached)
            spot = back if node == last else np.vstack([back, [[rows.u[last], rows.v[last]]]])
            cost += ON_TOP * extra
            tried.append((cost, len(tried), Ends(rows, first, node, way_in, spot[::-1])))
    best, least = tried[0][2], np.inf
    for cost, _, approach in sorted(tried):
        if cost < least:
            cost += ON_TOP * _late(rows, approach.first, approach.last, bays)
            best, least = (approach, cost) if cost < least else (best, least)
    return best


def _late(rows: Rows, first: int, last: int, bays: Ints) -> float:
    """Length of the outline pieces ``bays``, between two pieces of one row, that a walk follows too late to hide.

    The bottom of a bay lies on the row beneath it, so that a way along it should come before that row.
    """
    if not len(bays):
        return 0.0
    walk = walked(rows, first, last)
    a, b = walk.nodes[:-1], walk.nodes[1:]
    sewn = np.zeros(len(rows.u) // 2, dtype=np.int64)
    sewn[a[walk.is_row] >> 1] = np.flatnonzero(walk.is_row)
    wide = 2.0 * float(np.ptp(rows.u)) + 1.0
    key = rows.row * wide + rows.u
    beneath = rows.row[bays] + np.where(rows.falls[bays], 1, -1)
    found = np.searchsorted(key, beneath * wide + 0.5 * (rows.u[bays] + rows.u[rows.after[bays]])) - 1
    last_chance = np.zeros(len(rows.u), dtype=np.int64)
    last_chance[bays] = sewn[found >> 1]
    piece = np.where(rows.after[a] == b, a, b)
    step = np.flatnonzero(~walk.is_row & np.isin(piece, bays))
    return float(rows.gap[piece[step]][step > last_chance[piece[step]]].sum())


def _parted(rows: Rows, left: int, start: Array, back: Array) -> Ends | None:
    """The ends for a walk that leaves at the cut after node ``left``, with the least travel; None if it cannot."""
    best, least = None, np.inf
    reached = _reached(rows, start)
    for bridge in _bridges(rows, left):
        if rows.body(SLACK_MM).covers(shapely.LineString(bridge.points)):
            first, way_in, cost = _begun(rows, start, bridge.near, *reached)
            cost += length(bridge.points)
            if cost < least:
                best, least = Ends(rows, first, bridge.last, way_in, back, bridge), cost
    return best


def _begun(rows: Rows, start: Array, last: int, near: int, way_in: Array) -> tuple[int, Array, float]:
    """The first node of a walk that leaves the outline at ``last``, the way to it from ``start``, and its cost.

    ``near`` is the node reached from ``start`` by ``way_in``; others are tried if that is the nearest one.
    """
    reach = _distance(rows, start)
    tried = np.argsort(reach, kind="stable")[:NEAREST].tolist()
    options = [
        (float(reach[n]) + extra, n, int(to))
        for n in (tried if near == tried[0] else [near])
        for to, extra in _near(rows, n)
    ]
    fitting = [option for option in options if may_join(rows, option[2], last)]
    if fitting:
        again = _twice(rows, np.array([option[2] for option in fitting]), last)
        cost, found, first = min((cost + more, n, to) for (cost, n, to), more in zip(fitting, again, strict=True))
        return first, way_in if found == near else _stop(rows, found, start), float(cost)
    nodes = _path(rows, near, (rows.ring == rows.ring[last]) & ((rows.place - rows.place[last]) % 2 == 1))
    way_in = np.vstack([way_in, routed_way(rows, nodes, INSET_MM, SLACK_MM)])
    return int(nodes[-1]), way_in, length(way_in)


def _bridges(rows: Rows, left: int) -> list[Bridge]:
    """Ways to the cut of the row piece from ``left`` to ``left + 3``, from the ends of rows two away.

    They lie beneath that row and the one between, both of which are sewn later if the walk leaves the outline
    there: the two row ends that are passed over are joined with each other.
    """
    found = []
    u = float(rows.u[left + 1])
    for end, into, last in ((left, left + 1, left + 2), (left + 3, left + 2, left + 1)):
        for around in (rows.after, rows.before):
            beside = int(around[end])
            near = int(around[beside])
            side = 1.0 if end == left else -1.0
            levels = rows.row[[beside, near]] - rows.row[end]
            turns = np.hypot(np.diff(rows.u[[end, beside, near]]), np.diff(rows.v[[end, beside, near]]))
            spans = rows.u[beside & ~1] <= u <= rows.u[beside | 1]
            if not (abs(levels[0]) == 1 and levels[1] == 2 * levels[0] and turns.max() < NEAR_ROW_MM and spans):
                continue
            out = side * max(side * rows.u[[end, beside, near]]) + side * INSET_MM
            height = 0.5 * (rows.v[end] + rows.v[beside])
            if side * (u - out) > INSET_MM:
                found.append(Bridge(near, into, last, np.array([[out, height], [u - side * INSET_MM, height]])))
    return found


def _reached(rows: Rows, spot: Array) -> tuple[int, Array]:
    """The row end with the shortest way from ``spot`` and that way: along its row, else along the outline.

    The outline is followed where no row comes near the spot, as in a spike thinner than the rows' distance.
    """
    node = int(np.argmin(_distance(rows, spot)))
    stop = _stop(rows, node, spot)
    if np.hypot(*(stop[0] - spot)) <= OFF_ROW_MM:
        return node, stop
    first, points = rows.shape.first, rows.shape.points
    rings = [shapely.LineString(points[a:b]) for a, b in pairwise(first.tolist()) if b - a > 2]
    ring = int(np.argmin([line.distance(shapely.Point(spot)) for line in rings]))
    own = np.flatnonzero(rows.ring == ring)
    if not len(own):
        return node, stop
    around, total = stations(points), rings[ring].length
    place = around[first[ring]] + rings[ring].project(shapely.Point(spot))
    corners = np.arange(first[ring], first[ring + 1] - 1)
    ahead, onward = (rows.along[own] - place) % total, (around[corners] - place) % total
    if ahead.min() > (total - ahead).min():
        ahead, onward = total - ahead, total - onward
    nearest = int(np.argmin(ahead))
    between = np.flatnonzero(onward < ahead[nearest])
    return int(own[nearest]), points[corners[between[np.argsort(onward[between])]]]


def _twice(rows: Rows, firsts: Ints, last: int) -> Array:
    """Length of the long outline pieces that walks from ``firsts`` to ``last`` follow: flat ends are sewn twice.

    Those between two pieces of one row, at the bottom of a bay, may come after the rows beneath them.
    """
    own = np.flatnonzero(rows.ring == rows.ring[last])
    own = own[np.argsort(rows.place[own])]
    long = np.where(rows.gap[own] > LONG_MM, rows.gap[own], 0.0)
    after = rows.after[own]
    long *= np.where((rows.row[after] == rows.row[own]) & (after != own ^ 1), ON_TOP, 1.0)
    odd = np.arange(len(own)) % 2
    sums = np.zeros((2, len(own) + 1))
    np.cumsum([np.where(odd == 0, long, 0.0), np.where(odd == 1, long, 0.0)], axis=1, out=sums[:, 1:])
    a, b = rows.place[firsts], int(rows.place[last])
    # pieces in use are those of the other parity from the first node to the last, of its own beyond
    there = sums[1 - a % 2, b] - sums[1 - a % 2, a] + np.where(b < a, sums[1 - a % 2, -1], 0.0)
    beyond = sums[a % 2, a] - sums[a % 2, b] + np.where(a < b, sums[a % 2, -1], 0.0)
    return np.asarray(there + beyond)


def _near(rows: Rows, node: int) -> list[tuple[int, float]]:
    return [(node, 0.0), (rows.after[node], rows.gap[node]), (rows.before[node], rows.gap[rows.before[node]])]


def _distance(rows: Rows, spot: Array) -> Array:
    """How far it is from ``spot`` along a row to every row end; leaving its piece or height counts manifold."""
    left = np.arange(len(rows.u)) & ~1
    outside = np.maximum(np.maximum(rows.u[left] - spot[0], spot[0] - rows.u[left + 1]), 0.0)
    return np.asarray(np.abs(rows.u - spot[0]) + 3.0 * np.abs(rows.v - spot[1]) + 4.0 * outside)


def _stop(rows: Rows, node: int, spot: Array) -> Array:
    """The place on the node's row beside ``spot``, ``(1, 2)``."""
    left = node & ~1
    return np.array([[np.clip(spot[0], rows.u[left], rows.u[left + 1]), rows.v[node]]])


def _path(rows: Rows, near: int, fits: Flags) -> Ints:
    """The shortest way along rows and outlines from ``near`` to any node that ``fits``."""
    nodes = np.arange(len(rows.u))
    tails = np.concatenate([nodes[::2], nodes])
    heads = np.concatenate([nodes[1::2], rows.after])
    lengths = np.concatenate([rows.length(), rows.gap]) + 1e-6
    best = without_parallels(tails, heads, lengths)
    far, before = shortest(len(nodes), tails[best], heads[best], lengths[best], np.array([near]))
    return np.array(traced(before[0], int(np.argmin(np.where(fits, far[0], np.inf)))))


def way_inside(area: Polygon, here: Array, there: Array) -> Array:
    """A way from ``here`` to ``there`` inside ``area``, ``(n, 2)``: straight if possible, else along rows."""
    straight = np.vstack([here, there])
    if overlay.buffer(area, SLACK_MM).covers(shapely.LineString(straight)):
        return straight
    rows = lay_rows(area, 0.0, WAY_ROW_MM, 0.0)
    near, far = (int(np.argmin(_distance(rows, spot))) for spot in (here, there))
    nodes = _path(rows, near, np.arange(len(rows.u)) == far)
    way = routed_way(rows, nodes, INSET_MM, SLACK_MM)
    whole = np.vstack([here, _stop(rows, near, here), way, _stop(rows, far, there), there])
    return np.asarray(shapely.get_coordinates(shapely.simplify(shapely.LineString(whole), SLACK_MM)))
