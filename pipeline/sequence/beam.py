"""Searching for the fewest colour stops: level by level, many states at once.

All states of a level have spent the same number of stops. A state is dropped when what it has spent and what it
must still spend (``lowest``) exceed the limit: with no other state dropped this is A* with that bound, and finding
nothing proves that the limit is too low. Beyond ``width`` states the most promising are kept: a beam search.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.geometry.graph import recalled
from pipeline.sequence.fusion import Flags, Fusion, Ints

Floats = NDArray[np.float32]


@dataclass(frozen=True)
class Found:
    """The colours of the stops, or None; ``exact`` if no state was dropped for want of room; states looked at."""

    stops: tuple[int, ...] | None
    exact: bool
    looked: int


def lowest(fusion: Fusion, left: Flags) -> Ints:
    """For each state ``(w, n)`` of units left a number of stops that it needs at least, ``(w,)``.

    A colour needs a stop for each of its runs along any one chain, whatever other colours do; so the sum over
    colours is at most the truth, and at least the colours left and the longest chain of changing colours.
    """
    most = np.maximum.reduceat(np.where(left, fusion.depth, 0), fusion.first[:-1], axis=1)
    return np.asarray(most.sum(axis=1))


def search(fusion: Fusion, limit: int, width: int) -> Found:
    """A sequence of at most ``limit`` stops, the shortest that this search meets."""
    need = fusion.need.T.astype(np.float32)
    left = np.ones((1, len(fusion.colour)), dtype=np.bool_)
    history: list[tuple[Ints, Ints]] = []
    exact, looked = True, 0
    for spent in range(1, limit + 1):
        parent, hue, left = _children(fusion, need, left)
        bound = lowest(fusion, left)
        keep = np.flatnonzero(spent + bound <= limit)
        keep = keep[_first_of_equals(left[keep])]
        looked += len(parent)
        if len(keep) > width:
            exact = False
            keep = keep[_best(fusion, left[keep], bound[keep], width)]
        if not len(keep):
            return Found(None, exact, looked)
        parent, hue, left = parent[keep], hue[keep], left[keep]
        history.append((parent, hue))
        done = np.flatnonzero(~left.any(axis=1))
        if len(done):
            return Found(tuple(recalled(history, int(done[0]))), exact, looked)
    return Found(None, exact, looked)


def _children(fusion: Fusion, need: Floats, left: Flags) -> tuple[Ints, Ints, Flags]:
    """Every state after one more stop: its parent, the stop's colour, and the units left.

    A colour that can be finished now is: nothing is gained by sewing the last of it later.
    """
    free = (left.astype(np.float32) @ need == 0) & left
    starts = fusion.first[:-1]
    can = np.logical_or.reduceat(free, starts, axis=1)
    open_ = np.logical_or.reduceat(left & ~free, starts, axis=1)
    finish = can & ~open_
    forced = finish.any(axis=1)
    can[forced] = False
    can[forced, finish[forced].argmax(axis=1)] = True
    parent, hue = np.nonzero(can)
    own = fusion.colour[None, :] == hue[:, None]
    return parent, hue, left[parent] & ~(free[parent] & own)


def _first_of_equals(left: Flags) -> Ints:
    packed = np.packbits(left, axis=1)
    _, place = np.unique(packed.view([("", packed.dtype)] * packed.shape[1]).reshape(-1), return_index=True)
    return np.sort(place)


def _best(fusion: Fusion, left: Flags, bound: Ints, width: int) -> Ints:
    """The ``width`` states that promise most: by bound, then by the depth of what is left."""
    weight = (left * fusion.depth.astype(np.float32)).sum(axis=1)
    return np.sort(np.lexsort((np.arange(len(left)), weight, bound))[:width])
