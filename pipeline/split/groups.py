"""What is sewn together: junctions decided, stretches gathered into groups, the polygon cut into their faces."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from pipeline.geometry import overlay
from pipeline.geometry.medial import Axis
from pipeline.geometry.polygon import polygons
from pipeline.geometry.polyline import Array, stations
from pipeline.split.settings import SplitSettings
from pipeline.split.stretches import SATIN, TATAMI, Stretch

WIDE_JUNCTION = 1.5
"""Where satin columns meet, the inscribed disc may be this many times wider than satin is allowed to be."""

CRUMB_MM2 = 0.05
"""What lies apart from a group's face and is no larger came of cutting."""

Contacts = tuple[int, int]
"""Contacts (left, right) as numbers of samples."""

StretchEnd = tuple[int, bool]
"""The id of a stretch, and whether its end (or its start) is meant."""


@dataclass(eq=False)
class Group:
    """Stretches of one sort that are sewn as one part, and the junctions that they swallow."""

    sort: int
    members: list[Stretch] = field(default_factory=list)
    junctions: list[int] = field(default_factory=list)
    face: Polygon | None = None


@dataclass(eq=False)
class Arm:
    """A stretch's end at a junction, with the way out of it."""

    stretch: Stretch
    at_end: bool
    away: Array
    width: float


@dataclass(eq=False)
class Layout:
    """All groups of a polygon, the chords that part them, and the junction (cluster) of every node."""

    groups: list[Group]
    cuts: list[Contacts]
    cluster: dict[int, int]
    spots: dict[int, Array]
    joined: dict[StretchEnd, tuple[Stretch, bool]] = field(default_factory=dict)
    """Which end of a stretch runs on into which other one."""
    chords: dict[StretchEnd, Contacts] = field(default_factory=dict)
    """The chord at every end that is cut."""
    under: set[StretchEnd] = field(default_factory=set)
    """The cut ends that reach beneath what lies beyond."""

    def part(self, stretch: Stretch, at_end: bool, chord: Contacts, under: bool) -> None:
        """Cut ``stretch`` off at one end."""
        self.cuts.append(chord)
        self.chords[id(stretch), at_end] = chord
        if under:
            self.under.add((id(stretch), at_end))


def gathered(axis: Axis, found: list[Stretch], settings: SplitSettings) -> Layout:
    """Groups of stretches that are sewn as one, with the cuts between them."""
    cluster, spots, reach, inner = _clusters(axis)
    found = [s for s in found if id(s.branch) not in inner]
    owner: dict[int, Group] = {id(s): Group(s.sort, [s]) for s in found}
    layout = Layout([], [], cluster, spots)
    for stretch in found:
        other = stretch.end
        if isinstance(other, Stretch):
            first_under = stretch.sort <= other.sort
            chord = _border(axis, stretch.chord(True), other.chord(False), first_under)
            layout.part(stretch, True, chord, first_under)
            layout.part(other, False, chord, not first_under)
    arms = _arms(axis, found, cluster)
    for node in sorted(arms):
        _junction(node, arms[node], reach[node], owner, layout, settings)
    seen: list[Group] = []
    for stretch in found:
        if not any(owner[id(stretch)] is group for group in seen):
            seen.append(owner[id(stretch)])
    seen.extend(group for group in layout.groups if not group.members)
    layout.groups = seen
    return layout


def chain(group: Group, layout: Layout) -> list[tuple[Stretch, bool]] | None:
    """Members in the order of one walk, each with whether it is walked forwards; None if they branch."""
    loose = [
        (stretch, at_end)
        for stretch in group.members
        for at_end in (False, True)
        if (id(stretch), at_end) not in layout.joined
    ]
    stretch, entry = loose[0] if loose else (group.members[0], False)
    walk: list[tuple[Stretch, bool]] = []
    while len(walk) < len(group.members):
        walk.append((stretch, not entry))
        following = layout.joined.get((id(stretch), not entry))
        if following is None:
            break
        stretch, entry = following
    return walk if len(walk) == len(group.members) else None


def _border(axis: Axis, one: Contacts, two: Contacts, first_under: bool) -> Contacts:
    """Where to cut between two stretches: across the narrower one, or at its very mouth if that is no wider."""
    limb, host = (one, two) if first_under else (two, one)
    across = [float(np.hypot(*(axis.samples[a] - axis.samples[b]))) for a, b in (limb, host)]
    return host if across[1] <= 1.05 * across[0] else limb


