"""Cutting a column once more: loops that end on themselves, and columns that fail their own check."""

from __future__ import annotations

import numpy as np

from pipeline.geometry.medial import Axis
from pipeline.geometry.polyline import stations
from pipeline.split.groups import Group, Layout, StretchEnd, chain
from pipeline.split.stretches import SATIN, Stretch

SHARP_DEG = 45.0
"""A column that is cut once more is cut at a bend sharper than this (over a few ridges), if it has one."""

ACUTE_DEG = 100.0
"""Where a column turns by more than this its outer corner is too far from the inner one for a mitre."""

PIVOT = 0.3
"""Such a bend turns about a corner: its inner side goes on by at most this share of the width."""

SETTLED_DEG = 8.0
"""A bend begins and ends where the way is turned by this much from what it is farther off."""


def open_loop(group: Group, layout: Layout, axis: Axis) -> None:
    """Cut a column once more if it ends on itself, half way along the loop; and so both shorter halves."""
    walk = chain(group, layout) if group.sort == SATIN and group.members else None
    if walk is None:
        return
    for turned in (False, True):
        way = walk if not turned else [(stretch, not forwards) for stretch, forwards in reversed(walk)]
        stretch, forwards = way[-1]
        node = stretch.end if forwards else stretch.start
        if not isinstance(node, int) or (id(stretch), forwards) not in layout.chords:
            continue
        passed = [
            k for k, (member, ahead) in enumerate(way[:-1]) if _at(member, ahead, layout) == layout.cluster[node]
        ]
        begin, ahead = way[0]
        if _at(begin, not ahead, layout) == layout.cluster[node] and (id(begin), not ahead) not in layout.chords:
            passed.insert(0, -1)
        if passed:
            loop = way[passed[-1] + 1 :]
            longest = max(loop, key=lambda item: len(item[0].widths))[0]
            second = halve(group, longest, layout, axis)
            if second is not None and second is not group:
                open_loop(group, layout, axis)
                open_loop(second, layout, axis)
            return


def _at(stretch: Stretch, at_end: bool, layout: Layout) -> int | None:
    node = stretch.end if at_end else stretch.start
    return layout.cluster[node] if isinstance(node, int) else None


def halve(group: Group, stretch: Stretch, layout: Layout, axis: Axis) -> Group | None:
    """Cut ``group`` in one of its stretches, at its sharpest bend or in the middle.

    Returns the new second half, the group itself if it was closed and is now open, None if it is too short.
    """
    walk = chain(group, layout)
    if walk is None or len(stretch.widths) < 8:
        return None
    closed = (id(walk[0][0]), not walk[0][1]) in layout.joined
    where = next(k for k, (member, _) in enumerate(walk) if member is stretch)
    forwards = walk[where][1]
    ridge = _sharpest(stretch, axis)
    bend = _acute_bend(stretch, axis, ridge)
    one, two = stretch.parted(*(bend or (ridge, ridge)))
    for old, new, at_end in ((stretch, one, False), (stretch, two, True)):
        _renamed(layout, (id(old), at_end), (new, at_end))
    if bend:  # the first runs on to the outer corner, the second abuts its side
        layout.part(two, False, two.chord(False), True)
    else:
        chord = one.chord(True)
        layout.part(one, True, chord, forwards is False)
        layout.part(two, False, chord, forwards is True)
    near, far = (one, two) if forwards else (two, one)
    if closed or (stretch.branch.closed and stretch.start is None and stretch.end is None):
        group.members = [far] + [member for member, _ in walk[where + 1 :] + walk[:where]] + [near]
        return group
    before = [member for member, _ in walk[:where]] + [near]
    after = [far] + [member for member, _ in walk[where + 1 :]]
    second = Group(group.sort, after)
    inner = {_at(member, end, layout) for member in after for end in (False, True)}
    second.junctions = [n for n in group.junctions if n in inner and not _touched(n, before, layout)]
    group.junctions = [n for n in group.junctions if n not in second.junctions]
    group.members = before
    layout.groups.append(second)
    return second


def _sharpest(stretch: Stretch, axis: Axis) -> int:
    """The ridge at the sharpest bend of a stretch, or half way if it has none."""
    count = stretch.last - stretch.first
    edge = max(3, count // 6)
    ridges = slice(stretch.first, stretch.last)
    across = axis.samples[stretch.branch.left[ridges]] - axis.samples[stretch.branch.right[ridges]]
    across /= np.maximum(np.hypot(*across.T), 1e-12)[:, None]
    reach = max(2, min(8, count // 8))
    turn = np.full(count, -1.0)
    cosine = (across[: -2 * reach] * across[2 * reach :]).sum(axis=1)
    turn[reach : count - reach] = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))
    turn[:edge], turn[count - edge :] = -1.0, -1.0
    if turn.max() <= SHARP_DEG:
        return stretch.first + count // 2
    best = int(np.argmax(turn))
    alike = np.flatnonzero(turn >= 0.9 * turn.max())
    return stretch.first + int(np.median(alike[np.abs(alike - best) <= 4 * reach]))


def _acute_bend(stretch: Stretch, axis: Axis, ridge: int) -> tuple[int, int] | None:
    """The ridges before and after a bend at ``ridge`` that is too sharp for a mitre, if it is."""
    ridges = slice(stretch.first, stretch.last)
    left, right = axis.samples[stretch.branch.left[ridges]], axis.samples[stretch.branch.right[ridges]]
    across = left - right
    turn = np.degrees(np.unwrap(np.arctan2(across[:, 1], across[:, 0])))
    way = stations(0.5 * (left + right))
    at = ridge - stretch.first
    low, high = np.searchsorted(way, way[at] + np.array([-1.5, 1.5]) * float(stretch.widths[at]))
    low, high = max(0, int(low)), min(len(turn) - 1, int(high))
    if abs(turn[high] - turn[low]) < ACUTE_DEG:
        return None
    begun = np.flatnonzero(np.abs(turn[low : at + 1] - turn[low]) > SETTLED_DEG)
    ended = np.flatnonzero(np.abs(turn[at : high + 1] - turn[high]) > SETTLED_DEG)
    before = low + int(begun[0]) - 1 if len(begun) else at
    after = at + int(ended[-1]) + 1 if len(ended) else at
    inner = min(float(np.hypot(*(side[after] - side[before]))) for side in (left, right))
    if before < 2 or after > len(turn) - 2 or inner > PIVOT * float(stretch.widths[at]):
        return None
    return stretch.first + before, stretch.first + after


def _touched(node: int, members: list[Stretch], layout: Layout) -> bool:
    return any(
        _at(m, end, layout) == node and (id(m), end) in layout.joined for m in members for end in (False, True)
    )


def _renamed(layout: Layout, old: StretchEnd, new: tuple[Stretch, bool]) -> None:
    """Let what is known of one end of a stretch hold for another."""
    name = (id(new[0]), new[1])
    if old in layout.joined:
        other = layout.joined.pop(old)
        layout.joined[name] = other
        layout.joined[id(other[0]), other[1]] = new
    if old in layout.chords:
        layout.chords[name] = layout.chords.pop(old)
    if old in layout.under:
        layout.under.discard(old)
        layout.under.add(name)
