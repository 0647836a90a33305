"""A walk over a connected graph of lines that doubles as little length as possible.

The Chinese-postman route between two given places (Edmonds & Johnson, Mathematical Programming 5, 1973):
the doubled lines are a shortest join of the nodes of wrong parity. In a tree that join is unique; elsewhere
a shortest perfect matching is found, exactly up to ``MANY`` nodes; in larger nets the nearest are paired and pairs
exchanged while that helps. Then any Euler trail is as short as can be.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra
from shapely.geometry import LineString, MultiLineString, Point

from pipeline.geometry.matching import perfect_matching
from pipeline.geometry.polyline import Array, length, ring, without_repeats
from pipeline.model import Line, Spot

SAME_MM = 1e-5
"""Points nearer than this are one node; lines promise to share their ends exactly."""
MANY = 120
"""Above so many nodes an exact matching takes over half a second; exchanging pairs makes the walk longer by up to a
hundredth."""


@dataclass(frozen=True, eq=False)
class Leg:
    """A stretch of the walk from node to node: its line as walked, and whether it was walked before."""

    points: Array
    again: bool
    edge: int
    flipped: bool


@dataclass(frozen=True, eq=False)
class Edge:
    """A line between two nodes."""

    tail: int
    head: int
    points: Array
    length: float


def walk(lines: tuple[Line, ...], start: Spot, end: Spot, snap_mm: float) -> list[Leg]:
    """The legs of the shortest walk over all ``lines`` from the place nearest ``start`` to that nearest ``end``.

    A place within ``snap_mm`` of a line's end counts as that end. Lines that do not hang together are joined
    by the shortest straight links first.
    """
    tracks = [without_repeats(ring(line.points) if line.closed else line.points, SAME_MM) for line in lines]
    tracks = _joined([track for track in tracks if len(track) > 1])
    if not tracks:
        return []
    tracks, first = _entered(tracks, start, snap_mm)
    tracks, last = _entered(tracks, end, snap_mm)
    edges, ends = _edges(tracks, np.array([first, last]))
    return _trail(edges, _doubled(edges, ends), ends[0])


def _joined(tracks: list[Array]) -> list[Array]:
    """``tracks`` with straight links between those that do not touch, shortest first."""
    while len(tracks) > 1:
        group = _groups(tracks)
        if group.max() == 0:
            break
        inside = MultiLineString([t for t, g in zip(tracks, group, strict=True) if g == 0])
        outside = MultiLineString([t for t, g in zip(tracks, group, strict=True) if g != 0])
        link = shapely.get_coordinates(shapely.shortest_line(inside, outside))
        tracks = _entered(tracks, tuple(link[0]), 0.0, group == 0)[0]
        tracks = _entered(tracks, tuple(link[1]), 0.0, group != 0)[0]
        tracks.append(link)
    return tracks


def _groups(tracks: list[Array]) -> NDArray[np.int_]:
    """For every track the number of the connected group it belongs to, counted from 0 at the first track."""
    ids = np.split(_vertex_ids(tracks), np.cumsum([len(t) for t in tracks])[:-1])
    group = np.arange(len(tracks))
    owner: dict[int, int] = {}
    for number, own in enumerate(ids):
        touched = {int(group[owner[v]]) for v in own.tolist() if v in owner} | {int(group[number])}
        group[np.isin(group, sorted(touched))] = min(touched)
        owner.update(dict.fromkeys(own.tolist(), number))
    return np.unique(group, return_inverse=True)[1]


def _vertex_ids(tracks: list[Array]) -> NDArray[np.int_]:
    """One number for all vertices at the same place, in the order of the stacked tracks."""
    return np.unique(np.rint(np.vstack(tracks) / SAME_MM), axis=0, return_inverse=True)[1].reshape(-1)


def _entered(
    tracks: list[Array], spot: Spot, snap_mm: float, among: NDArray[np.bool_] | None = None
) -> tuple[list[Array], Array]:
    """``tracks`` with a vertex at the place nearest ``spot``, and that place."""
    far = np.array([LineString(track).distance(Point(spot)) for track in tracks])
    chosen = int(np.argmin(far if among is None else np.where(among, far, np.inf)))
    track = tracks[chosen]
    line = LineString(track)
    along = line.project(Point(spot))
    is_open = bool(np.any(track[0] != track[-1]))
    if is_open and min(along, line.length - along) <= snap_mm:
        return tracks, track[0] if along <= line.length / 2 else track[-1]
    place = shapely.get_coordinates(line.interpolate(along))[0]
    steps = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(track, axis=0).T))])
    near = int(np.argmin(np.abs(steps - along)))
    if abs(steps[near] - along) <= max(snap_mm / 4, SAME_MM):
        return tracks, track[near]
    grown = np.insert(track, int(np.searchsorted(steps, along)), place, axis=0)
    return [*tracks[:chosen], grown, *tracks[chosen + 1 :]], place


def _edges(tracks: list[Array], places: Array) -> tuple[list[Edge], tuple[int, int]]:
    """The tracks cut wherever they meet or end and at ``places``; and the nodes of the two places."""
    numbered = _vertex_ids([*tracks, places])
    ids = np.split(numbered[:-2], np.cumsum([len(t) for t in tracks])[:-1])
    degree = np.zeros(numbered.max() + 1, dtype=int)
    for own in ids:
        np.add.at(degree, own[:-1], 1)
        np.add.at(degree, own[1:], 1)
    is_node = degree != 2
    is_node[numbered[-2:]] = True
    for own in ids:
        if own[0] != own[-1]:
            is_node[own[[0, -1]]] = True
    edges = []
    for track, own in zip(tracks, ids, strict=True):
        cuts = np.flatnonzero(is_node[own])
        if own[0] == own[-1] and len(cuts) and cuts[0] != 0:  # a ring entered elsewhere than at its first point
            track = np.vstack([track[cuts[0] :], track[1 : cuts[0] + 1]])
            own = np.concatenate([own[cuts[0] :], own[1 : cuts[0] + 1]])
            cuts = np.flatnonzero(is_node[own])
        for a, b in pairwise(cuts.tolist()):
            piece = track[a : b + 1]
            edges.append(Edge(int(own[a]), int(own[b]), piece, length(piece)))
    nodes = {node: number for number, node in enumerate(dict.fromkeys(v for e in edges for v in (e.tail, e.head)))}
    edges = [Edge(nodes[e.tail], nodes[e.head], e.points, e.length) for e in edges]
    return edges, (nodes[int(numbered[-2])], nodes[int(numbered[-1])])


def _doubled(edges: list[Edge], ends: tuple[int, int]) -> NDArray[np.bool_]:
    """Which edges are walked twice: a shortest join of the nodes whose parity is wrong."""
    count = 1 + max(max(edge.tail, edge.head) for edge in edges)
    degree = np.zeros(count, dtype=int)
    best: dict[tuple[int, int], int] = {}
    for number, edge in enumerate(edges):
        degree[edge.tail] += 1
        degree[edge.head] += 1
        pair = (min(edge.tail, edge.head), max(edge.tail, edge.head))
        if edge.tail != edge.head and (pair not in best or edge.length < edges[best[pair]].length):
            best[pair] = number
    degree[ends[0]] += 1
    degree[ends[1]] += 1
    odd = np.flatnonzero(degree % 2)
    twice = np.zeros(len(edges), dtype=bool)
    if not len(odd):
        return twice
    pairs = np.array(sorted(best))
    weights = np.array([edges[best[a, b]].length for a, b in pairs.tolist()])
    graph = csr_array((weights, (pairs[:, 0], pairs[:, 1])), shape=(count, count))
    is_tree = len(edges) == count - 1
    sources = odd[:1] if is_tree else odd
    far, before = dijkstra(graph, directed=False, indices=sources, return_predecessors=True)
    matched = perfect_matching if len(odd) <= MANY else _exchanged
    partners = [(0, k) for k in range(1, len(odd))] if is_tree else matched(far[:, odd])
    for a, b in partners:
        node = int(odd[b])
        while node != odd[a]:
            back = int(before[a, node])
            twice[best[min(node, back), max(node, back)]] ^= True
            node = back
    return twice


def _exchanged(cost: Array) -> list[tuple[int, int]]:
    """A short perfect matching of many nodes: nearest first, then partners swapped between pairs while it helps."""
    one, two = _nearest_first(cost)
    for _ in range(len(one)):
        own = cost[one, two]
        kept = own[:, None] + own[None, :]
        across = cost[np.ix_(one, one)] + cost[np.ix_(two, two)]
        crossed = cost[np.ix_(one, two)] + cost[np.ix_(one, two)].T
        gain = np.triu(kept - np.minimum(across, crossed), 1)
        first, second = np.nonzero(gain > SAME_MM)
        if not len(first):
            break
        free = np.ones(len(one), dtype=bool)
        for k in np.argsort(-gain[first, second], kind="stable").tolist():
            a, b = first[k], second[k]
            if free[a] and free[b]:
                free[a] = free[b] = False
                if across[a, b] <= crossed[a, b]:
                    two[a], one[b] = one[b], two[a]
                else:
                    two[a], two[b] = two[b], two[a]
    return list(zip(one.tolist(), two.tolist(), strict=True))


def _nearest_first(cost: Array) -> tuple[NDArray[np.int_], NDArray[np.int_]]:
    """Pairs of rows, always the two nearest that are left."""
    rows, columns = np.triu_indices(len(cost), 1)
    order = np.argsort(cost[rows, columns], kind="stable")
    free = [True] * len(cost)
    pairs = []
    for a, b in zip(rows[order].tolist(), columns[order].tolist(), strict=True):
        if free[a] and free[b]:
            free[a] = free[b] = False
            pairs.append((a, b))
            if 2 * len(pairs) == len(cost):
                break
    found = np.array(pairs, dtype=np.int_)
    return found[:, 0].copy(), found[:, 1].copy()


def _trail(edges: list[Edge], twice: NDArray[np.bool_], first: int) -> list[Leg]:
    """An Euler trail over all edges, the doubled ones twice (Hierholzer 1873)."""
    copies = [n for n in range(len(edges)) for _ in range(1 + int(twice[n]))]
    leaving: dict[int, list[int]] = {}
    for copy in reversed(range(len(copies))):
        edge = edges[copies[copy]]
        leaving.setdefault(edge.tail, []).append(copy)
        if edge.tail != edge.head:
            leaving.setdefault(edge.head, []).append(copy)
    used = [False] * len(copies)
    stack: list[tuple[int, int]] = [(first, -1)]
    route: list[tuple[int, int]] = []
    while stack:
        node, _ = stack[-1]
        choices = leaving.get(node, [])
        while choices and used[choices[-1]]:
            choices.pop()
        if not choices:
            route.append(stack.pop())
            continue
        copy = choices.pop()
        used[copy] = True
        edge = edges[copies[copy]]
        stack.append((edge.head if edge.tail == node else edge.tail, copy))
    return _legs(edges, copies, route[::-1])


def _legs(edges: list[Edge], copies: list[int], route: list[tuple[int, int]]) -> list[Leg]:
    seen: set[int] = set()
    legs = []
    for (node, _), (_, copy) in pairwise(route):
        number = copies[copy]
        edge = edges[number]
        flipped = edge.tail != node
        legs.append(Leg(edge.points[::-1] if flipped else edge.points, number in seen, number, flipped))
        seen.add(number)
    return legs
