"""The order of colour stops: as few changes as the overlaps allow.

Once a colour is on the needle, sewing everything of it that is free loses nothing, so a state is the set of
units already sewn and each move a colour. All states are followed level by level, which is exact as long as
none has to be dropped; beyond ``width`` the ones that have sewn most are kept (a beam search).
Source of the model: typed fusion, Kennedy & McKinley 1994; loading-time scheduling, Bhatia, Khuller & Naor 2000.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from pipeline.steps.units import Unit

WORK = 2_000_000
"""Unit visits allowed a level: narrows the beam on very large designs so that they end in seconds."""


@dataclass(frozen=True)
class ColourOrder:
    """``stops`` lists the units of each colour stop; ``proved`` tells whether fewer changes are impossible."""

    stops: tuple[tuple[int, ...], ...]
    proved: bool


def precedence(units: list[Unit], overlap_mm2: float) -> list[int]:
    """For each unit a bit mask of the units that must be sewn before it, by overlap and height."""
    areas = [unit.area for unit in units]
    found = shapely.STRtree(areas).query(areas, predicate="intersects")
    found = found[:, found[0] > found[1]]
    shared = shapely.area(shapely.intersection([areas[i] for i in found[0]], [areas[j] for j in found[1]]))
    before = [0] * len(units)
    for one, other in found[:, np.asarray(shared) > overlap_mm2].T.tolist():
        if units[one].z != units[other].z:
            upper, lower = (one, other) if units[one].z > units[other].z else (other, one)
            before[upper] |= 1 << lower
    return before


def colour_order(units: list[Unit], before: list[int], width: int) -> ColourOrder:
    """The colour stops with the fewest changes found."""
    colours = sorted({unit.colour for unit in units})
    members = {colour: [i for i, unit in enumerate(units) if unit.colour == colour] for colour in colours}
    everything = (1 << len(units)) - 1
    width = max(1, min(width, WORK // max(1, len(units))))
    level: dict[int, tuple[tuple[int, ...], ...]] = {0: ()}
    exact = True
    while everything not in level:
        reached: dict[int, tuple[tuple[int, ...], ...]] = {}
        for done, stops in level.items():
            for colour in colours:
                now, sewn = _closure(done, members[colour], before)
                if sewn and now not in reached:
                    reached[now] = (*stops, sewn)
        if len(reached) > width:
            exact = False
            best = sorted(reached, key=lambda state: (-state.bit_count(), state))[:width]
            reached = {state: reached[state] for state in best}
        level = reached
    return ColourOrder(level[everything], exact or len(level[everything]) == len(colours))


def _closure(done: int, members: list[int], before: list[int]) -> tuple[int, tuple[int, ...]]:
    """Sew everything of one colour that is free, and what that frees; members are in stack order."""
    sewn = []
    for unit in members:
        bit = 1 << unit
        if not done & bit and before[unit] & ~done == 0:
            done |= bit
            sewn.append(unit)
    return done, tuple(sewn)
