"""What the thread does between two rows: a turn on the outline, or a way along it beneath later rows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.geometry.polyline import spaced, without_repeats, without_straight
from pipeline.geometry.scanline import Array, Ints
from pipeline.stitch.beneath_rows import inset_way, outline_way
from pipeline.stitch.rows import Bridge, Flags, Rows
from pipeline.stitch.settings import TatamiSettings
from pipeline.stitch.spacing import EDGE, FIELD, TRAVEL, TURN, Ranks
from pipeline.stitch.walk import Walk

SHORT_WAY_MM = 1.2
"""A way between rows up to this long is a turn of one or two needle points; a longer one follows the outline."""
LEAN_MM = (0.05, 0.2)
"""Rows whose ends differ less than the first turn on the upper one; from the second on they turn near the midst.
In between the turn moves over evenly, so that turns along a curve keep their distance from each other."""
OUTER_SHARE = 0.55
"""How near to the row that ends farther out the turn then lies, 0.5 being midway: more fills slanting edges better
but takes more thread than the area asks for."""
NEARER = 0.25
"""Where between two rows the turn lies that passes over another row's end."""
DETOUR_MM = 0.3
"""Outline that goes this much out of its way between two rows (a spike between them) is followed."""
STRAIGHT_MM = 1e-9
"""Points of a way this near to the line between their neighbours are on it, but for a number's last bits."""
REACH_MM = 0.1
"""A hidden way may leave the fill by this much; one that would go farther follows the edge instead."""
HIDDEN_WAY_MM = (1.3, 3.0)
"""A way of several outline pieces from this length on runs inset, beneath later rows; at less there is no room.
One that also passes from row piece to row piece keeps to the outline up to the second length."""


@dataclass(frozen=True, eq=False)
class Turns:
    """``rows`` (r,): the node at which each walked row begins. Turn ``i`` of r + 1, before row ``i``, has the
    points ``points[starts[i]:starts[i + 1]]``; ``kind`` says of each whether a row leads to it, the outline or
    travel (``FIELD``, ``EDGE``, ``TRAVEL``), ``rank`` which of two points too close together stays (see
    ``spacing``). ``fans`` (r + 1, 2) tells of every turn whether the row before or the row after it leaves its
    own place just before the edge to reach it."""

    rows: Ints
    points: Array
    starts: Ints
    kind: Ranks
    rank: Ranks
    fans: Flags


def turns(
    rows: Rows, walk: Walk, tips: Array, settings: TatamiSettings, shortest_mm: float, bridge: Bridge | None = None
) -> Turns:
    """The needle points of every turn of ``walk``; ``tips`` is ``u`` of every row end as it is sewn."""
    steps = np.flatnonzero(walk.is_row)
    begin = np.concatenate([[0], steps + 1])
    end = np.concatenate([steps, [len(walk.nodes) - 1]])
    tip = np.column_stack([_centred(tips, shortest_mm), rows.v])
    a, b = tip[walk.nodes[begin]], tip[walk.nodes[end]]
    chord = np.hypot(*(b - a).T)
    length, level = _lengths(rows, walk)
    way = length[end] - length[begin]
    caps = level[end] > level[begin]
    special = (way > SHORT_WAY_MM) | (way > chord + DETOUR_MM) | (caps & (chord > shortest_mm))
    over = -1 if bridge is None else _bridged(walk, end, bridge)
    special[over] |= over >= 0
    two = (chord >= settings.two_points_mm) & ~special
    counts = np.where(two, 2, 1)
    ways = {
        i: _way(rows, walk.nodes[begin[i] : end[i] + 1], float(way[i]), tip, settings)
        for i in np.flatnonzero(special).tolist()
        if i != over
    }
    if bridge is not None:
        ways[over] = _over(rows, walk.nodes[begin[over] : end[over] + 1], tip, settings, bridge)
    for i, (line, _) in ways.items():
        counts[i] = len(line)
    starts = np.concatenate([[0], np.cumsum(counts)])
    line = np.empty((int(starts[-1]), 2))
    line[starts[:-1][two]] = a[two]
    line[starts[1:][two] - 1] = b[two]
    one = ~two & ~special
    share, fan = _leaning(rows, walk.nodes[begin[one]], walk.nodes[end[one]])
    line[starts[:-1][one]] = a[one] + share[:, None] * (b[one] - a[one])
    fans = np.zeros((len(begin), 2), dtype=bool)
    fans[one] = fan
    # the thread comes in and leaves beside the row
    fans[0, 1] = fans[-1, 0] = True
    kind, rank = _with_ways(line, starts, two, ways)
    return Turns(walk.nodes[steps], line, starts, kind, rank, fans)


