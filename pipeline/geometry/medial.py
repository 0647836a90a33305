"""The medial axis of a polygon: where its inscribed discs touch the boundary on two sides.

Method: Voronoi diagram of points sampled on the boundary (H. Blum's axis, approximated as in R. Ogniewicz and
O. Kübler, "Hierarchic Voronoi skeletons", Pattern Recognition 28(3), 1995). A ridge between two samples belongs
to the axis where the way along the boundary between them is longer than the chord by ``RESIDUAL_MM``; the two
samples are its contacts, left and right, and the chord between them lies inside the polygon and is square to
the axis. Then branches that only lead into corners are pruned.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import Voronoi, cKDTree
from shapely.geometry import Polygon

from pipeline.geometry.polyline import Array, divided, stations
from pipeline.geometry.window import Windows

Indices = NDArray[np.intp]

RESIDUAL_MM = 0.12
"""Way along the boundary minus chord, from which a ridge counts as axis. Smaller keeps spurs of a rough
boundary (pruned later, at a cost); larger starts the axis of a very fine taper too late."""

SHARPNESS = 2.4
"""A branch stays if it swells, or stands out of the disc at its root by this many of its own largest radii:
a corner of up to 49 degrees or a limb longer than 1.2 widths. Smaller lets blunt corners become limbs."""

STUB = 0.55, 0.45
"""A blunt limb also stays if the disc at its end has at least this share of the radius at its root, and it stands
out by at least this many of those (a foot or an ear of a letter, but not a rounded corner)."""

BARB = 0.28
"""A short branch is dropped if its length times half its width is less than this share of the least length's
square: leavings of cutting outlines with each other. Larger loses serifs of small letters."""

THIN, DOUBLED, THINNEST_MM = 1.5, 2.5, 0.015
"""Where a limb is narrower than ``THIN`` samples' distances its samples are set closer, at 0.7 of its width, but no
closer than ``THINNEST_MM``: half a hair, and the cost grows with it. Samples face each other if the way along the
boundary is ``DOUBLED`` times their distance."""

PIN_HOLE_MM2 = 0.02
"""Smaller holes are closed: they would make a ring of what is whole to the eye."""

BENT = 0.85
"""A free end of the axis is taken back to where the distance of its contacts is this share of the disc's diameter:
what lies beyond bends into a corner of a blunt end, or fans out in a round one. Corners to 63 degrees stay."""

SWOLLEN = 1.25
"""But not if the disc at the end is wider by this factor than where it would be taken back to: a knob."""
MANY, SHAKEN_MM = 6000, 1e-6
"""More samples are shaken by so much: of thousands on a line Qhull merges ever more facets (23,000: a minute)."""

MIDDLE = 0.25
"""A free end of the axis is taken back at least by this share of its disc's radius: there contacts mean nothing."""


@dataclass(frozen=True, eq=False)
class Branch:
    """A stretch of axis: ``points`` (n, 2), ``radii`` (n,), contacts ``left`` and ``right`` (n - 1,) a ridge.

    The contacts count through the axis's ``samples``. ``start`` and ``end`` are node numbers, equal for a
    closed branch.
    """

    points: Array
    radii: Array
    left: Indices
    right: Indices
    start: int
    end: int
    closed: bool = False

    def reversed(self) -> Branch:
        """The same stretch walked the other way."""
        line, contacts = (self.points[::-1], self.radii[::-1]), (self.right[::-1], self.left[::-1])
        return Branch(*line, *contacts, self.end, self.start, self.closed)


@dataclass(frozen=True, eq=False)
class Axis:
    """A polygon's axis. ``polygon`` has exactly ``samples`` (m, 2) as vertices."""

    polygon: Polygon
    samples: Array
    branches: tuple[Branch, ...]

    @cached_property
    def windows(self) -> Windows:
        """``polygon`` for those who ask about one place of it."""
        return Windows(self.polygon)


def medial_axis(polygon: Polygon, spacing_mm: float, least_mm: float) -> Axis:
    """The pruned axis of ``polygon``, its boundary sampled every ``spacing_mm`` or finer where it is thin.

    Branches that stand out by less than ``least_mm`` are dropped. An axis without branches is that of a shape
    about as long as it is wide. Cost grows as m log m with the number of samples.
    """
    dense = _sampled(polygon, spacing_mm)
    samples, ring_of, along, ring_length = _samples(dense)
    if len(samples) < 5:
        return Axis(dense, samples, ())
    shaken = SHAKEN_MM * np.random.default_rng(0).uniform(-1, 1, samples.shape) * (len(samples) > MANY)
    voronoi = Voronoi(samples + shaken)
    ridges, contacts = _ridges(dense, samples, voronoi, ring_of, along, ring_length)
    if not len(ridges):
        return Axis(dense, samples, ())
    branches = _traced(voronoi.vertices, samples, ridges, contacts)
    return Axis(dense, samples, tuple(_pruned(_largest(branches), samples, least_mm)))


