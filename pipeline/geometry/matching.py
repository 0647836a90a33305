"""The perfect matching of least cost in a complete graph.

J. Edmonds, "Paths, trees, and flowers", Canadian Journal of Mathematics 17, 1965. Costs are whole numbers of
``UNIT``, so that they compare exactly.
"""

from __future__ import annotations

import numpy as np
import rustworkx as rx
from numpy.typing import NDArray

UNIT = 1e-7
"""Costs are rounded to this: far below any length that matters, far above what a float of some metres loses."""
MANY = 200
"""Up to so many rows every pair may be matched: exact, 0.08 s at most."""
NEAREST = 24
"""With more, partners are sought among the nearest of each row: 800 rows take 0.3 s, all their pairs would 8 s."""


def perfect_matching(cost: NDArray[np.float64]) -> list[tuple[int, int]]:
    """The pairs of rows (the smaller first, in order) of a symmetric ``cost`` ``(n, n)``, n even, not negative.

    Of equally cheap matchings it is always the same one, whatever the solver and the machine.
    """
    count = len(cost)
    one, other = _candidates(cost)
    whole = np.rint(cost[one, other] / UNIT).astype(np.int64)
    aside = _scattered(one * count + other)
    share = max(1, count // 2) << 32  # more than all that ties are settled by
    most = int(whole.max(initial=0)) + 1
    weights = [(most - c) * share - a for c, a in zip(whole.tolist(), aside.tolist(), strict=True)]
    graph = rx.PyGraph(multigraph=False)
    graph.add_nodes_from(range(count))
    graph.add_edges_from(list(zip(one.tolist(), other.tolist(), weights, strict=True)))
    found = rx.max_weight_matching(graph, max_cardinality=True, weight_fn=int)
    return sorted((min(pair), max(pair)) for pair in found)


def _candidates(cost: NDArray[np.float64]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """The pairs that may be matched, the smaller row first."""
    count = len(cost)
    if count <= MANY:
        return np.triu_indices(count, 1)
    may = np.zeros(cost.shape, dtype=bool)
    np.put_along_axis(may, np.argsort(cost, axis=1, kind="stable")[:, : NEAREST + 1], True, axis=1)
    rows = np.arange(count - 1)
    may[rows, rows + 1] = True  # so that a perfect matching exists
    one, other = np.nonzero(np.triu(may | may.T, 1))
    return one, other


def _scattered(numbers: NDArray[np.intp]) -> NDArray[np.uint64]:
    """32 bits for each number that look random: with such a share added no two matchings cost the same.

    (The isolation lemma: Mulmuley, Vazirani & Vazirani, Combinatorica 7, 1987; the mixing is SplitMix64's: Steele,
    Lea & Flood, OOPSLA 2014.)
    """
    mixed = (numbers.astype(np.uint64) + np.uint64(1)) * np.uint64(0x9E3779B97F4A7C15)
    for shift, factor in ((30, 0xBF58476D1CE4E5B9), (27, 0x94D049BB133111EB)):
        mixed = (mixed ^ (mixed >> np.uint64(shift))) * np.uint64(factor)
    return mixed >> np.uint64(32)