def _with_ways(
    line: Array, starts: NDArray[np.intp], two: NDArray[np.bool_], ways: dict[int, tuple[Array, bool]]
) -> tuple[NDArray[np.int8], NDArray[np.int8]]:
    """Writes the special ways into ``line``; what leads to each of its points, and the points' rank."""
    kind = np.full(len(line), FIELD, dtype=np.int8)
    rank = np.full(len(line), TURN, dtype=np.int8)
    kind[starts[1:][two] - 1] = EDGE
    for i, (points, hidden) in ways.items():
        line[starts[i] : starts[i + 1]] = points
        kind[starts[i] + 1 : starts[i + 1]] = TRAVEL if hidden else EDGE
        rank[starts[i] + 1 : starts[i + 1] - 1] = TRAVEL if hidden else EDGE
    return kind, rank


def pulled(rows: Rows, pull_mm: float) -> Array:
    """``u`` of every node moved outwards by ``pull_mm``, at most to near the middle of the gap beside it."""
    room = np.full(len(rows.u), np.inf)
    same = rows.row[1:-1:2] == rows.row[2::2]
    between = np.where(same, 0.5 * (rows.u[2::2] - rows.u[1:-1:2]) - 0.05, np.inf)
    room[1:-1:2], room[2::2] = between, between
    shift = np.clip(room, 0.0, pull_mm)
    return np.asarray(rows.u + np.where(np.arange(len(rows.u)) % 2, shift, -shift))


def _centred(u: Array, shortest_mm: float) -> Array:
    """``u`` of all nodes, with both ends of rows too short to sew at their middle: thin strips become a run."""
    middle = np.repeat(0.5 * (u[::2] + u[1::2]), 2)
    return np.where(np.repeat(u[1::2] - u[::2] < shortest_mm, 2), middle, u)


def _leaning(rows: Rows, nodes_a: Ints, nodes_b: Ints) -> tuple[Array, Flags]:
    """Where between its two row ends each turn lies, and which of the two rows leaves its place to reach it.

    Upright edges are turned on the upper row, slanting ones nearer to the row that ends farther out; beside the
    fill's own end the turn lies midway or on the outer row, to keep the corners full.
    """
    down = rows.row[nodes_b] > rows.row[nodes_a]
    out = np.where(nodes_a % 2, 1.0, -1.0) * (rows.u[nodes_b] - rows.u[nodes_a])
    farther = np.where(down, out, -out)
    ramp = np.clip((np.abs(farther) - LEAN_MM[0]) / (LEAN_MM[1] - LEAN_MM[0]), 0.0, 1.0)
    lower = ramp * np.where(farther > 0, OUTER_SHARE, 1.0 - OUTER_SHARE)
    share = np.where(down, lower, 1.0 - lower)
    outer = (rows.row[rows.after] == rows.row) | (rows.row[rows.before] == rows.row)
    share = np.where(outer[nodes_a], np.minimum(share, 0.5), share)
    share = np.where(outer[nodes_b], np.maximum(share, 0.5), share)
    share = np.where(nodes_a % 2 == nodes_b % 2, share, 0.5)
    # over two rows, at the foot of a hidden way, the turn lies nearer to one, and only the other fans
    apart = np.abs(rows.row[nodes_b] - rows.row[nodes_a]) > 1
    share = np.where(apart, np.where(down, NEARER, 1.0 - NEARER), share)
    second = np.where(share == 0.5, down, share < 0.5)
    return share, np.column_stack([~second, second])


