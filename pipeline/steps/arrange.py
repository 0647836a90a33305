"""The steps room's one function."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import shapely

from pipeline.craft import Craft
from pipeline.errors import BrokenPromiseError
from pipeline.geometry import overlay
from pipeline.geometry.graph import components
from pipeline.geometry.polygon import NOTHING, multipolygon
from pipeline.losses import each
from pipeline.model import Finding, Note, Part, Points, Step, Surface
from pipeline.sequence.colours import colour_order
from pipeline.sequence.precedence import Flags, followed, overlaps
from pipeline.steps.gates import gates
from pipeline.steps.inside import walked
from pipeline.steps.prices import chosen_entrances, chosen_exits, field_of
from pipeline.steps.settings import StepSettings
from pipeline.steps.tour import Floats, Ints
from pipeline.steps.units import Unit, units
from pipeline.steps.visits import ordered

COVERS = ("tatami", "satin")
"""Kinds that foundation must not lie on; a run is thin."""
NEIGHBOURS = 3
"""So many of the closest pieces beside a unit give it a place to go in and out; more only cost time."""

Stops = tuple[tuple[int, ...], ...]


def arrange(
    parts: tuple[Part, ...], surfaces: tuple[Surface, ...], settings: StepSettings, craft: Craft, note: Note
) -> tuple[Step, ...]:
    """Put all parts in sewing order and give each its start and end.

    What lies beneath is sewn before what lies on it; within that, as few colour changes as can be found;
    within a colour, as few cuts and as short ways as can be found (from the middle outwards and bottom up where
    the fabric asks for it).
    """
    if not parts:
        return ()
    colours = {surface.region.id: surface.region.colour for surface in surfaces}
    heights = {surface.region.id: surface.region.z for surface in surfaces}
    found = units(parts, colours, heights)
    areas, levels = [unit.area for unit in found], [unit.z for unit in found]
    touching = overlaps(areas, levels, settings.overlap_mm2)
    shown = {surface.region.id: surface.region.visible for surface in surfaces}
    in_sight = np.full(len(found), NOTHING, dtype=object)
    upon = touching.any(axis=1)  # of what lies on nothing it doesn't matter what shows
    visible = np.array([shown[unit.parts[0].region] for unit in found], dtype=object)
    in_sight[upon] = overlay.intersection(np.array(areas, dtype=object)[upon], visible[upon])
    before = followed(overlaps(areas, levels, settings.overlap_mm2, list(in_sight)))
    stops = _as_drawn(found) if settings.keep_artwork_order else _fewest(found, before, settings, note)
    rank = _cap_rank(found) if craft.fabric.centre_out else np.zeros(len(found))
    fixed = craft.fabric.centre_out or settings.keep_artwork_order
    steps: list[Step] = []
    for stop, patch in zip(stops, _patches(stops, touching), strict=True):
        steps += _stop(found, np.array(stop), patch, before, settings, rank if fixed else None)
    return _grounded(steps, heights)


def _grounded(steps: list[Step], heights: dict[str, int]) -> tuple[Step, ...]:
    """The steps without foundation on cover that was sewn before them though it lies higher in the stack."""
    level = np.array([heights[step.part.region] for step in steps])
    covers = np.array([step.part.area if step.part.kind in COVERS else NOTHING for step in steps], dtype=object)
    bare = np.array([step.part.bare for step in steps], dtype=object)
    own, other = shapely.STRtree(covers).query(bare, predicate="intersects")
    early = (other < own) & (level[other] > level[own])
    made = list(steps)
    for index in np.unique(own[early]).tolist():
        sewn = overlay.union_all(covers[other[early & (own == index)]])
        part = steps[index].part
        left = multipolygon(overlay.difference(part.bare, sewn))
        held = multipolygon(overlay.difference(part.foundation, sewn))
        made[index] = replace(steps[index], part=replace(part, bare=left, foundation=held))
    return tuple(made)


def _as_drawn(found: list[Unit]) -> Stops:
    """The units bottom first, cut where the colour changes."""
    runs = itertools.groupby(range(len(found)), key=lambda index: found[index].colour)
    return tuple(tuple(run) for _, run in runs)


def _fewest(found: list[Unit], before: Flags, settings: StepSettings, note: Note) -> Stops:
    result = colour_order([unit.colour for unit in found], before, settings.search_width)
    if not result.proved:
        message = (
            f"{len(result.stops) - 1} colour changes are the fewest found; at least {result.lowest - 1} are "
            "needed, and whether it can be done with fewer than found is not proved"
        )
        note(Finding("colour-order-unproved", "note", message))
    return result.stops


def _patches(stops: Stops, touching: Flags) -> list[Ints]:
    """For each stop, which connected ground of cover each of its units lies in, ``(n,)``.

    Thread is hidden by what is sewn in this stop (beneath it, or on it in its own colour) and in later ones.
    """
    upper, lower = np.nonzero(touching)
    stop_of = np.empty(len(touching), dtype=np.int64)
    for number, stop in enumerate(stops):
        stop_of[list(stop)] = number
    earliest = np.minimum(stop_of[upper], stop_of[lower])
    found = []
    for number, stop in enumerate(stops):
        keep = earliest >= number
        label = components(len(touching), upper[keep], lower[keep])
        found.append(label[list(stop)].astype(np.int64))
    return found


def _stop(
    found: list[Unit], stop: Ints, patch: Ints, before: Flags, settings: StepSettings, rank: Floats | None
) -> list[Step]:
    """The steps of one colour stop; ``rank`` gives the order instead of a search."""
    beside = _beside(found, stop, settings.hop_mm)
    names = [found[unit].parts[0].region for unit in stop]
    every = each(names, zip(stop, beside, strict=True), lambda pair: gates(found[pair[0]], pair[1]))
    field = field_of(every, patch, before[np.ix_(stop, stop)], settings)
    order = ordered(field) if rank is None else _by_rank(field.before, rank[stop])
    exits = chosen_exits(field, order)
    entrances = chosen_entrances(field, order, exits)

    def walk(way: tuple[int, int, int]) -> list[Step]:
        place, node, enter = way
        gate = field.gates[place]
        return walked(found[stop[place]], int(gate.part[enter]), gate.enter[enter], field.leave[node])

    ways = zip(order.tolist(), exits.tolist(), entrances, strict=True)
    return [step for steps in each([names[place] for place in order], ways, walk) for step in steps]


def _beside(found: list[Unit], stop: Ints, hop_mm: float) -> list[Points]:
    """For each unit of a stop the places on its edge that are nearest to its closest neighbours, ``(k, 2)``."""
    areas = np.array([found[unit].area for unit in stop], dtype=object)
    one, other = shapely.STRtree(areas).query(areas, predicate="dwithin", distance=hop_mm)
    one, other = one[one != other], other[one != other]
    lines = shapely.shortest_line(areas[one], areas[other])
    spots = shapely.get_coordinates(lines).reshape(-1, 2, 2)[:, 0]
    order = np.lexsort((other, shapely.length(lines).round(6), one))
    bounds = np.searchsorted(one[order], np.arange(len(stop) + 1))
    return [spots[order[first:last][:NEIGHBOURS]] for first, last in itertools.pairwise(bounds)]


def _by_rank(before: Flags, rank: Floats) -> Ints:
    """Always the free unit of the lowest rank, the lower in the stack of equals."""
    left = np.ones(len(rank), dtype=np.bool_)
    order = []
    while left.any():
        free = np.flatnonzero(left & ~(before & left).any(axis=1))
        if not len(free):
            raise BrokenPromiseError("units that must come before each other in a circle")
        order.append(int(free[np.argmin(rank[free])]))
        left[order[-1]] = False
    return np.array(order, dtype=np.int64)


def _cap_rank(found: list[Unit]) -> Floats:
    """Farther from the vertical middle of the design is later, and so, half as much, is higher up."""
    areas = [unit.area for unit in found]
    centre = shapely.get_coordinates(shapely.centroid(areas))
    box = shapely.total_bounds(areas)
    rank = np.abs(centre[:, 0] - (box[0] + box[2]) / 2.0) + (box[3] - centre[:, 1]) / 2.0
    return np.asarray(np.round(rank, 6))
