"""The machine's grid: rounding, and no stitch too short or too long after it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from pipeline.craft import GRID_MM
from pipeline.geometry.polyline import numbered, spot_of
from pipeline.model import Pass, Spot, points


def centre_of(legs: list[Pass]) -> Spot:
    """The middle of all needle points, on the grid."""
    every = np.vstack([leg.points for leg in legs])
    return spot_of(np.round((every.min(axis=0) + every.max(axis=0)) / 2.0, 1))


def on_grid(legs: list[Pass], shortest_mm: float, longest_mm: float) -> tuple[Spot, tuple[Pass, ...]]:
    """Round all needle points of ``legs`` to the grid about the centre, then take out and split stitches.

    A needle point closer than ``shortest_mm`` to the one before it is taken out, unless the needle came to it
    by a jump or a cut; a sewn stitch over ``longest_mm`` is split into equal ones. Passes left without a
    point go; what followed them runs on.
    """
    centre = centre_of(legs)
    owner = np.repeat(np.arange(len(legs)), [len(leg.points) for leg in legs])
    spots = np.rint((np.vstack([leg.points for leg in legs]) - centre) / GRID_MM)
    arrives = np.zeros(len(spots), dtype=bool)
    firsts = np.searchsorted(owner, np.arange(len(legs)))
    arrives[firsts] = [leg.approach != "sewn" for leg in legs]
    keep = _long_enough(spots, arrives, shortest_mm / GRID_MM)
    spots, owner, arrives = spots[keep], owner[keep], arrives[keep]
    spots, owner = _split(spots, owner, arrives, longest_mm / GRID_MM)
    return centre, _passes(legs, spots, owner, centre)


def _long_enough(spots: NDArray[np.float64], arrives: NDArray[np.bool_], shortest: float) -> NDArray[np.intp]:
    """Indices of the points to keep. In each round every second of a short chain goes, its first too."""
    keep = np.arange(len(spots))
    while True:
        gap = np.hypot(*np.diff(spots[keep], axis=0).T)
        short = np.concatenate([[False], gap < shortest - 1e-9]) & ~arrives[keep]
        if not short.any():
            return keep
        place = _place_in_chain(short)
        keep = keep[~(short & (place % 2 == 0))]


def _place_in_chain(short: NDArray[np.bool_]) -> NDArray[np.intp]:
    """For each point the number of short ones directly before it."""
    index = np.arange(len(short))
    last_long = np.maximum.accumulate(np.where(short, -1, index))
    return np.asarray(index - last_long - 1)


def _split(
    spots: NDArray[np.float64], owner: NDArray[np.intp], arrives: NDArray[np.bool_], longest: float
) -> tuple[NDArray[np.float64], NDArray[np.intp]]:
    """Insert points so that no sewn stitch is longer than allowed, rounded to the grid."""
    gap = np.concatenate([[0.0], np.hypot(*np.diff(spots, axis=0).T)])
    pieces = np.where(arrives, 1, np.maximum(1, np.ceil(gap / (longest - 1.0)))).astype(np.intp)
    pieces[(gap <= longest) | arrives] = 1
    end, number = numbered(pieces)
    share = ((number + 1) / pieces[end])[:, None]
    before = spots[np.maximum(end - 1, 0)]
    return np.rint(before + (spots[end] - before) * share), owner[end]


def _passes(
    legs: list[Pass], spots: NDArray[np.float64], owner: NDArray[np.intp], centre: Spot
) -> tuple[Pass, ...]:
    millimetres = np.round(spots * GRID_MM + np.array(centre), 1)
    bounds = np.searchsorted(owner, np.arange(len(legs) + 1))
    return tuple(
        replace(leg, points=points(millimetres[first:last]))
        for leg, first, last in zip(legs, bounds[:-1], bounds[1:], strict=True)
        if last > first
    )
