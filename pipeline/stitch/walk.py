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
from scipy.sparse.csgraph import breadth_first_order, minimum_spanning_tree

from pipeline.errors import BrokenPromiseError
from pipeline.geometry.scanline import Array, Ints
from pipeline.stitch.rows import Bridge, Flags, Rows

LONG_MM = 0.8
"""Outline pieces longer than this count as cost of their own when alternatives are weighed."""
NONE: Ints = np.empty(0, dtype=np.int64)
SWEEPS = 12
"""Rounds of improving the rings' choices one by one; they settle in three or four, more would only cost time."""


@dataclass(frozen=True, eq=False)
class Walk:
    """``nodes`` (n,) in order and, for each of the n - 1 steps, whether it is a row (else an outline piece)."""

    nodes: Ints
    is_row: Flags


def walked(rows: Rows, first: int, last: int, bridge: Bridge | None = None) -> Walk:
    """The walk over every row from node ``first`` to node ``last``.

    Both must lie on one ring, an odd number of places apart (see ``may_join``); with a ``bridge`` that holds for
    ``first`` and the bridge's near end.
    """
    mate = _mates(rows, first, last if bridge is None else bridge.near)
    if bridge is not None:
        mate[[bridge.near, bridge.into, last]] = bridge.into, bridge.near, -1
    way = _ways(mate, first, last)
    if way.max() < 2:
        return _trail(mate, first, way == 0)
    return _trail(mate, first, *_rooted(rows, way, _hops(rows, way // 2)))


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


def _ways(mate: Ints, first: int, last: int) -> Ints:
    """A number for every node, equal for those from which rows are begun on the same trail or loop.

    The trail from ``first`` has 0, the same from its other end 1, every loop an even number one way round and
    the next odd one the other way. A plain loop over lists, for following links cannot be vectorised.
    """
    begun = np.arange(len(mate)) ^ 1
    onward = mate[begun].tolist()
    way = [-1] * len(onward)
    number = 0
    for pair in ((first, last), *zip(range(0, len(way), 2), range(1, len(way), 2), strict=True)):
        if way[pair[0]] >= 0:
            continue
        for node in pair:
            while node >= 0 and way[node] < 0:
                way[node] = number
                node = onward[node]
            number += 1
    return np.array(way)


def _hops(rows: Rows, loop: Ints) -> Ints:
    """Start nodes of the outline pieces that hang all loops on the trail, at least length first.

    ``loop`` numbers the loop of every node, 0 for the trail.
    """
    count = int(loop.max()) + 1
    a, b = loop, loop[rows.after]
    open_ = np.flatnonzero(a != b)
    low, high = np.minimum(a, b)[open_], np.maximum(a, b)[open_]
    # left ends are preferred a little, so that a chain of loops is travelled along one side
    weight = rows.gap[open_] * (1.0 + 0.05 * (open_ % 2)) + 1e-6
    key = low * count + high
    order = np.lexsort((weight, key))
    _, unique = np.unique(key[order], return_index=True)
    best = order[unique]
    graph = coo_array((weight[best], (low[best], high[best])), shape=(count, count))
    tree = minimum_spanning_tree(csr_array(graph)).tocoo()
    wanted = np.minimum(tree.row, tree.col).astype(np.int64) * count + np.maximum(tree.row, tree.col)
    return np.sort(open_[best[np.searchsorted(key[best], wanted)]])


def _rooted(rows: Rows, way: Ints, hops: Ints) -> tuple[Flags, Ints, Ints]:
    """From which nodes rows are begun, and the nodes at which each hop leaves for a loop and enters it.

    Every loop is walked in the direction in which it ends, by a row, where it is entered.
    """
    loop = way // 2
    count = int(loop.max()) + 1
    a, b = hops, rows.after[hops]
    graph = coo_array((np.ones(len(hops)), (loop[a], loop[b])), shape=(count, count))
    _, parent = breadth_first_order(csr_array(graph), 0, directed=False)
    away = parent[loop[b]] == loop[a]
    outer, inner = np.where(away, a, b), np.where(away, b, a)
    chosen = np.zeros(count, dtype=np.int64)
    chosen[loop[inner]] = way[inner ^ 1]
    return way == chosen[loop], outer, inner


def _trail(mate: Ints, first: int, begun: Flags, outer: Ints = NONE, inner: Ints = NONE) -> Walk:
    """Rows and outline pieces from ``first`` on, out over every hop and home by it when its loop is done.

    A node is visited once more than it has hops, and each visit has a number of its own. What follows each is
    then known at once; only following it is a plain loop, 0.05 µs a visit.
    """
    nodes = np.arange(len(mate))
    extra = np.bincount(np.concatenate([outer, inner]), minlength=len(mate))
    came = np.cumsum(extra + 1) - extra - 1
    go, home = came + extra, came + extra
    go[inner] = came[inner]
    came[inner] += 1
    after = np.full(int(extra.sum()) + len(mate), -1, dtype=np.int64)
    is_row = np.zeros(len(after), dtype=bool)
    after[go[begun]] = came[nodes[begun] ^ 1]
    is_row[go[begun]] = True
    ended = ~begun & (mate >= 0)
    after[go[ended]] = came[mate[ended]]
    order = np.argsort(outer, kind="stable")
    leaving, entered = outer[order], inner[order]
    visit = came[leaving] + np.arange(len(order)) - np.searchsorted(leaving, leaving)
    after[visit], after[home[entered]] = go[entered], visit + 1
    links, at, visits = after.tolist(), int(came[first]), []
    for _ in links:
        visits.append(at)
        at = links[at]
        if at < 0:
            break
    else:
        raise BrokenPromiseError("a walk over rows goes in a circle")
    return Walk(np.repeat(nodes, extra + 1)[visits], is_row[visits[:-1]])
