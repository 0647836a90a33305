"""The steps room's one function."""

from __future__ import annotations

import numpy as np
import shapely

from pipeline.model import Fabric, Finding, Note, Part, Spot, Step, Surface
from pipeline.steps.colours import colour_order, precedence
from pipeline.steps.ends import nearest_end
from pipeline.steps.settings import StepSettings
from pipeline.steps.units import Unit, units


def arrange(
    parts: tuple[Part, ...], surfaces: tuple[Surface, ...], settings: StepSettings, fabric: Fabric, note: Note
) -> tuple[Step, ...]:
    """Put all parts in sewing order and give each its start and end.

    What lies beneath is sewn before what lies on it; within that, as few colour changes as can be found;
    within a colour, near to near (from the middle outwards and bottom up where the fabric asks for it).
    """
    if not parts:
        return ()
    colours = {surface.region.id: surface.region.colour for surface in surfaces}
    heights = {surface.region.id: surface.region.z for surface in surfaces}
    found = units(parts, colours, heights)
    before = precedence(found, settings.overlap_mm2)
    if settings.keep_artwork_order:
        order = list(range(len(found)))
    else:
        stops = colour_order(found, before, settings.search_width)
        if not stops.proved:
            message = (
                f"{len(stops.stops) - 1} colour changes: the best of the orders tried; with this many pieces "
                "it is not proved that fewer are impossible"
            )
            note(Finding("colour-order-unproved", "note", message))
        order = _visits(found, stops.stops, before, fabric)
    return tuple(_steps([found[index] for index in order]))


def _visits(found: list[Unit], stops: tuple[tuple[int, ...], ...], before: list[int], fabric: Fabric) -> list[int]:
    """The units in order: within each stop the free unit nearest to where the last one was."""
    here = shapely.Point(0.0, 0.0)
    areas = np.array([unit.area for unit in found], dtype=object)
    rank = _cap_rank(found) if fabric.centre_out else None
    order: list[int] = []
    done = 0
    for stop in stops:
        waiting = list(stop)
        while waiting:
            free = [unit for unit in waiting if before[unit] & ~done == 0]
            if rank is None:
                away = shapely.distance(areas[free], here)
                chosen = free[int(np.lexsort((free, np.round(away, 6)))[0])]
            else:
                chosen = min(free, key=lambda unit: (rank[unit], unit))
            waiting.remove(chosen)
            order.append(chosen)
            done |= 1 << chosen
            here = shapely.centroid(areas[chosen])
    return order


def _cap_rank(found: list[Unit]) -> list[float]:
    """Farther from the vertical middle of the design is later, and so, half as much, is higher up."""
    centres = [unit.area.centroid for unit in found]
    box = shapely.total_bounds([unit.area for unit in found])
    middle = (box[0] + box[2]) / 2.0
    return [abs(centre.x - middle) + (box[3] - centre.y) / 2.0 for centre in centres]


def _steps(order: list[Unit]) -> list[Step]:
    steps: list[Step] = []
    here: Spot = (0.0, 0.0)
    for position, unit in enumerate(order):
        coming = order[position + 1].area if position + 1 < len(order) else None
        steps.extend(_walk(unit, here, coming))
        here = steps[-1].end
    return steps


def _walk(unit: Unit, here: Spot, coming: shapely.MultiPolygon | None) -> list[Step]:
    """One unit's parts, leaves first and the root last, starting at the joint nearest to ``here``."""
    steps: list[Step] = []
    stack: list[tuple[int, list[int]]] = [(unit.root, unit.children(unit.root))]
    while stack:
        index, waiting = stack[-1]
        if waiting:
            child = min(waiting, key=lambda c: (round(_away(unit.joint[c], here), 6), c))
            waiting.remove(child)
            here = unit.joint[child]
            stack.append((child, unit.children(child)))
            continue
        stack.pop()
        part = unit.parts[index]
        target = shapely.Point(unit.joint[index]) if stack else coming
        start = nearest_end(part, shapely.Point(here))
        end = start if target is None else nearest_end(part, target)
        steps.append(Step(part, unit.colour, start, end))
        here = end
    return steps


def _away(one: Spot, other: Spot) -> float:
    return float(np.hypot(one[0] - other[0], one[1] - other[1]))
