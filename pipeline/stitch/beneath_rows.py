"""Ways through a fill from row end to row end: along the outline, or inside it where later rows hide them."""

from __future__ import annotations

import numpy as np

from pipeline.geometry.scanline import Array, Ints
from pipeline.stitch.rows import Rows

CLEAR_MM = 0.12
"""Ways around the tip of a hole keep this far from it; more would show on the rows already sewn beside it."""


def outline_way(rows: Rows, nodes: Ints) -> Array:
    """The way along the outline through ``nodes``, each a ring neighbour of the one before it, ``(n, 2)``.

    Where it leads round the tip of a hole or bay (same row, another row piece) it keeps clear of the tip.
    """
    pieces = []
    for a, b in zip(nodes[:-1].tolist(), nodes[1:].tolist(), strict=True):
        pieces.append([[rows.u[a], rows.v[a]]])
        pieces.append(_between(rows, a, b))
    pieces.append([[rows.u[nodes[-1]], rows.v[nodes[-1]]]])
    return np.vstack(pieces)


def inset_way(rows: Rows, nodes: Ints, inset_mm: float) -> Array:
    """A way through ``nodes`` (ring neighbours or ends of one row piece) that stays ``inset_mm`` inside along rows."""
    left = nodes & ~1
    inset = np.minimum(inset_mm, 0.4 * (rows.u[left + 1] - rows.u[left]))
    inner = np.column_stack([rows.u[nodes] + np.where(nodes % 2, -inset, inset), rows.v[nodes]])
    tips = np.flatnonzero((rows.row[nodes[:-1]] == rows.row[nodes[1:]]) & (nodes[:-1] != nodes[1:] ^ 1))
    pieces, at = [], 0
    for i in tips.tolist():
        pieces += [inner[at : i + 1], _between(rows, int(nodes[i]), int(nodes[i + 1]))]
        at = i + 1
    return np.vstack([*pieces, inner[at:]])


def _between(rows: Rows, a: int, b: int) -> Array:
    """The outline's points between two ring neighbours; round a tip they are moved into the fill."""
    forward = rows.after[a] == b
    line = rows.outline_piece(a) if forward else rows.outline_piece(b)[::-1]
    if rows.row[a] != rows.row[b] or not len(line):
        return line
    if a ^ 1 == b:
        return line[:0]
    side = np.sign(line[:, 1].mean() - rows.v[a])
    return line + np.array([0.0, side * CLEAR_MM])
