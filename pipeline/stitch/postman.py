"""A walk over a connected graph of lines that doubles as little length as possible.

The Chinese-postman route between two given places (Edmonds & Johnson, Mathematical Programming 5, 1973):
the doubled lines are a shortest join of the nodes of wrong parity. In a tree that join is unique; elsewhere
a shortest perfect matching is found. Then any Euler trail is as short as can be.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiLineString, Point

from pipeline.errors import BrokenPromiseError
from pipeline.geometry.graph import Ints, components, nodes_of, shortest, traced, without_parallels
from pipeline.geometry.matching import perfect_matching
from pipeline.geometry.polyline import Array, length, ring, stations, without_repeats
from pipeline.model import Line, Spot

SAME_MM = 1e-5
"""Points nearer than this are one node; lines promise to share their ends exactly."""


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
    tracks = [track for track in tracks if len(track) > 1]
    if not tracks:
        return []
    tracks = _joined(tracks)
    tracks, first = _entered(tracks, start, snap_mm)
    tracks, last = _entered(tracks, end, snap_mm)
    edges, ends = _edges(tracks, np.array([first, last]))
    return _trail(edges, _doubled(edges, ends), ends[0])


def _joined(tracks: list[Array]) -> list[Array]:
    """``tracks`` with straight links between those that do not touch, shortest first: each makes two groups one."""
    for _ in range(len(tracks)):
        group = _groups(tracks)
        if group.max() == 0:
            return tracks
        inside, outside = (
            MultiLineString([t for t, own in zip(tracks, mine, strict=True) if own])
            for mine in (group == 0, group != 0)
        )
        link = shapely.get_coordinates(shapely.shortest_line(inside, outside))
        tracks, here = _entered(tracks, tuple(link[0]), 0.0, group == 0)
        tracks, there = _entered(tracks, tuple(link[1]), 0.0, group != 0)
        tracks.append(np.array([here, there]))
    raise BrokenPromiseError("lines of a run that do not hang together, however they are linked")


def _groups(tracks: list[Array]) -> Ints:
    """For every track the number of the connected group it belongs to, counted from 0 at the first track."""
    own = np.repeat(np.arange(len(tracks)), [len(track) for track in tracks])
    return components(len(tracks) + len(own), own, len(tracks) + nodes_of(np.vstack(tracks), SAME_MM))[
        : len(tracks)
    ]


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
    steps = stations(track)
    near = int(np.argmin(np.abs(steps - along)))
    if abs(steps[near] - along) <= max(snap_mm / 4, SAME_MM):
        return tracks, track[near]
    grown = np.insert(track, int(np.searchsorted(steps, along)), place, axis=0)
    return [*tracks[:chosen], grown, *tracks[chosen + 1 :]], place


def _edges(tracks: list[Array], places: Array) -> tuple[list[Edge], tuple[int, int]]:
    """The tracks cut wherever they meet or end and at ``places``; and the nodes of the two places."""
    numbered = nodes_of(np.vstack([*tracks, places]), SAME_MM)
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
    tails, heads = np.array([(edge.tail, edge.head) for edge in edges]).T
    lengths = np.array([edge.length for edge in edges])
    count = 1 + int(max(tails.max(), heads.max()))
    odd = np.flatnonzero(np.bincount(np.concatenate([tails, heads, ends]), minlength=count) % 2)
    twice = np.zeros(len(edges), dtype=bool)
    if not len(odd):
        return twice
    best = without_parallels(tails, heads, lengths)
    between = {(min(pair), max(pair)): n for n, *pair in np.array([best, tails[best], heads[best]]).T.tolist()}
    is_tree = len(edges) == count - 1
    far, before = shortest(count, tails[best], heads[best], lengths[best], odd[:1] if is_tree else odd)
    partners = [(0, k) for k in range(1, len(odd))] if is_tree else perfect_matching(far[:, odd])
    for a, b in partners:
        for pair in pairwise(traced(before[a], int(odd[b]))):
            twice[between[min(pair), max(pair)]] ^= True
    return twice


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
    if len(route) != len(copies) + 1:
        raise BrokenPromiseError(f"a walk over lines takes {len(route) - 1} of {len(copies)}")
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
