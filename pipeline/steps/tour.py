"""The cheapest order of visits, level by level: exact while nothing has to be dropped, a beam search beyond.

A problem is a set of nodes in groups; each group is visited once, at one of its nodes, and some groups come
before others. A state is the set of groups visited and the last node; of equal states the cheapest stays
(M. Held and R. Karp, "A dynamic programming approach to sequencing problems", J. SIAM 10(1), 1962).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.graph import recalled

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

MOST_GROUPS = 62
"""Groups that fit into one machine word as a set."""


@dataclass(frozen=True, eq=False)
class Problem:
    """``group`` ``(m,)`` of each node, ``first`` ``(m,)`` and ``last`` ``(m,)`` the costs of beginning and ending
    there, ``cost`` ``(m, m)`` of going from node to node, ``before`` ``(n, n)``: row u marks what precedes u."""

    group: Ints
    first: Floats
    last: Floats
    cost: Floats
    before: Flags


def best_tour(problem: Problem, width: int) -> tuple[Ints, bool]:
    """The nodes of the cheapest tour found, in order, and whether it is proved the cheapest.

    At most ``MOST_GROUPS`` groups.
    """
    count = len(problem.before)
    bit = np.int64(1) << np.arange(count, dtype=np.int64)
    needs = (problem.before * bit[None, :]).sum(axis=1)
    node_bit, node_needs = bit[problem.group], needs[problem.group]
    coming = _least_coming(problem)
    start = np.flatnonzero(node_needs == 0)
    sets, last, cost = node_bit[start], start, problem.first[start]
    ahead = coming.sum() - coming[problem.group[start]]
    history: list[tuple[Ints, Ints]] = [(np.full(len(start), -1), last)]
    exact = True
    for _ in range(1, count):
        total = cost[:, None] + problem.cost[last]
        shut = ((sets[:, None] & node_bit[None, :]) != 0) | ((node_needs[None, :] & ~sets[:, None]) != 0)
        state, node = np.nonzero(~shut & np.isfinite(total))
        reached, price = sets[state] | node_bit[node], total[state, node]
        left = ahead[state] - coming[problem.group[node]]
        keep, dropped = _kept(reached, node, price, price + left, width)
        exact &= not dropped
        history.append((state[keep], node[keep]))
        sets, last, cost, ahead = reached[keep], node[keep], price[keep], left[keep]
    return np.array(recalled(history, int(np.argmin(cost + problem.last[last])))), exact


def _least_coming(problem: Problem) -> Floats:
    """What coming to each group costs at least: for judging how promising a state is."""
    other = problem.group[:, None] != problem.group[None, :]
    node = np.where(other, problem.cost, np.inf).min(axis=0, initial=np.inf)
    least = np.full(len(problem.before), np.inf)
    np.minimum.at(least, problem.group, node)
    return np.where(np.isfinite(least), least, 0.0)


def _kept(sets: Ints, node: Ints, price: Floats, promise: Floats, width: int) -> tuple[Ints, bool]:
    """Indices of the cheapest of equal states, at most ``width`` of them, and whether more were dropped."""
    order = np.lexsort((price, node, sets))
    new = np.ones(len(order), dtype=np.bool_)
    new[1:] = (sets[order][1:] != sets[order][:-1]) | (node[order][1:] != node[order][:-1])
    single = order[new]
    if len(single) <= width:
        return single, False
    return single[np.argsort(promise[single], kind="stable")[:width]], True
