"""What the ways between units cost: hidden travel less than needle-up, and a trim most."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pipeline.geometry.graph import recalled
from pipeline.model import Points
from pipeline.steps.gates import Gates
from pipeline.steps.settings import StepSettings
from pipeline.steps.tour import Flags, Floats, Ints, Problem

HOP_SHARE = 0.25
"""A short uncut thread that may show costs this share of a cut: less time at the machine, but not nothing."""


@dataclass(frozen=True, eq=False)
class Field:
    """The units of one colour stop with their gates.

    ``patch`` ``(n,)`` numbers the connected ground that hides thread: between units of one patch the thread can
    stay uncut. ``before`` ``(n, n)``: row u marks what comes before u. ``leave`` holds all exits, ``(m, 2)``,
    ``owner`` ``(m,)`` their units, and ``first`` ``(n,)`` where the exits of each unit begin.
    """

    gates: tuple[Gates, ...]
    patch: Ints
    before: Flags
    owner: Ints
    first: Ints
    leave: Points
    settings: StepSettings

    def priced(self, distance: Floats, together: Flags) -> Floats:
        """The cost of moves of a length in mm, in mm of needle-up."""
        hop = np.where(distance <= self.settings.hop_mm, HOP_SHARE, 1.0)
        away = distance + hop * self.settings.trim_cost_mm
        return np.where(together, distance * self.settings.travel_share, away)

    def coming(self, here: Points, patch: Ints, unit: int) -> Floats:
        """From places ``(k, 2)`` on grounds ``patch``, the cost up to each exit of ``unit``, ``(k, b)``."""
        gate = self.gates[unit]
        distance = np.hypot(*(here[:, None] - gate.enter[None]).transpose(2, 0, 1))
        price = self.priced(distance, (patch == self.patch[unit])[:, None])
        return np.asarray((price[:, :, None] + self._extra(unit)[None]).min(axis=1))

    def entered(self, here: Points | None, patch: int, unit: int, out: int) -> int:
        """The entrance to take from ``here`` (anywhere if None) when leaving ``unit`` at exit ``out``."""
        gate = self.gates[unit]
        price = self._extra(unit)[:, out]
        if here is not None:
            distance = np.hypot(*(gate.enter - here).T)
            price = price + self.priced(distance, np.full(len(distance), patch == self.patch[unit]))
        return int(np.argmin(price))

    def begun(self, unit: int) -> Floats:
        """The cost of beginning with ``unit``, up to each of its exits."""
        return np.asarray(self._extra(unit).min(axis=0))

    def _extra(self, unit: int) -> Floats:
        return self.gates[unit].extra * self.settings.travel_share

    def exits(self, unit: int) -> Ints:
        """The exits of ``unit``, as numbers of ``leave``."""
        return np.arange(self.first[unit], self.first[unit] + len(self.gates[unit].leave))

    def problem(self, units: Ints, came: tuple[Points, int] | None, goes: int | None) -> tuple[Problem, Ints]:
        """Visiting ``units`` from a place and its patch to unit ``goes``, and the exits of its nodes."""
        nodes = np.concatenate([self.exits(int(unit)) for unit in units])
        owner = self.owner[nodes]
        cost = np.hstack([self.coming(self.leave[nodes], self.patch[owner], int(unit)) for unit in units])
        if came is None:
            first = np.concatenate([self.begun(int(unit)) for unit in units])
        else:
            where, ground = came[0][None], np.array([came[1]])
            first = np.hstack([self.coming(where, ground, int(unit)) for unit in units])[0]
        last = np.zeros(len(nodes))
        if goes is not None:
            last = self.coming(self.leave[nodes], self.patch[owner], goes).min(axis=1)
        group = np.repeat(np.arange(len(units)), [len(self.gates[int(unit)].leave) for unit in units])
        return Problem(group, first, last, cost, self.before[np.ix_(units, units)]), nodes


def field_of(gates: Sequence[Gates], patch: Ints, before: Flags, settings: StepSettings) -> Field:
    """The field of units with these gates."""
    owner = np.repeat(np.arange(len(gates)), [len(gate.leave) for gate in gates])
    first = np.searchsorted(owner, np.arange(len(gates))).astype(np.int64)
    return Field(tuple(gates), patch, before, owner, first, np.vstack([gate.leave for gate in gates]), settings)


def chosen_exits(field: Field, order: Ints) -> Ints:
    """For units visited in this order, the exits that make the whole way cheapest."""
    nodes = field.exits(int(order[0]))
    cost = field.begun(int(order[0]))
    history = [(np.zeros(len(nodes), dtype=np.int64), nodes)]
    for here, unit in zip(order[:-1].tolist(), order[1:].tolist(), strict=True):
        ground = np.full(len(nodes), field.patch[here])
        total = cost[:, None] + field.coming(field.leave[nodes], ground, unit)
        back = total.argmin(axis=0)
        nodes, cost = field.exits(unit), total[back, np.arange(total.shape[1])]
        history.append((back, nodes))
    return np.array(recalled(history, int(np.argmin(cost))), dtype=np.int64)


def chosen_entrances(field: Field, order: Ints, exits: Ints) -> list[int]:
    """The entrance of each unit of ``order`` that fits best between the exit before and its own."""
    found = []
    for place, (unit, node) in enumerate(zip(order.tolist(), exits.tolist(), strict=True)):
        here = field.leave[exits[place - 1]] if place else None
        ground = int(field.patch[order[place - 1]]) if place else -1
        found.append(field.entered(here, ground, unit, node - int(field.first[unit])))
    return found


def price_of(field: Field, order: Ints) -> float:
    """The cost of visiting units in this order, with the best exits and entrances."""
    exits = chosen_exits(field, order)
    entrances = chosen_entrances(field, order, exits)
    total = 0.0
    for place, (unit, node, enter) in enumerate(zip(order.tolist(), exits.tolist(), entrances, strict=True)):
        gate = field.gates[unit]
        total += float(gate.extra[enter, node - field.first[unit]]) * field.settings.travel_share
        if place:
            away = np.hypot(*(field.leave[exits[place - 1]] - gate.enter[enter]))
            together = np.asarray(field.patch[order[place - 1]] == field.patch[unit])
            total += float(field.priced(np.asarray(away), together))
    return total
