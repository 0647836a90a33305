"""Graphs in the plane: which places are one node, and shortest ways along edges."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import connected_components, dijkstra
from scipy.spatial import cKDTree

from pipeline.errors import BrokenPromiseError

Array = NDArray[np.float64]
Ints = NDArray[np.intp]


def nodes_of(spots: Array, near_mm: float) -> Ints:
    """A number for each of ``spots`` ``(n, 2)``, from 0 on: the same for those that hang together.

    Two spots do if their distance is at most ``near_mm``, and if a third does with both. Numbers rise in the order
    in which the places come.
    """
    pairs = cKDTree(spots).query_pairs(near_mm, output_type="ndarray")
    return components(len(spots), pairs[:, 0], pairs[:, 1])


def components(count: int, tails: Ints, heads: Ints) -> Ints:
    """For each of ``count`` nodes the number of its connected component, counted from 0 at the first node."""
    graph = coo_array((np.ones(len(tails), dtype=bool), (tails, heads)), shape=(count, count))
    return np.asarray(connected_components(csr_array(graph), directed=False)[1], dtype=np.intp)


def without_parallels(tails: Ints, heads: Ints, lengths: Array) -> Ints:
    """Indices of the shortest edge (the first of equals) between any two nodes, in the order of their nodes."""
    low, high = np.minimum(tails, heads), np.maximum(tails, heads)
    order = np.lexsort((lengths, high, low))
    order = order[(low != high)[order]]
    first = np.ones(len(order), dtype=bool)
    first[1:] = (np.diff(low[order]) != 0) | (np.diff(high[order]) != 0)
    return np.asarray(order[first])


def shortest(count: int, tails: Ints, heads: Ints, lengths: Array, sources: Ints) -> tuple[Array, Ints]:
    """Lengths of the shortest ways from sources to nodes, ``(s, count)``, and the node before each on its way.

    Edges lead both ways and are ``without_parallels``. Where no way leads the length is infinite; there and at the
    source itself the node before is negative. (Dijkstra, Numerische Mathematik 1, 1959.)
    """
    graph = csr_array((lengths, (tails, heads)), shape=(count, count))
    far, before = dijkstra(graph, directed=False, indices=sources, return_predecessors=True)
    return far, before


def traced(before: Sequence[int] | Mapping[int, int], node: int) -> list[int]:
    """The nodes of the way to ``node``, from its source, where ``before`` names the one before each."""
    way = [int(node)]
    while (node := int(before[node])) >= 0:
        way.append(node)
        if len(way) > len(before):
            raise BrokenPromiseError(f"the way to node {way[0]} goes in a circle")
    return way[::-1]


def recalled(history: Sequence[tuple[NDArray[np.integer], NDArray[np.integer]]], state: int) -> list[int]:
    """What was chosen level by level on the way to ``state`` of the last level.

    Each level of ``history`` has the state before (of the level before) and the choice of each of its states.
    """
    found = []
    for before, choice in reversed(history):
        found.append(int(choice[state]))
        state = int(before[state])
    return found[::-1]