def _clusters(axis: Axis) -> tuple[dict[int, int], dict[int, Array], dict[int, float], set[int]]:
    """Nodes gathered where their discs mostly overlap; their spots and radii; the branches swallowed."""
    root: dict[int, int] = {}
    spot: dict[int, Array] = {}
    radius: dict[int, float] = {}
    degree: dict[int, int] = {}
    for branch in axis.branches:
        for node, k in ((branch.start, 0), (branch.end, -1)):
            degree[node] = degree.get(node, 0) + 1
            root.setdefault(node, node)
            spot[node], radius[node] = branch.points[k], float(branch.radii[k])
    inner: set[int] = set()
    for branch in axis.branches:
        if branch.start == branch.end or degree[branch.start] < 2 or degree[branch.end] < 2:
            continue
        length = float(stations(branch.points)[-1])
        if length < 0.9 * max(radius[branch.start], radius[branch.end]):
            inner.add(id(branch))
            a, b = (_root(root, node) for node in (branch.start, branch.end))
            keep, drop = (a, b) if radius[a] >= radius[b] else (b, a)
            root[drop] = keep
    cluster = {node: _root(root, node) for node in root}
    return cluster, spot, radius, inner


def _root(root: dict[int, int], node: int) -> int:
    """The node that stands for a node's cluster; only such nodes are ever given another, so no circle arises."""
    while root[node] != node:
        node = root[node]
    return node


def _arms(axis: Axis, found: Iterable[Stretch], cluster: dict[int, int]) -> dict[int, list[Arm]]:
    arms: dict[int, list[Arm]] = {}
    for stretch in found:
        for at_end, node in ((False, stretch.start), (True, stretch.end)):
            if isinstance(node, int):
                arms.setdefault(cluster[node], []).append(_arm(axis, stretch, at_end))
    return arms


def _arm(axis: Axis, stretch: Stretch, at_end: bool) -> Arm:
    branch = stretch.branch
    left = axis.samples[branch.left[stretch.first : stretch.last]]
    right = axis.samples[branch.right[stretch.first : stretch.last]]
    middle = 0.5 * (left + right)
    widths = stretch.widths
    if at_end:
        middle, widths = middle[::-1], widths[::-1]
    way = stations(middle) if len(middle) > 1 else np.zeros(1)
    width = float(np.median(widths[way <= way[-1] * 0.5 + 1e-9]))
    ahead = middle[min(int(np.searchsorted(way, 1.5 * width)), len(middle) - 1)]
    root = branch.points[stretch.last if at_end else stretch.first]
    away = ahead - middle[0] if way[-1] > 0.3 * width else ahead - root
    norm = float(np.hypot(*away))
    return Arm(stretch, at_end, away / norm if norm > 1e-9 else np.array([1.0, 0.0]), width)


def _junction(
    node: int,
    arms: list[Arm],
    radius: float,
    owner: dict[int, Group],
    layout: Layout,
    settings: SplitSettings,
) -> None:
    """Decide which arms run through a junction; cut the others off it."""
    if len(arms) == 1:
        arm = arms[0]
        if arm.stretch.sort == TATAMI:
            owner[id(arm.stretch)].junctions.append(node)
            return
        layout.part(arm.stretch, arm.at_end, arm.stretch.chord(arm.at_end), True)
        layout.groups.append(Group(TATAMI if 2.0 * radius > settings.satin_up_to_mm else SATIN, [], [node]))
        return
    wide = 2.0 * radius > WIDE_JUNCTION * settings.satin_up_to_mm
    sort = TATAMI if wide else max(arm.stretch.sort for arm in arms)
    alike = [arm for arm in arms if arm.stretch.sort == sort]
    if sort == SATIN:
        alike = _through(alike, settings)
        if len(alike) == 2:
            one, two = alike
            layout.joined[id(one.stretch), one.at_end] = (two.stretch, two.at_end)
            layout.joined[id(two.stretch), two.at_end] = (one.stretch, one.at_end)
    kept = {(id(arm.stretch), arm.at_end) for arm in alike}
    for arm in arms:
        if (id(arm.stretch), arm.at_end) not in kept:
            layout.part(arm.stretch, arm.at_end, arm.stretch.chord(arm.at_end), True)
    if not alike:
        layout.groups.append(Group(sort, [], [node]))
        return
    host = owner[id(alike[0].stretch)]
    host.junctions.append(node)
    for arm in alike[1:]:
        other = owner[id(arm.stretch)]
        if other is not host:
            host.members.extend(other.members)
            host.junctions.extend(other.junctions)
            for member in other.members:
                owner[id(member)] = host


