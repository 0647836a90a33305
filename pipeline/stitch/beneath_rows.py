"""Ways through a fill from row end to row end: along the outline, or inside it where later rows hide them."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import shapely

from pipeline.geometry.scanline import Array, Ints
from pipeline.stitch.rows import Rows

CLEAR_MM = 0.12
"""Ways around the tip of a hole keep this far from it; more would show on the rows already sewn beside it."""


def outline_way(rows: Rows, nodes: Ints, exact: bool = False) -> Array:
    """The way along the outline through ``nodes``, each a ring neighbour or row mate of the one before, ``(n, 2)``.

    Where it leads round the tip of a hole or bay (same row, another row piece) it keeps clear of the tip, and
    where it leads round the fill's own end it takes the row instead, unless it shall be ``exact``.
    """
    spots = np.column_stack([rows.u[nodes], rows.v[nodes]])
    pieces = [spots[:1]]
    for i, (a, b) in enumerate(pairwise(nodes.tolist())):
        pieces += [_piece(rows, a, b) if exact else _between(rows, a, b), spots[i + 1 : i + 2]]
    return np.vstack(pieces)


def inset_way(rows: Rows, nodes: Ints, inset_mm: float) -> Array:
    """A way through ``nodes`` (ring neighbours or ends of one row piece), ``inset_mm`` inside along the rows."""
    left = nodes & ~1
    inset = np.minimum(inset_mm, 0.4 * (rows.u[left + 1] - rows.u[left]))
    inner = np.column_stack([rows.u[nodes] + np.where(nodes % 2, -inset, inset), rows.v[nodes]])
    tips = np.flatnonzero((rows.row[nodes[:-1]] == rows.row[nodes[1:]]) & (nodes[:-1] != nodes[1:] ^ 1))
    pieces, at = [], 0
    for i in tips.tolist():
        pieces += [inner[at : i + 1], _between(rows, int(nodes[i]), int(nodes[i + 1]))]
        at = i + 1
    return np.vstack([*pieces, inner[at:]])


def routed_way(rows: Rows, nodes: Ints, inset_mm: float, reach_mm: float) -> Array:
    """A way through ``nodes`` inside the edge, or along it where that would leave the fill by ``reach_mm``."""
    line = inset_way(rows, nodes, inset_mm)
    if len(line) < 2 or rows.body(reach_mm).covers(shapely.LineString(line)):
        return line
    return outline_way(rows, nodes)


def _piece(rows: Rows, a: int, b: int) -> Array:
    """The outline's points between two ring neighbours."""
    return rows.outline_piece(a) if rows.after[a] == b else rows.outline_piece(b)[::-1]


def _between(rows: Rows, a: int, b: int) -> Array:
    """The same, but clear of a tip and straight across the fill's own end."""
    if a ^ 1 == b:
        return np.empty((0, 2))
    line = _piece(rows, a, b)
    if rows.row[a] != rows.row[b] or not len(line):
        return line
    side = 1.0 if line[:, 1].mean() > rows.v[a] else -1.0
    return np.asarray(line + np.array([0.0, side * CLEAR_MM]))