def _sampled(polygon: Polygon, spacing_mm: float) -> Polygon:
    """``polygon`` with more vertices on its edges: every ``spacing_mm``, and closer where it is thin."""
    holes = [ring for ring in polygon.interiors if Polygon(ring).area > PIN_HOLE_MM2]
    clean = shapely.remove_repeated_points(Polygon(polygon.exterior, holes), 1e-4)
    clean = clean if clean.is_valid and isinstance(clean, Polygon) and not clean.is_empty else polygon
    # Ring by ring: as a whole, a polygon that pinches to a point can come back in two.
    outer, *inner = shapely.segmentize([clean.exterior, *clean.interiors], spacing_mm)
    return _closer_where_thin(Polygon(outer, inner), spacing_mm)


def _closer_where_thin(polygon: Polygon, spacing_mm: float) -> Polygon:
    """``polygon`` with more vertices where it is thinner than their distance: its axis would fall apart there."""
    samples, ring_of, along, lengths = _samples(polygon)
    pairs = cKDTree(samples).query_pairs(THIN * spacing_mm, output_type="ndarray")
    a, b = pairs.T
    way = np.abs(along[a] - along[b])
    way = np.where(ring_of[a] == ring_of[b], np.minimum(way, lengths[a] - way), np.inf)
    chord = np.hypot(*(samples[a] - samples[b]).T)
    facing = (way > DOUBLED * np.maximum(chord, spacing_mm)) & _between(polygon, samples, pairs)
    if not facing.any():
        return polygon
    width = np.full(len(samples), np.inf)
    for side in (a[facing], b[facing]):
        np.minimum.at(width, side, chord[facing])
    rings, first = [], 0
    for line in (polygon.exterior, *polygon.interiors):
        loop = shapely.get_coordinates(line)
        number = first + np.arange(len(loop)) % (len(loop) - 1)
        first += len(loop) - 1
        step = np.maximum(THINNEST_MM, 0.7 * np.minimum(width[number[1:]], width[number[:-1]]))
        parts = np.ceil(np.hypot(*np.diff(loop, axis=0).T) / np.maximum(step, 1e-9) - 1e-9)
        rings.append(divided(loop, np.maximum(parts, 1).astype(np.intp)))
    return Polygon(rings[0], rings[1:])


def _between(polygon: Polygon, samples: Array, pairs: Indices) -> NDArray[np.bool_]:
    """Whether the middle of each pair of samples lies in the polygon: a limb is there, and no slit."""
    shapely.prepare(polygon)
    return np.asarray(shapely.contains_xy(polygon, *(0.5 * (samples[pairs[:, 0]] + samples[pairs[:, 1]])).T))


def _samples(polygon: Polygon) -> tuple[Array, Indices, Array, Array]:
    """Vertices of all rings with their ring, their arc length on it, and the length of that ring."""
    points, ring_of, along, lengths = [], [], [], []
    for number, ring in enumerate((polygon.exterior, *polygon.interiors)):
        line = shapely.get_coordinates(ring)
        at = stations(line)
        points.append(line[:-1])
        along.append(at[:-1])
        ring_of.append(np.full(len(line) - 1, number, dtype=np.intp))
        lengths.append(np.full(len(line) - 1, at[-1]))
    return np.vstack(points), np.concatenate(ring_of), np.concatenate(along), np.concatenate(lengths)


def _ridges(
    polygon: Polygon, samples: Array, voronoi: Voronoi, ring_of: Indices, along: Array, ring_length: Array
) -> tuple[Indices, Indices]:
    """Voronoi ridges (pairs of vertices) that belong to the axis, and their contacts (pairs of samples)."""
    ridges = np.asarray(voronoi.ridge_vertices, dtype=np.intp)
    contacts = np.asarray(voronoi.ridge_points, dtype=np.intp)
    a, b = contacts.T
    way = np.abs(along[a] - along[b])
    way = np.minimum(way, ring_length[a] - way)
    way[ring_of[a] != ring_of[b]] = np.inf
    chord = np.hypot(*(samples[a] - samples[b]).T)
    keep = (ridges >= 0).all(axis=1) & (way - chord > RESIDUAL_MM)
    ridges, contacts = ridges[keep], contacts[keep]
    shapely.prepare(polygon)
    used = np.unique(ridges)
    inside = np.zeros(len(voronoi.vertices), dtype=bool)
    inside[used] = shapely.contains_xy(polygon, *voronoi.vertices[used].T)
    keep = inside[ridges].all(axis=1)
    return ridges[keep], contacts[keep]


