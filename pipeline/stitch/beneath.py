"""What lies under a satin column's cover: the way to where the cover begins, and the foundation sewn on it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

from pipeline.craft import FoundationSettings
from pipeline.geometry.polyline import Array, spaced
from pipeline.model import Layer, Part
from pipeline.stitch.foundation import why_none
from pipeline.stitch.rungs import Ladder
from pipeline.stitch.settings import SatinSettings

LEAST_TRAVEL_MM = 1.0
"""A shorter way along a column is no stitch of its own."""
STEP_MM = 0.25
"""Where foundation begins and ends is found to this."""
SAME_BED_MM = 3.0
"""A change of foundation shorter than this along the column is not worth its turns."""
KINDS = ("none", "centre", "edge", "zigzag")
NAMES = {"centre run": ("centre",), "edge run": ("edge", "zigzag"), "zig-zag": ("zigzag",)}
"""What is sewn, and the kinds that it belongs to."""
UP, DOWN = True, False
PASSES: dict[str, dict[str, tuple[tuple[int, bool], ...]]] = {
    "centre": {"out": ((0, UP),), "back": ((0, DOWN),), "once": ((0, DOWN),)},
    "edge": {"out": ((-1, UP),), "back": ((1, DOWN),), "once": ((-1, DOWN), (1, UP), (0, DOWN))},
    "zigzag": {"out": ((-1, UP), (1, DOWN)), "back": (), "once": ((-1, DOWN), (1, UP))},
}
"""The runs of each kind: on which side (0 the middle, -1 left, 1 right), and whether up the column. Out and back
share the edges; after them a zig-zag has its crossings."""
CENTRE = 1
BARE_NOT = -1


@dataclass(frozen=True, eq=False)
class Lead:
    """A line to sew under the cover; ``exact`` when its points are needle points already."""

    line: Array
    layer: Layer
    exact: bool = False


@dataclass(frozen=True)
class Bed:
    """A stretch of column that gets foundation, by places, of which kind, and how far inside the edges."""

    low: float
    high: float
    kind: str
    inset_mm: float


def beds(rungs: Ladder, area: MultiPolygon, settings: SatinSettings, foundation: FoundationSettings) -> list[Bed]:
    """The stretches whose rungs have their middle in ``area``, with the kind of foundation their width asks for.

    Where an edge of the column lies outside ``area``, on other cover, a centre run does instead of edge runs. A
    stretch shorter than one stitch of it gets none.
    """
    if area.is_empty:
        return []
    count = max(3, int(rungs.total / STEP_MM) + 1)
    places = np.linspace(0.0, rungs.total, count)
    left, right = rungs.rails(places if not rungs.closed else places * (1 - 1e-9))
    middle = (left + right) / 2
    shapely.prepare(area)
    width = np.hypot(*(right - left).T)
    inset = (left - right) * (foundation.edge_inset_mm / np.maximum(width, 1e-9))[:, None]
    lines = np.stack([middle, left - inset, right + inset])
    bare, left_bare, right_bare = shapely.contains_xy(area, lines[:, :, 0], lines[:, :, 1])
    limits = [settings.centre_from_mm, settings.edge_from_mm, settings.zigzag_from_mm]
    kind = np.where(bare, np.searchsorted(limits, width), BARE_NOT)
    kind[(kind > CENTRE) & ~(left_bare & right_bare)] = CENTRE
    first, after = _runs(_steady(kind, max(1, round(SAME_BED_MM / (places[1] - places[0])))))
    ends = 0.0 if rungs.closed else foundation.edge_inset_mm
    low, high = np.maximum(places[first], ends), np.minimum(places[after], rungs.total - ends)
    return [
        Bed(float(low[n]), float(high[n]), KINDS[kind[first[n]]], foundation.edge_inset_mm)
        for n in range(len(first))
        if kind[first[n]] > 0 and high[n] - low[n] >= foundation.edge_stitch_mm
    ]


def why_beds(part: Part, found: list[Bed], settings: SatinSettings, foundation: FoundationSettings) -> str:
    """Why a column has the foundation ``found``, or none."""
    if found:
        kinds = {bed.kind for bed in found}
        names = " and ".join(name for name, of in NAMES.items() if kinds & set(of))
        return f"foundation on bare fabric, by its width and the cover beside it: {names}"
    return why_none(part) or (
        f"no foundation, for no stretch of it clear on bare fabric is {settings.centre_from_mm:g} mm wide and "
        f"{foundation.edge_stitch_mm:g} mm long"
    )


def _runs(kind: NDArray[np.int_]) -> tuple[NDArray[np.int_], NDArray[np.int_]]:
    """Index of the first sample of every stretch of one kind, and of the first after it (or the last of all)."""
    cuts = np.flatnonzero(np.diff(kind)) + 1
    return np.concatenate([[0], cuts]), np.concatenate([cuts, [len(kind) - 1]])


def _steady(kind: NDArray[np.int_], least: int) -> NDArray[np.int_]:
    """``kind``, in place, where bare stretches of fewer than ``least`` samples took on a neighbour's kind.

    Each of them melts with that neighbour, so that there are fewer stretches in every round.
    """
    while True:
        first, after = _runs(kind)
        own = kind[first]
        beside = np.maximum(np.concatenate([[BARE_NOT], own[:-1]]), np.concatenate([own[1:], [BARE_NOT]]))
        short = np.flatnonzero((after - first < least) & (own != BARE_NOT) & (beside != BARE_NOT))
        if not len(short):
            return kind
        chosen = short[np.argmin((after - first)[short])]
        kind[first[chosen] : after[chosen] + (after[chosen] == len(kind) - 1)] = beside[chosen]


def way_through(rungs: Ladder, found: list[Bed], start: float, goal: float, settings: SatinSettings) -> list[Lead]:
    """From place ``start`` to ``goal`` at the low end, over every bed on the way or out and back.

    Coming from the far side each bed is sewn in an odd number of passes as it is met; starting near the goal
    the way leads out over the beds and back, sharing the passes between both.
    """
    if not found:
        return _travel(rungs, start, goal)
    moves: list[Lead] = []
    here = start
    if rungs.closed or abs(start - found[0].low) <= abs(start - found[-1].high):
        for bed in found:
            moves += [*_travel(rungs, here, bed.low), *_sewn(rungs, bed, "out", settings)]
            here = bed.high
        homewards = "back"
    else:
        homewards = "once"
    for bed in reversed(found):
        moves += [*_travel(rungs, here, bed.high), *_sewn(rungs, bed, homewards, settings)]
        here = bed.low
    return [*moves, *_travel(rungs, here, goal)]


def _travel(rungs: Ladder, a: float, b: float) -> list[Lead]:
    """The way along the middle, if it is long enough to be sewn."""
    return [Lead(rungs.line(a, b, 0, 0.0), "travel")] if abs(a - b) > LEAST_TRAVEL_MM else []


def _sewn(rungs: Ladder, bed: Bed, way: str, settings: SatinSettings) -> list[Lead]:
    """The passes of a bed on the way ``out``, on the way ``back``, or where it is crossed but ``once``, down."""
    ends = bed.low, bed.high
    passes = [
        Lead(rungs.line(*(ends if up else ends[::-1]), side, bed.inset_mm), "foundation")
        for side, up in PASSES[bed.kind][way]
    ]
    if bed.kind == "zigzag":
        advance = settings.zigzag_mm if way == "once" else 2 * settings.zigzag_mm
        passes.append(_open_zigzag(rungs, bed, advance, -1 if way == "out" else 1, settings))
    return passes


def _open_zigzag(rungs: Ladder, bed: Bed, advance_mm: float, first: int, settings: SatinSettings) -> Lead:
    """Crossings ``advance_mm`` apart between the insets, none longer than ``zigzag_stitch_mm``.

    ``first`` is the side that it begins on: out along the left (-1), or back from the far end on the right (1).
    """
    a, b = (bed.low, bed.high) if first < 0 else (bed.high, bed.low)
    count = max(1, round(abs(b - a) / advance_mm))
    side = np.where(np.arange(count + 1) % 2 == 0, first, -first)
    corners = rungs.inside(np.linspace(a, b, count + 1), side, bed.inset_mm)
    return Lead(spaced(corners, settings.zigzag_stitch_mm), "foundation", exact=True)
