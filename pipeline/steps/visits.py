"""In what order the units of one colour stop are visited."""

from __future__ import annotations

import numpy as np

from pipeline.steps.improve import improved
from pipeline.steps.prices import Field, chosen_exits, price_of
from pipeline.steps.tour import MOST_GROUPS, Ints, best_tour

WHOLE = 8
"""Up to so many units every order is tried."""
BEAM = 120
"""Orders kept side by side for more units than that: twice as many take twice as long and gain about 1 %."""
WINDOW, WINDOWED = 6, 150
"""Every run of so many units in the order is put right by itself, for stops of up to so many units."""
BEAMED = 40
"""Stops of more units begin with the nearest unit each time: a beam forgets what it left behind too late."""
PASSES = 2


def ordered(field: Field) -> Ints:
    """The units of ``field`` in the cheapest order found that keeps what comes before what."""
    count = len(field.gates)
    every = np.arange(count)
    if count == 1:
        return every
    if count <= WHOLE:
        return _best(field, every, None, None, np.iinfo(np.int64).max)
    if count > WINDOWED:
        return improved(field, _nearest_first(field, False))
    starts = [_nearest_first(field, backwards) for backwards in (False, True)]
    if count <= min(BEAMED, MOST_GROUPS):
        starts.append(_best(field, every, None, None, BEAM))
    found = [improved(field, start) for start in starts]
    if count > BEAMED:
        found = [_cheapest(field, found)]
    return _cheapest(field, [_settled(field, order) for order in found])


def _cheapest(field: Field, orders: list[Ints]) -> Ints:
    return min(orders, key=lambda order: round(price_of(field, order), 6))


def _settled(field: Field, order: Ints) -> Ints:
    """``order`` with every window of it put right, and what that makes possible, until nothing helps."""
    for _ in range(PASSES):
        slid = _windows(field, order)
        if (slid == order).all():
            break
        order = improved(field, slid)
    return order


def _best(
    field: Field, units: Ints, came: tuple[np.ndarray[tuple[int, ...], np.dtype[np.float64]], int] | None,
    goes: int | None, width: int,
) -> Ints:  # fmt: skip
    problem, nodes = field.problem(units, came, goes)
    tour, _ = best_tour(problem, width)
    return field.owner[nodes[tour]]


def _windows(field: Field, order: Ints) -> Ints:
    """Every run of a few units put in the best order between its neighbours."""
    order = order.copy()
    exits = chosen_exits(field, order)
    for first in range(0, max(1, len(order) - WINDOW + 1), WINDOW // 2):
        past = min(first + WINDOW, len(order))
        came = (field.leave[exits[first - 1]], int(field.patch[order[first - 1]])) if first else None
        goes = int(order[past]) if past < len(order) else None
        problem, nodes = field.problem(order[first:past], came, goes)
        tour, _ = best_tour(problem, np.iinfo(np.int64).max)
        exits[first:past] = nodes[tour]
        order[first:past] = field.owner[nodes[tour]]
    return order


def _nearest_first(field: Field, backwards: bool) -> Ints:
    """Always the free unit that is cheapest to come to, beginning at the first or the last corner of the field."""
    count = len(field.gates)
    enter = np.vstack([gate.enter for gate in field.gates])
    owner = np.repeat(np.arange(count), [len(gate.enter) for gate in field.gates])
    least = np.concatenate([gate.extra.min(axis=1) for gate in field.gates]) * field.settings.travel_share
    waits = field.before.sum(axis=1)
    shut = waits[owner] > 0
    score = np.where(shut, np.inf, (enter.sum(axis=1)) * (-1.0 if backwards else 1.0))
    gone = np.zeros(len(enter), dtype=np.bool_)
    order = []
    for _ in range(count):
        node = int(np.argmin(score))
        unit = int(owner[node])
        order.append(unit)
        gone[owner == unit] = True
        waits = waits - field.before[:, unit]
        gate = field.gates[unit]
        out = int(np.argmin(gate.extra[node - int(np.searchsorted(owner, unit))]))
        distance = np.hypot(*(enter - gate.leave[out]).T)
        score = field.priced(distance, field.patch[owner] == field.patch[unit]) + least
        score[gone | (waits[owner] > 0)] = np.inf
    return np.array(order, dtype=np.int64)