def _traced(vertices: Array, samples: Array, ridges: Indices, contacts: Indices) -> list[Branch]:
    """The graph of ridges as branches between ends and junctions."""
    touching: dict[int, list[int]] = {}
    for number, (a, b) in enumerate(ridges.tolist()):
        touching.setdefault(a, []).append(number)
        touching.setdefault(b, []).append(number)
    pairs = ridges.tolist()
    done = [False] * len(pairs)
    branches = []

    def walk(node: int, ridge: int) -> None:
        first, path, used = node, [node], []
        while True:  # no ridge comes twice: two lead to each node on the way, and it ends where it began
            done[ridge] = True
            used.append(ridge)
            a, b = pairs[ridge]
            node = b if a == node else a
            path.append(node)
            if node == first or len(touching[node]) != 2:
                break
            one, other = touching[node]
            ridge = other if one == ridge else one
        closed = path[0] == path[-1] and len(touching[path[0]]) == 2
        branches.append(_branch(vertices, samples, contacts[used], path, closed))

    for node, around in touching.items():
        if len(around) != 2:
            for ridge in around:
                if not done[ridge]:
                    walk(node, ridge)
    for ridge, seen in enumerate(done):
        if not seen and not done[ridge]:
            walk(pairs[ridge][0], ridge)
    return branches


def _branch(vertices: Array, samples: Array, pair: Indices, path: list[int], closed: bool) -> Branch:
    points = vertices[path]
    middle = 0.5 * (points[1:] + points[:-1])
    step = points[1:] - points[:-1]
    one, other = samples[pair[:, 0]] - middle, samples[pair[:, 1]] - middle
    across = one - other
    left_first = step[:, 0] * across[:, 1] - step[:, 1] * across[:, 0] < 0.0  # y down: left is negative
    left = np.where(left_first, pair[:, 0], pair[:, 1])
    right = np.where(left_first, pair[:, 1], pair[:, 0])
    reach = np.hypot(*(samples[left] - points[:-1]).T)
    last = np.hypot(*(samples[left[-1]] - points[-1]))
    return Branch(points, np.append(reach, last), left, right, path[0], path[-1], closed)


def _largest(branches: list[Branch]) -> list[Branch]:
    """The connected piece of the graph with the longest branches together."""
    root: dict[int, int] = {}

    def find(node: int) -> int:
        while root.setdefault(node, node) != node:
            root[node] = root[root[node]]
            node = root[node]
        return node

    for branch in branches:
        root[find(branch.start)] = find(branch.end)
    total: dict[int, float] = {}
    for branch in branches:
        piece = find(branch.start)
        total[piece] = total.get(piece, 0.0) + float(stations(branch.points)[-1])
    best = max(total, key=lambda piece: total[piece])
    return [branch for branch in branches if find(branch.start) == best]


def _pruned(branches: list[Branch], samples: Array, least_mm: float) -> list[Branch]:
    """Without the branches that lead into corners, shortest first, and with blunt ends taken back."""
    left = _Pruning(branches, least_mm)
    left.prune()
    return [_taken_back(branch, samples, left.degree) for _, branch in sorted(left.branches.items())]