def _lengths(rows: Rows, walk: Walk) -> tuple[Array, Ints]:
    """Length of outline and number of pieces that end on the row they began on, up to every place of the walk."""
    a, b = walk.nodes[:-1], walk.nodes[1:]
    gap = np.where(rows.after[a] == b, rows.gap[a], rows.gap[b])
    gap[walk.is_row] = 0.0
    level = (rows.row[a] == rows.row[b]) & ~walk.is_row
    return np.concatenate([[0.0], np.cumsum(gap)]), np.concatenate([[0], np.cumsum(level)])


def _bridged(walk: Walk, end: Ints, bridge: Bridge) -> int:
    """Which turn leads over the bridge; ``end`` is where each turn ends in the walk."""
    over = np.isin(walk.nodes, [bridge.near, bridge.into])
    step = np.flatnonzero(over[:-1] & over[1:] & ~walk.is_row)
    return int(np.searchsorted(end, step[0], side="right"))


def _over(rows: Rows, nodes: Ints, tip: Array, settings: TatamiSettings, bridge: Bridge) -> tuple[Array, bool]:
    """The way through ``nodes`` that leads over the bridge: hidden travel."""
    over = np.isin(nodes, [bridge.near, bridge.into])
    step = int(np.flatnonzero(over[:-1] & over[1:])[0]) + 1
    points = bridge.points if nodes[step] == bridge.into else bridge.points[::-1]
    ways = outline_way(rows, nodes[:step]), points, outline_way(rows, nodes[step:])
    return spaced(without_repeats(np.vstack([tip[nodes[:1]], *ways, tip[nodes[-1:]]])), settings.travel_mm), True


def _way(rows: Rows, nodes: Ints, length_mm: float, tip: Array, settings: TatamiSettings) -> tuple[Array, bool]:
    """A way along the outline through ``nodes``, and whether it is hidden travel, inset; else on the very edge."""
    across = bool((rows.row[nodes[1:]] == rows.row[nodes[:-1]]).any())
    hidden = len(nodes) > 2 and length_mm >= HIDDEN_WAY_MM[across]
    line = _inset(rows, nodes, tip, settings, length_mm < HIDDEN_WAY_MM[1]) if hidden else None
    if line is None:
        line = _joined(tip, nodes, outline_way(rows, nodes))
    return spaced(line, settings.travel_mm if hidden else settings.stitch_mm), hidden


def _inset(rows: Rows, nodes: Ints, tip: Array, settings: TatamiSettings, short: bool) -> Array | None:
    """The way inside the edge, or None where the fill is too crooked for one; a short one has one inner point."""
    level = rows.row[nodes[1:]] == rows.row[nodes[:-1]]
    line = inset_way(rows, nodes[0 if level[0] else 1 : None if level[-1] else -1], settings.inset_mm)
    # a way that begins or ends across a tip needs no step inside there
    line = line[int(level[0]) : len(line) - int(level[-1])]
    line = line[len(line) // 2 :][:1] if short else line
    spots = np.column_stack([rows.u[nodes], rows.v[nodes]])
    fits = rows.body(REACH_MM).covers(shapely.LineString(_joined(spots, np.array([0, -1]), line)))
    return _joined(tip, nodes, line) if fits else None


def _joined(tip: Array, nodes: Ints, line: Array) -> Array:
    """A way from the tip of the first node to that of the last, without needless points."""
    whole = without_straight(np.vstack([tip[nodes[:1]], line, tip[nodes[-1:]]]), STRAIGHT_MM)
    return np.asarray(shapely.get_coordinates(shapely.simplify(shapely.LineString(whole), 0.08)))
