"""The perfect matching of least cost in a complete graph, exactly.

Edmonds' primal-dual method (J. Edmonds, "Paths, trees, and flowers", Canadian Journal of Mathematics 17, 1965)
with labels on vertices and odd sets (blossoms) and a slack kept for each set, which takes n³ steps. Costs are whole
numbers of ``UNIT``, so that labels and slacks compare exactly.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

UNIT = 1e-7
"""Costs are rounded to this: far below any length that matters, far above what a float of some metres loses."""

OUTER, INNER, FREE = 0, 1, -1


def perfect_matching(cost: NDArray[np.float64]) -> list[tuple[int, int]]:
    """The pairs of rows (the smaller first, in order) of a symmetric ``cost`` ``(n, n)``, n even, not negative."""
    count = len(cost)
    whole = np.rint(np.asarray(cost) / UNIT).astype(object)
    most = int(whole.max(initial=0)) * (count + 1) + 1  # a pair more outweighs any lengths saved
    weights = [[0] * (count + 1)] + [[0, *(2 * (most - one) for one in row)] for row in whole.tolist()]
    forest = _Forest(weights)
    while forest.grow():
        pass
    return [(a - 1, forest.match[a] - 1) for a in range(1, count + 1) if a < forest.match[a]]


class _Forest:
    """Alternating trees over vertices 1 to ``n`` and blossoms above; 0 means none.

    ``edge[a][b]`` is the tightest edge between the vertices of ``a`` and of ``b`` as a pair of vertices. ``top`` is
    the outermost blossom of a vertex or blossom, ``sort`` of such a one OUTER, INNER or FREE; ``parent`` is the
    vertex from which an inner one was reached, ``slack`` the outer vertex nearest to it.
    """

    def __init__(self, weights: list[list[int]]) -> None:
        self.n = len(weights) - 1
        size = self.n + self.n // 2 + 2
        self.weights = weights
        self.used = self.n
        self.edge = [[(a, b) for b in range(size)] for a in range(size)]
        self.label = [max(map(max, weights)) // 2] * (self.n + 1) + [0] * (size - self.n - 1)
        self.match = [0] * size
        self.slack = [0] * size
        self.top = [*range(self.n + 1)] + [0] * (size - self.n - 1)
        self.parent = [0] * size
        self.sort = [FREE] * size
        self.seen = [0] * size
        self.round = 0
        self.petals: list[list[int]] = [[] for _ in range(size)]
        self.inside = [[a if a == x else 0 for x in range(self.n + 1)] for a in range(size)]
        self.queue: list[int] = []

    def grow(self) -> bool:
        """One more pair; whether there was one to make."""
        for x in range(self.used + 1):
            self.sort[x], self.slack[x] = FREE, 0
        self.queue = []
        for x in range(1, self.used + 1):
            if self.top[x] == x and not self.match[x]:
                self.parent[x], self.sort[x] = 0, OUTER
                self._enqueue(x)
        if not self.queue:
            return False
        while not self._scan() and not self._relabel():
            pass
        return True

    def _excess(self, a: int, b: int) -> int:
        """How far the tightest edge between ``a`` and ``b`` is from being tight."""
        u, v = self.edge[a][b]
        return self.label[u] + self.label[v] - self.weights[u][v]

    def _scan(self) -> bool:
        """Follow the tight edges from outer vertices; whether a pair was made."""
        label, top, slack = self.label, self.top, self.slack
        while self.queue:
            u = self.queue.pop()
            if self.sort[top[u]] == INNER:
                continue
            own, row = label[u], self.weights[u]
            for v in range(1, self.n + 1):
                x = top[v]
                if x == top[u]:
                    continue
                excess = own + label[v] - row[v]
                if excess == 0:
                    if self._found(u, v):
                        return True
                elif not slack[x] or excess < self._excess(slack[x], x):
                    self._slacken(u, x)
        return False

    def _slacken(self, u: int, x: int) -> None:
        if not self.slack[x] or self._excess(u, x) < self._excess(self.slack[x], x):
            self.slack[x] = u

    def _relabel(self) -> bool:
        """Change the labels by as much as keeps every edge and blossom in order; whether a pair was made."""
        tops = [x for x in range(1, self.used + 1) if self.top[x] == x]
        steps = [self.label[b] // 2 for b in tops if b > self.n and self.sort[b] == INNER]
        for x in tops:
            if self.slack[x] and self.sort[x] != INNER:
                excess = self._excess(self.slack[x], x)
                steps.append(excess if self.sort[x] == FREE else excess // 2)
        step = min(steps)
        for u in range(1, self.n + 1):
            self.label[u] += (-step, step, 0)[self.sort[self.top[u]]]
        for b in tops:
            if b > self.n:
                self.label[b] += (2 * step, -2 * step, 0)[self.sort[b]]
        for x in tops:
            tight = self.slack[x] and self.top[self.slack[x]] != x and self._excess(self.slack[x], x) == 0
            if tight and self.top[x] == x and self._found(*self.edge[self.slack[x]][x]):
                return True
        for b in range(self.n + 1, self.used + 1):
            if self.top[b] == b and self.sort[b] == INNER and self.label[b] == 0:
                self._expand(b)
        return False

    def _found(self, a: int, b: int) -> bool:
        """Take in the tight edge from the outer vertex ``a`` to the vertex ``b``; whether it makes a pair."""
        u, v = self.top[a], self.top[b]
        if self.sort[v] == FREE:
            self.parent[v], self.sort[v] = a, INNER
            mate = self.top[self.match[v]]
            self.slack[v] = self.slack[mate] = 0
            self.sort[mate] = OUTER
            self._enqueue(mate)
        elif self.sort[v] == OUTER:
            root = self._meeting(u, v)
            if not root:
                self._augment(u, v)
                self._augment(v, u)
                return True
            self._shrink(u, root, v)
        return False

    def _enqueue(self, x: int) -> None:
        if x <= self.n:
            self.queue.append(x)
        for petal in self.petals[x]:
            self._enqueue(petal)

    def _meeting(self, u: int, v: int) -> int:
        """Where the ways from two outer blossoms to their roots meet, if they do."""
        self.round += 1
        while u or v:
            if u:
                if self.seen[u] == self.round:
                    return u
                self.seen[u] = self.round
                u = self.top[self.match[u]]
                u = self.top[self.parent[u]] if u else 0
            u, v = v, u
        return 0

    def _raise(self, x: int, top: int) -> None:
        self.top[x] = top
        for petal in self.petals[x]:
            self._raise(petal, top)

    def _turned(self, b: int, petal: int) -> int:
        """The even place of ``petal`` in the blossom ``b``, which is walked the other way round if need be."""
        petals = self.petals[b]
        place = petals.index(petal)
        if place % 2:
            petals[1:] = petals[:0:-1]
            return len(petals) - place
        return place

    def _pair(self, u: int, v: int) -> None:
        """Match ``u`` to ``v``, and what is in ``u`` accordingly."""
        a, b = self.edge[u][v]
        self.match[u] = b
        if u > self.n:
            petal = self.inside[u][a]
            place = self._turned(u, petal)
            petals = self.petals[u]
            for k in range(place):
                self._pair(petals[k], petals[k ^ 1])
            self._pair(petal, v)
            petals[:] = petals[place:] + petals[:place]

    def _augment(self, u: int, v: int) -> None:
        """Swap matched and unmatched edges on the way from ``u`` to its root, ``v`` being its new partner."""
        while True:
            after = self.top[self.match[u]]
            self._pair(u, v)
            if not after:
                return
            self._pair(after, self.top[self.parent[after]])
            u, v = self.top[self.parent[after]], after

    def _shrink(self, u: int, root: int, v: int) -> None:
        """Make one outer blossom of the ways from ``u`` and ``v`` to where they meet."""
        b = self.n + 1
        while b <= self.used and self.top[b]:
            b += 1
        self.used = max(self.used, b)
        self.label[b], self.sort[b], self.match[b] = 0, OUTER, self.match[root]
        petals = [root]
        for start in (u, v):
            petals[1:] = petals[:0:-1]
            x = start
            while x != root:
                mate = self.top[self.match[x]]
                petals += [x, mate]
                self._enqueue(mate)
                x = self.top[self.parent[mate]]
        self.petals[b] = petals
        self._raise(b, b)
        for x in range(1, self.used + 1):
            best = min(petals, key=lambda petal: self._excess(petal, x))
            self.edge[b][x], self.edge[x][b] = self.edge[best][x], self.edge[x][best]
        self.inside[b] = [0] * (self.n + 1)
        for petal in petals:
            for x in range(1, self.n + 1):
                if self.inside[petal][x]:
                    self.inside[b][x] = petal
        self._slack_of(b)

    def _slack_of(self, x: int) -> None:
        self.slack[x] = 0
        for u in range(1, self.n + 1):
            if self.top[u] != x and self.sort[self.top[u]] == OUTER:
                self._slacken(u, x)

    def _expand(self, b: int) -> None:
        """Take an inner blossom whose label is used up apart."""
        petals = self.petals[b]
        for petal in petals:
            self._raise(petal, petal)
        entry = self.inside[b][self.edge[b][self.parent[b]][0]]
        place = self._turned(b, entry)
        for k in range(0, place, 2):
            one, two = petals[k], petals[k + 1]
            self.parent[one] = self.edge[two][one][0]
            self.sort[one], self.sort[two] = INNER, OUTER
            self.slack[one] = 0
            self._slack_of(two)
            self._enqueue(two)
        self.sort[entry], self.parent[entry] = INNER, self.parent[b]
        for petal in petals[place + 1 :]:
            self.sort[petal] = FREE
            self._slack_of(petal)
        self.top[b] = 0
        self.petals[b] = []
