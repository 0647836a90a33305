"""How much thread lies at one place, and how often the needle went in there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.measure.coverage import probes
from pipeline.measure.settings import MeasureSettings
from pipeline.measure.thread_path import Path
from pipeline.model import Points, Spot

Array = NDArray[np.float64]

STEP_MM = 0.25
"""Cells of the thickness map, and pieces that stitches are cut into for it. Coarser would blur
the window's rim."""

NEEDLE_MM = 0.1
"""The machine's grid: needle points lie on it, so a square millimetre holds 10 × 10 of its places."""


@dataclass(frozen=True)
class Peak:
    """The largest value of a map, and where: the middle of its window in mm (None if there is no thread)."""

    value: float
    at: Spot | None


def peak_layers(table: Path, settings: MeasureSettings) -> Peak:
    """Most thread at one place, in full layers: mm of thread a mm² in a square window, by that of one layer."""
    lies = table.lies
    _, places, pieces = probes(table.segments[lies], STEP_MM)
    side = max(1, round(settings.thickness_window_mm / STEP_MM))
    origin = (table.points.min(axis=0) if len(table.points) else np.zeros(2)) - STEP_MM / 2.0
    cells, weights = _spread((places - origin) / STEP_MM - 0.5, pieces)
    peak = _fullest(cells, weights, side)
    per_mm2 = peak.value / (side * STEP_MM) ** 2
    return Peak(per_mm2 / settings.layer_mm_per_mm2, _placed(peak, origin, STEP_MM))


def peak_penetrations(table: Path) -> Peak:
    """Most needle penetrations in any square of 1 mm (half-open, on the machine's grid)."""
    origin = table.points[0] if len(table.points) else np.zeros(2)
    cells = np.rint((table.points - origin) / NEEDLE_MM).astype(np.intp)
    least = cells.min(axis=0) if len(cells) else np.zeros(2, dtype=np.intp)
    peak = _fullest(cells - least, np.ones(len(cells)), round(1.0 / NEEDLE_MM))
    return Peak(peak.value, _placed(peak, origin + (least - 0.5) * NEEDLE_MM, NEEDLE_MM))


def _spread(places: Points, weights: Array) -> tuple[NDArray[np.intp], Array]:
    """Each weight shared among the four cells around its place (in cells, 0 at a centre) by bilinear weights.

    Without that, a window would hold seven rows or eight by chance.
    """
    low = np.floor(places).astype(np.intp)
    part = places - low
    corners = [(x, y) for y in (0, 1) for x in (0, 1)]
    cells = np.concatenate([low + corner for corner in corners])
    shares = [(part[:, 0] if x else 1.0 - part[:, 0]) * (part[:, 1] if y else 1.0 - part[:, 1]) for x, y in corners]
    return cells, np.concatenate([weights * each for each in shares])


def _fullest(cells: NDArray[np.intp], weights: Array, side: int) -> Peak:
    """The heaviest window of ``side`` × ``side`` cells; ``at`` is its middle, in cells."""
    if len(cells) == 0:
        return Peak(0.0, None)
    width, height = (cells.max(axis=0) + 1 + side).tolist()
    weight = np.bincount(cells[:, 1] * width + cells[:, 0], weights=weights, minlength=width * height)
    sums = np.zeros((height + 1, width + 1))
    sums[1:, 1:] = weight.reshape(height, width).cumsum(axis=0).cumsum(axis=1)
    window = sums[side:, side:] - sums[:-side, side:] - sums[side:, :-side] + sums[:-side, :-side]
    row, column = np.unravel_index(int(np.argmax(window)), window.shape)
    return Peak(float(window[row, column]), (float(column) + side / 2.0, float(row) + side / 2.0))


def _placed(peak: Peak, origin: Array, cell_mm: float) -> Spot | None:
    if peak.at is None:
        return None
    return (float(origin[0] + peak.at[0] * cell_mm), float(origin[1] + peak.at[1] * cell_mm))