class _Pruning:
    """Branches while they are pruned. A branch is judged anew only when something changes at one of its ends."""

    def __init__(self, branches: list[Branch], least_mm: float) -> None:
        self.least_mm = least_mm
        self.branches = dict(enumerate(branches))
        self.touching: dict[int, set[int]] = {}
        for number, branch in self.branches.items():
            for node in (branch.start, branch.end):
                self.touching.setdefault(node, set()).add(number)
        self.blunt: dict[int, float] = {}
        """How far each branch that has to go stands out."""
        self.heap: list[tuple[float, int]] = []
        for number in self.branches:
            self._judge(number)

    def degree(self, node: int) -> int:
        """How many ends of branches meet at a node."""
        around = (self.branches[number] for number in self.touching[node])
        return sum((branch.start == node) + (branch.end == node) for branch in around)

    def prune(self) -> None:
        """Drop the branch that stands out least with all blunt ones at its root, until none is left.

        Every round leaves fewer branches or a shorter heap: only where branches went are others judged anew.
        """
        while self.heap:
            stands_out, number = heapq.heappop(self.heap)
            if self.blunt.get(number) != stands_out:
                continue
            branch = self.branches[number]
            node = branch.start if self.degree(branch.end) == 1 else branch.end
            for other in [k for k in self.touching[node] if k in self.blunt]:
                del self.blunt[other]
                self._removed(other)
            for changed in self._joined(node):
                self._judge(changed)

    def _judge(self, number: int) -> None:
        """Note whether a branch is blunt."""
        self.blunt.pop(number, None)
        branch = self.branches[number]
        free = self.degree(branch.start) == 1, self.degree(branch.end) == 1
        if branch.closed or free[0] == free[1]:
            return
        outward = branch if free[1] else branch.reversed()
        stands_out, share = standing_out(outward)
        thick = float(outward.radii.max()) > 1.1 * float(outward.radii[0])
        stub = outward.radii[-1] > STUB[0] * outward.radii[0] and stands_out > STUB[1] * outward.radii[0]
        barb = stands_out * stands_out / max(share, 1e-9) < BARB * self.least_mm**2
        if (barb and stands_out < 2.0 * self.least_mm) or (
            not thick and not stub and (stands_out < self.least_mm or share < SHARPNESS)
        ):
            self.blunt[number] = stands_out
            heapq.heappush(self.heap, (stands_out, number))

    def _removed(self, number: int) -> Branch:
        branch = self.branches.pop(number)
        for node in (branch.start, branch.end):
            self.touching[node].discard(number)
        return branch

    def _joined(self, node: int) -> set[int]:
        """The two branches left at ``node``, if they are two, made one; the numbers of the branches there."""
        here = sorted(self.touching[node])
        if not here or len(here) > 2:
            return set(here)
        first, second = self.branches[here[0]], self.branches[here[-1]]
        if len(here) == 1:
            self.branches[here[0]] = replace(first, closed=first.closed or first.start == first.end)
            return set(here)
        first = first if first.end == node else first.reversed()
        second = second if second.start == node else second.reversed()
        if first.start == first.end or second.start == second.end:
            return set(here)
        for number in here:
            self._removed(number)
        closed = first.start == second.end and not self.touching[first.start]
        self.branches[here[0]] = _chained(first, second, closed)
        for end in (first.start, second.end):
            self.touching[end].add(here[0])
        return {here[0]}


def _chained(first: Branch, second: Branch, closed: bool) -> Branch:
    """Two branches, the end of one the start of the other, as one."""
    return Branch(
        np.vstack([first.points, second.points[1:]]),
        np.concatenate([first.radii, second.radii[1:]]),
        np.concatenate([first.left, second.left]),
        np.concatenate([first.right, second.right]),
        first.start,
        second.end,
        closed,
    )


def standing_out(branch: Branch) -> tuple[float, float]:
    """How far a branch stands out of the disc at its start (mm), and in its own largest radii out there."""
    along = stations(branch.points)
    out = float(along[-1] + branch.radii[-1] - branch.radii[0])
    rim = float(np.interp(branch.radii[0], along, branch.radii))
    thick = max(rim, float(branch.radii[along >= branch.radii[0]].max(initial=0.0)))
    return out, out / max(thick, 1e-9)


def _taken_back(branch: Branch, samples: Array, degree: Callable[[int], int]) -> Branch:
    """``branch`` with its free ends taken back out of the corners of blunt ends."""
    if branch.closed:
        return branch
    along, radii = stations(branch.points), branch.radii
    loose = degree(branch.start) == 1, degree(branch.end) == 1
    low = int(np.searchsorted(along, MIDDLE * radii[0], "right")) - 1 if loose[0] else 0
    high = int(np.searchsorted(along, along[-1] - MIDDLE * radii[-1])) if loose[1] else len(radii) - 1
    low, high = (low, high) if low < high else (0, len(radii) - 1)
    across = np.hypot(*(samples[branch.left] - samples[branch.right]).T)
    share = (across / np.maximum(radii[1:] + radii[:-1], 1e-12))[low:high]
    straight = low + np.flatnonzero(share >= min(BENT, 0.98 * float(share.max())))
    first, last = int(straight[0]), int(straight[-1])
    first = first if loose[0] and radii[0] < SWOLLEN * radii[first + 1] else low
    last = last + 1 if loose[1] and radii[-1] < SWOLLEN * radii[last] else high
    return Branch(
        branch.points[first : last + 1],
        branch.radii[first : last + 1],
        branch.left[first:last],
        branch.right[first:last],
        branch.start,
        branch.end,
    )