def _through(arms: list[Arm], settings: SplitSettings) -> list[Arm]:
    """The pair of columns that runs on through a junction, or the widest one alone."""
    best: tuple[float, list[Arm]] | None = None
    for i, one in enumerate(arms):
        for two in arms[i + 1 :]:
            turn = 180.0 - float(np.degrees(np.arccos(np.clip(one.away @ two.away, -1.0, 1.0))))
            ratio = abs(np.log2(max(one.width, 1e-3) / max(two.width, 1e-3)))
            if turn > settings.sharpest_turn_deg or ratio > 1.2:
                continue
            cost = turn + 25.0 * ratio
            if best is None or cost < best[0] - 1e-6:
                best = (cost, [one, two])
    if best is not None:
        return best[1]
    return [max(arms, key=lambda arm: (round(arm.width, 3), len(arm.stretch.widths)))]


def cut(axis: Axis, layout: Layout) -> None:
    """Give every group its face, so that nothing of the polygon is left without one."""
    if not layout.cuts:
        for group in layout.groups[:1]:
            group.face = axis.polygon
        return
    layout.groups += share(axis, layout, axis.polygon, layout.groups, layout.cuts)
    if all(group.face is None for group in layout.groups):
        layout.groups.append(Group(TATAMI, face=axis.polygon))


def share(axis: Axis, layout: Layout, whole: Polygon, groups: list[Group], cuts: list[Contacts]) -> list[Group]:
    """Part ``whole`` along ``cuts`` and give the faces to ``groups``.

    Faces without a group go to the neighbour with the longest common border. Where those of a group do not hang
    together the largest is its face; the others are returned as groups of their own, without stretches.
    """
    lines = [LineString(axis.samples[list(chord)]) for chord in sorted(set(cuts)) if chord[0] != chord[1]]
    net = overlay.union_all([whole.boundary, *lines])
    faces = list(shapely.get_parts(shapely.polygonize([net])))
    faces = [f for f in faces if whole.contains(f.representative_point())]
    tree = shapely.STRtree(faces)
    holder = _holders(axis, layout, groups, tree)
    taken: dict[int, list[Polygon]] = {}
    for number in sorted(holder):
        taken.setdefault(holder[number], []).append(faces[number])
    for number, face in enumerate(faces):
        if number not in holder and holder:
            beside = {min(holder), *tree.query(face, "intersects").tolist()} & holder.keys()
            best = max(beside, key=lambda n: (round(overlay.intersection(faces[n], face).length, 6), -n))
            taken[holder[best]].append(face)
    apart = []
    for k, group in enumerate(groups):
        pieces = polygons(overlay.union_all(taken.get(k, [])))
        group.face = pieces[0] if pieces else None
        apart += [Group(group.sort, face=piece) for piece in pieces[1:] if piece.area > CRUMB_MM2]
    return apart


def _holders(axis: Axis, layout: Layout, groups: list[Group], tree: shapely.STRtree) -> dict[int, int]:
    """For each face of ``tree`` the group with a spot in it: of several the widest kind, of these the first."""
    spots = [_inside(axis, layout, group) for group in groups]
    owner = np.repeat(np.arange(len(groups)), [len(own) for own in spots])
    which, face = tree.query(shapely.points(np.vstack([spot for own in spots for spot in own])), "within")
    holder: dict[int, int] = {}
    for number, group in sorted(zip(face.tolist(), owner[which].tolist(), strict=True)):
        if number not in holder or groups[group].sort > groups[holder[number]].sort:
            holder[number] = group
    return holder


def _inside(axis: Axis, layout: Layout, group: Group) -> list[Array]:
    """Spots that surely lie in the face of ``group``."""
    spots = []
    for stretch in group.members:
        ridge = (stretch.first + stretch.last) // 2
        ridge = min(max(ridge, stretch.first), stretch.last - 1)
        pair = axis.samples[[stretch.branch.left[ridge], stretch.branch.right[ridge]]]
        between = isinstance(stretch.start, Stretch) and isinstance(stretch.end, Stretch)
        if stretch.sort == TATAMI or (between and stretch.last - stretch.first <= 2):
            # Its chords may all be cuts, but the middle of its widest disc is its own.
            discs = stretch.branch.radii[stretch.first : stretch.last + 1]
            spots.append(stretch.branch.points[stretch.first + int(np.argmax(discs))])
        else:
            spots.append(pair.mean(axis=0))
    return spots or [layout.spots[node] for node in group.junctions]
