"""Row angles: neighbours differ, then the fewest turns."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

from pipeline.geometry.neighbours import pairs
from pipeline.model import Region
from pipeline.roles.settings import RoleSettings

NEAR_MM = 0.2
"""Regions closer than this meet once sewn, so their rows must not run alike."""
SAME_COST = 1.06
"""Angles within this ratio of the cheapest count as equal, so that similar shapes get similar angles."""


def angles(regions: tuple[Region, ...], settings: RoleSettings) -> tuple[float, ...]:
    """One row angle a region, in degrees.

    Largest first, each takes the cheapest angle (fewest turns) among those that differ enough from its
    neighbours above, below and beside; if none does, the one that differs most.
    """
    outlines = [region.outline for region in regions]
    near = pairs(outlines, NEAR_MM)
    tried = np.arange(0.0, 180.0, settings.angle_step_deg)
    chosen: dict[int, float] = {}
    for index in sorted(range(len(regions)), key=lambda i: (-regions[i].outline.area, i)):
        taken = np.array([chosen[other] for other in near[index] if other in chosen])
        chosen[index] = _angle(outlines[index], taken, tried, settings)
    return tuple(chosen[index] for index in range(len(regions)))


def _angle(
    outline: MultiPolygon, taken: NDArray[np.float64], tried: NDArray[np.float64], settings: RoleSettings
) -> float:
    apart = np.full(len(tried), 90.0)
    if len(taken):
        apart = _difference(tried[:, None], taken[None, :]).min(axis=1)
    allowed = apart >= min(settings.angle_apart_deg, float(apart.max())) - 1e-9
    cost = np.where(allowed, turns(outline, tried), np.inf)
    good = np.flatnonzero(cost <= cost.min() * SAME_COST)
    away = _difference(tried[good], np.array(settings.angle_first_deg))
    return float(tried[good[np.lexsort((tried[good], away))[0]]])


def _difference(one: NDArray[np.float64], other: NDArray[np.float64]) -> NDArray[np.float64]:
    """The angle between two undirected directions, 0…90°."""
    turn = np.abs(one - other) % 180.0
    return np.asarray(np.minimum(turn, 180.0 - turn))


def turns(outline: MultiPolygon, tried: NDArray[np.float64]) -> NDArray[np.float64]:
    """Half the summed extent of all edges across rows at each angle, mm: rows × their distance, ``(k,)``."""
    rings = shapely.get_rings(shapely.get_parts(outline))
    coords, ring = shapely.get_coordinates(rings, return_index=True)
    edges = np.diff(coords, axis=0)[ring[1:] == ring[:-1]]
    radians = np.radians(tried)
    across = edges @ np.vstack([np.sin(radians), np.cos(radians)])
    return np.asarray(np.abs(across).sum(axis=0) / 2.0)
