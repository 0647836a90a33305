"""The steps of one unit: its leaves first and its root last, from the place where it is entered."""

from __future__ import annotations

import shapely

from pipeline.geometry.polyline import away, spot_of
from pipeline.model import Points, Spot, Step
from pipeline.steps.units import Unit
from pipeline.steps.ways_out import nearest_end, way_out


def walked(unit: Unit, first: int, enter: Points, leave: Points) -> list[Step]:
    """One unit's parts in order: part ``first``, a leaf, is entered at ``enter``, the root left at ``leave``.

    Every other part is entered from where the thread is and left at the joint with its parent, and of the limbs
    of a part the nearest comes first.
    """
    steps: list[Step] = []
    here = spot_of(enter)
    path = _up(unit, first)
    stack: list[tuple[int, list[int]]] = [(unit.root, unit.children(unit.root))]
    while stack:
        index, waiting = stack[-1]
        if waiting:
            child = _next(unit, waiting, here, path if not steps else [])
            waiting.remove(child)
            here = here if not steps else unit.joint[child]
            stack.append((child, unit.children(child)))
            continue
        stack.pop()
        part = unit.parts[index]
        start = spot_of(enter) if not steps else nearest_end(part, shapely.Point(here))
        end = way_out(part, unit.parts[stack[-1][0]].area, unit.joint[index]) if stack else spot_of(leave)
        steps.append(Step(part, unit.colour, start, end))
        here = end
    return steps


def _next(unit: Unit, waiting: list[int], here: Spot, path: list[int]) -> int:
    """The limb to go to: the one on the way to the first leaf, else the nearest."""
    for child in path:
        if child in waiting:
            return child
    return min(waiting, key=lambda child: (round(away(unit.joint[child], here), 6), child))


def _up(unit: Unit, leaf: int) -> list[int]:
    path = []
    while leaf >= 0:
        path.append(leaf)
        leaf = unit.parent[leaf]
    return path
