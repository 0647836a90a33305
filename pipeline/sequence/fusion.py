"""Colour stops as a problem of its own: coloured units, some of which must come before others.

Once a colour is on the needle, sewing everything of it that is free loses nothing, so a plan is a sequence of
colours and a state of it the set of units already sewn. A unit of colour c is free when everything of *other*
colours that must come before it is sewn. The problem is made smaller without loss before it is searched.
Source of the model: typed fusion, Kennedy & McKinley 1994; loading-time scheduling, Bhatia, Khuller & Naor 2000.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Flags = NDArray[np.bool_]
Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Fusion:
    """``n`` units sorted by colour.

    ``colour`` is ``(n,)``, 0…``count`` - 1, ``first`` where each colour begins, ``(count + 1,)``. ``need`` is
    ``(n, n)``: row u marks the units that must be sewn in an earlier stop than u: all of other colours that must
    come before it, and of its own colour those with another colour between. ``depth`` is ``(n,)``: how many stops
    of its own colour are needed from this unit on.
    """

    colour: Ints
    first: Ints
    need: Flags
    depth: Ints

    @property
    def count(self) -> int:
        """The number of colours."""
        return len(self.first) - 1


def fusion(colour: Ints, before: Flags) -> Fusion:
    """The problem of units of ``colour`` (``(n,)``, any numbers) under ``before`` (``(n, n)``, closed).

    Units may come in any order, but ``before`` must be free of circles.
    """
    order = np.lexsort((np.arange(len(colour)), colour))
    _, number = np.unique(colour[order], return_inverse=True)
    number = np.asarray(number, dtype=np.int64).reshape(-1)
    first = np.searchsorted(number, np.arange(int(number.max(initial=-1)) + 2)).astype(np.int64)
    every = before[np.ix_(order, order)]
    other = number[:, None] != number[None, :]
    need = every & other
    weight = need.astype(np.float32)
    need |= ((weight @ every.astype(np.float32)) > 0) & ~other
    return Fusion(number, first, need, _depth(number, every, need))


def _depth(colour: Ints, before: Flags, need: Flags) -> Ints:
    """For each unit, the most stops of its colour along any chain that begins with it."""
    depth = np.ones(len(colour), dtype=np.int64)
    own = colour[:, None] == colour[None, :]
    later = (need & own).T
    same = (before & own).T
    for unit in np.argsort(before.sum(axis=0), kind="stable"):
        depth[unit] = max(depth[same[unit]].max(initial=1), (1 + depth[later[unit]]).max(initial=1))
    return depth


def restricted(whole: Fusion, hues: tuple[int, ...]) -> Fusion:
    """The problem of some colours only, all others costing nothing: never harder than the whole."""
    kept = np.flatnonzero(np.isin(whole.colour, hues))
    number = np.searchsorted(np.array(hues), whole.colour[kept])
    first = np.searchsorted(number, np.arange(len(hues) + 1)).astype(np.int64)
    return Fusion(number.astype(np.int64), first, whole.need[np.ix_(kept, kept)], whole.depth[kept])


def without_riders(colour: Ints, before: Flags) -> Ints:
    """The units that matter, as indices: any other can always be sewn in the stop of one of them.

    Unit u rides with v of its colour if all of other colours before u is also before v, and all of other
    colours after u is also after v.
    """
    kept = np.arange(len(colour))
    while True:  # fewer each time
        inner = before[np.ix_(kept, kept)]
        hue = colour[kept]
        other = hue[:, None] != hue[None, :]
        need, after = inner & other, inner.T & other
        rides = np.zeros(len(kept), dtype=np.bool_)
        for number in np.unique(hue):
            own = np.flatnonzero(hue == number)
            rides[own] = _rides(np.hstack([need[own], after[own]]))
        if not rides.any():
            return kept
        kept = kept[~rides]


def _rides(marks: Flags) -> Flags:
    """Which rows are contained in another row; of equal ones the first stays."""
    packed = np.packbits(marks[:, marks.any(axis=0)], axis=1)
    room = np.zeros((len(packed), packed.shape[1] // 8 * 8 + 8), dtype=np.uint8)
    room[:, : packed.shape[1]] = packed
    packed = room.view(np.uint64)
    _, place = np.unique(packed, axis=0, return_index=True)
    rides = np.ones(len(marks), dtype=np.bool_)
    order = np.sort(place)
    some = packed[order]
    for row, unit in enumerate(order):
        beyond = (some[row] & ~some).any(axis=1)
        rides[unit] = np.count_nonzero(~beyond) > 1
    return rides


def ends_taken(colour: Ints, before: Flags, kept: Ints) -> tuple[list[int], list[int], Ints]:
    """Colours that can wholly be sewn first, colours that can wholly be sewn last, and the units between.

    A colour nothing of which waits for another costs one stop at the beginning, and likewise at the end.
    """
    head: list[int] = []
    tail: list[int] = []
    while len(kept):
        hue = colour[kept]
        inner = before[np.ix_(kept, kept)] & (hue[:, None] != hue[None, :])
        waiting, awaited = set(hue[inner.any(axis=1)].tolist()), set(hue[inner.any(axis=0)].tolist())
        early = sorted(set(hue.tolist()) - waiting)
        late = sorted(set(hue.tolist()) - awaited - set(early))
        if not early and not late:
            break
        head += early
        tail = late + tail
        kept = kept[~np.isin(hue, early + late)]
    return head, tail, kept
