"""Making an order of visits shorter: pieces of it turned round or put elsewhere, as long as anything is gained.

G. Croes, "A method for solving traveling-salesman problems", Operations Research 6, 1958 (2-opt); I. Or's thesis,
1976 (Or-opt). A change that would break what must come before what is not made.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from pipeline.model import Points
from pipeline.steps.prices import Field, chosen_entrances, chosen_exits
from pipeline.steps.tour import Flags, Floats, Ints

ALL_PAIRS = 60
"""Up to so many units every pair is tried; beyond, only the ``NEAR`` nearest: a little worse, far quicker."""
NEAR = 8
LONGEST = 3
"""Units in a piece that is put elsewhere."""
ROUNDS = 60
"""Rounds of changes; each makes all that do not touch each other, so that few are needed."""
LEAST_MM = 1e-6


@dataclass(frozen=True, eq=False)
class _Tour:
    """An order with the places where each visited unit is entered and left, all ``(n, …)`` by position."""

    field: Field
    order: Ints
    enter: Points
    leave: Points
    patch: Ints
    turnable: Flags

    def way(self, out: Points, patch: Ints, into: Points, ground: Ints) -> Floats:
        return self.field.priced(np.hypot(*(out - into).T), patch == ground)

    def link(self, one: Ints, other: Ints, turned: tuple[bool, bool] = (False, False)) -> Floats:
        """The cost from position ``one`` to ``other``, either walked backwards; 0 where one is beyond an end."""
        inside = (one >= 0) & (other < len(self.order))
        a, b = np.where(inside, one, 0), np.where(inside, other, 0)
        out = (self.enter if turned[0] else self.leave)[a]
        into = (self.leave if turned[1] else self.enter)[b]
        return np.where(inside, self.way(out, self.patch[a], into, self.patch[b]), 0.0)


@dataclass(frozen=True, eq=False)
class _Changes:
    """``gain`` of putting positions ``low``…``high`` after ``to`` (-1: first; ``high``: in place), maybe turned."""

    gain: Floats
    low: Ints
    high: Ints
    to: Ints
    turned: Flags


def improved(field: Field, order: Ints) -> Ints:
    """``order`` after as many changes as gain something, with exits and entrances chosen anew between them."""
    for _ in range(ROUNDS):
        better = _round(_tour(field, order))
        if better is None:
            break
        order = better
    return order


def _tour(field: Field, order: Ints) -> _Tour:
    exits = chosen_exits(field, order)
    enter = [
        field.gates[unit].enter[gate]
        for unit, gate in zip(order.tolist(), chosen_entrances(field, order, exits), strict=True)
    ]
    turnable = np.array([field.gates[unit].turnable for unit in order.tolist()])
    return _Tour(field, order, np.array(enter), field.leave[exits], field.patch[order], turnable)


def _round(tour: _Tour) -> Ints | None:
    """The order after the best changes that do not touch each other, or None if nothing is gained."""
    found = [_moved(tour, size) for size in range(1, min(LONGEST, len(tour.order) - 1) + 1)]
    found.append(_turned(tour))
    gain = np.concatenate([item.gain for item in found])
    low, high, to = (np.concatenate([getattr(item, name) for item in found]) for name in ("low", "high", "to"))
    turned = np.concatenate([item.turned for item in found])
    best = np.flatnonzero(gain > LEAST_MM)
    best = best[np.lexsort((to[best], low[best], -gain[best]))]
    bound = bool(tour.field.before.any())
    touched = np.zeros(len(tour.order) + 1, dtype=np.bool_)
    places = np.arange(len(tour.order))
    for k in best.tolist():
        first, last = min(int(low[k]), int(to[k]) + 1), max(int(high[k]), int(to[k]))
        if touched[max(first - 1, 0) : last + 2].any():
            continue
        piece, rest = places[low[k] : high[k] + 1], _between(int(low[k]), int(high[k]), int(to[k]))
        later = to[k] > high[k]
        if bound and not _allowed(tour, piece, rest, bool(later), bool(turned[k])):
            continue
        touched[max(first - 1, 0) : last + 2] = True
        moved = piece[::-1] if turned[k] else piece
        places[first : last + 1] = np.concatenate([rest, moved] if later else [moved, rest])
    return tour.order[places] if touched.any() else None


def _between(low: int, high: int, to: int) -> Ints:
    return np.arange(high + 1, to + 1) if to > high else np.arange(to + 1, low)


def _allowed(tour: _Tour, piece: Ints, rest: Ints, later: bool, turned: bool) -> bool:
    before = tour.field.before
    own, others = tour.order[piece], tour.order[rest]
    if turned and before[np.ix_(own, own)].any():
        return False
    return not before[np.ix_(others, own) if later else np.ix_(own, others)].any()


def _moved(tour: _Tour, size: int) -> _Changes:
    """Pieces of ``size`` units put after another position, as they are or turned round."""
    count = len(tour.order)
    low, to = _pairs(tour, size)
    high = low + size - 1
    good = (high < count) & ((to < low - 1) | (to > high)) & (to < count)
    low, high, to = low[good], high[good], to[good]
    saved = tour.link(low - 1, low) + tour.link(high, high + 1) + tour.link(to, to + 1)
    saved -= tour.link(low - 1, high + 1)
    straight = saved - tour.link(to, low) - tour.link(high, to + 1)
    back = saved - tour.link(to, high, (False, True)) - tour.link(low, to + 1, (True, False))
    sums = np.concatenate([[0], np.cumsum(tour.turnable)])
    back[sums[high + 1] - sums[low] < size] = -np.inf
    return _Changes(np.maximum(straight, back), low, high, to, back > straight)


def _turned(tour: _Tour) -> _Changes:
    """Pieces of any length turned round where they are."""
    count = len(tour.order)
    low, high = np.triu_indices(count, 1) if count <= ALL_PAIRS else _near_pairs(tour)
    gain = tour.link(low - 1, low) + tour.link(high, high + 1)
    gain -= tour.link(low - 1, high, (False, True)) + tour.link(low, high + 1, (True, False))
    sums = np.concatenate([[0], np.cumsum(tour.turnable)])
    gain[sums[high + 1] - sums[low] < high - low + 1] = -np.inf
    return _Changes(gain, low, high, high, np.ones(len(low), dtype=np.bool_))


def _pairs(tour: _Tour, size: int) -> tuple[Ints, Ints]:
    """First positions of pieces and positions to put them after."""
    count = len(tour.order)
    if count <= ALL_PAIRS:
        low, to = np.divmod(np.arange(count * (count + 1)), count + 1)
        return low, to - 1
    one, other = _near(tour)
    low = np.concatenate([one, one, other - size + 1, np.arange(count), np.arange(count)])
    to = np.concatenate([other, other - 1, one - 1, np.full(count, -1), np.full(count, count - 1)])
    keep = low >= 0
    return low[keep], to[keep]


def _near_pairs(tour: _Tour) -> tuple[Ints, Ints]:
    """Pieces that would begin or end beside a near unit if turned, and those up to either end of the order."""
    count = len(tour.order)
    one, other = _near(tour)
    low = np.concatenate([one + 1, one, np.zeros(count, dtype=np.int64), np.arange(count)])
    high = np.concatenate([other, other - 1, np.arange(count), np.full(count, count - 1)])
    keep = (low < high) & (low >= 0) & (high < count)
    return low[keep], high[keep]


def _near(tour: _Tour) -> tuple[Ints, Ints]:
    """Pairs of positions that lie near each other, by where they are entered or left."""
    count = len(tour.order)
    ends = np.vstack([tour.enter, tour.leave])
    _, near = cKDTree(ends).query(ends, NEAR + 1)
    one = np.repeat(np.arange(2 * count) % count, NEAR)
    other = near[:, 1:].reshape(-1) % count
    keep = one != other
    return one[keep].astype(np.int64), other[keep].astype(np.int64)
