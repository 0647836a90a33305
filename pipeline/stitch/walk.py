"""One continuous walk over all rows of a fill: an Eulerian trail through row ends and outline pieces.

Every row is walked once. Alternate outline pieces of each ring join the row ends in pairs, which leaves one trail
from the first to the last row end and a number of loops; a spanning tree of doubled outline pieces ("hops") hangs
the loops on the trail. A loop is entered along the outline and left by a row, so that a chain of loops is travelled
through first, beneath rows still unsewn, and sewn on the way home.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import connected_components, minimum_spanning_tree

from pipeline.geometry.scanline import Array, Ints
from pipeline.stitch.rows import Flags, Rows

LONG_MM = 0.8
"""Outline pieces longer than this count as cost of their own when alternatives are weighed."""
SWEEPS = 12
"""Rounds of improving the rings' choices one by one; they settle in three or four, more would only cost time."""


@dataclass(frozen=True, eq=False)
class Walk:
    """``nodes`` (n,) in order and, for each of the n - 1 steps, whether it is a row (else an outline piece)."""

    nodes: Ints
    is_row: Flags


def walked(rows: Rows, first: int, last: int) -> Walk:
    """The walk over every row from node ``first`` to node ``last``.

    Both must lie on one ring, an odd number of places apart (see ``may_join``).
    """
    mate = _mates(rows, first, last)
    hops = _hops(rows, mate)
    return _trail(mate, hops, rows.after[hops], first, last)


def may_join(rows: Rows, first: int, last: int) -> bool:
    """Whether a walk may start at ``first`` and end at ``last``."""
    same = rows.ring[first] == rows.ring[last]
    return bool(same and (rows.place[first] - rows.place[last]) % 2)


def _mates(rows: Rows, first: int, last: int) -> Ints:
    """For every node the other end of its chosen outline piece; -1 for the walk's two ends."""
    ring = int(rows.ring[first])
    rel = (rows.place - rows.place[first]) % max(int(rows.ring_size[ring]), 1)
    beyond = rel >= rel[last]
    own_use = rel % 2 == np.where(beyond, 0, 1)
    use = np.where(rows.ring == ring, own_use, rows.place % 2 == 0)
    used = use ^ _choices(rows, use, ring)[rows.ring]
    start = np.flatnonzero(used)
    mate = np.full(len(rows.u), -1, dtype=np.int64)
    mate[start] = rows.after[start]
    mate[rows.after[start]] = start
    return mate


def _choices(rows: Rows, use: Flags, own: int) -> Flags:
    """Which rings take the other one of their two alternations; ``use`` is the first one.

    Wanted are few rows whose two turns fall on the same pair of rows, for such rows cost travel. That is an
    Ising ground state on the rings, improved ring by ring; the walk's own ring cannot choose.
    """
    rings = len(rows.ring_size)
    if rings < 2:
        return np.zeros(rings, dtype=bool)
    left = np.arange(0, len(rows.u), 2)
    facing = (rows.below[left] ^ 1) == rows.below[left + 1]
    left = left[facing & (rows.row[rows.below[left]] != rows.row[left])]
    p, q = rows.piece_below[left], rows.piece_below[left + 1]
    a, b = rows.ring[p], rows.ring[q]
    step = abs(float(rows.heights[-1] - rows.heights[0])) / max(len(rows.heights) - 1, 1)
    value = np.where(use[p] == use[q], step, -step)
    between = a != b
    bond = coo_array((value[between], (a[between], b[between])), shape=(rings, rings))
    bonds = csr_array(bond + bond.T)
    long = np.where(rows.gap > LONG_MM, rows.gap, 0.0)
    field: Array = np.bincount(rows.ring, long * np.where(use, 1.0, -1.0), minlength=rings).astype(np.float64)
    spin = np.ones(rings, dtype=np.float64)
    for _ in range(SWEEPS):
        if not _improved(spin, bonds, field, own):
            break
    return spin < 0


def _improved(spin: Array, bonds: csr_array, field: Array, own: int) -> bool:
    """One round over all rings; ``spin`` is changed in place."""
    changed = False
    starts, columns, values = bonds.indptr, bonds.indices, bonds.data
    for ring in range(len(spin)):
        if ring == own:
            continue
        part = slice(starts[ring], starts[ring + 1])
        force = field[ring] + values[part] @ spin[columns[part]]
        if spin[ring] * force > 1e-9:
            spin[ring] = -spin[ring]
            changed = True
    return changed


def _hops(rows: Rows, mate: Ints) -> Ints:
    """Start nodes of the outline pieces that hang all loops on the trail, at least length first."""
    nodes = np.arange(len(mate))
    paired = nodes[mate > nodes]
    tails = np.concatenate([nodes[::2], paired])
    heads = np.concatenate([nodes[1::2], mate[paired]])
    links = coo_array((np.ones(len(tails), dtype=np.int8), (tails, heads)), shape=(len(mate), len(mate)))
    count, group = connected_components(links, directed=False)
    if count == 1:
        return np.empty(0, dtype=np.int64)
    a, b = group[nodes], group[rows.after]
    open_ = np.flatnonzero(a != b)
    low, high = np.minimum(a, b)[open_], np.maximum(a, b)[open_]
    # left ends are preferred a little, so that a chain of loops is travelled along one side
    weight = rows.gap[open_] * (1.0 + 0.05 * (open_ % 2)) + 1e-6
    key = low.astype(np.int64) * count + high
    order = np.lexsort((weight, key))
    _, unique = np.unique(key[order], return_index=True)
    best = order[unique]
    graph = coo_array((weight[best], (low[best], high[best])), shape=(count, count))
    tree = minimum_spanning_tree(csr_array(graph)).tocoo()
    wanted = np.minimum(tree.row, tree.col).astype(np.int64) * count + np.maximum(tree.row, tree.col)
    return np.sort(open_[best[np.searchsorted(key[best], wanted)]])


def _trail(mates: Ints, heads: Ints, tails: Ints, first: int, last: int) -> Walk:
    """Follow rows and outline pieces from ``first`` to ``last``, out over every hop when it is first met.

    A plain loop over lists: one step a row end, about 0.2 µs each; following links cannot be vectorised.
    """
    mate = mates.tolist()
    hops: dict[int, list[int]] = {}
    for a, b in zip(heads.tolist(), tails.tolist(), strict=True):
        hops.setdefault(a, []).append(b)
        hops.setdefault(b, []).append(a)
    nodes, is_row = [first], []
    home: list[tuple[int, int, bool]] = []
    node, by_row, goal = first, False, -1
    while True:
        if hops.get(node):
            loop = hops[node].pop()
            hops[loop].remove(node)
            home.append((node, goal, by_row))
            node, goal, by_row = loop, loop, True
            nodes.append(node)
            is_row.append(False)
        elif by_row and node == last and not home:
            return Walk(np.array(nodes), np.array(is_row, dtype=bool))
        node = mate[node] if by_row else node ^ 1
        by_row = not by_row
        nodes.append(node)
        is_row.append(by_row)
        if by_row and node == goal:
            node, goal, by_row = home.pop()
            nodes.append(node)
            is_row.append(False)
