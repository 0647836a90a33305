"""Layers of thread and needle penetrations, by counting in cells of a tenth of a millimetre."""

from __future__ import annotations

import numpy as np
from canvas import cut_fine
from scipy import ndimage
from sewn import Floats, Sewn

CELL_MM = 0.1
FULL_LAYER_MM = 5.0
"""Thread in a square millimetre of one full layer: rows 0.20 mm apart."""
MOST_LAYERS, MOST_PENETRATIONS = 4.0, 12.0


def thickness(work: Sewn) -> dict[str, float]:
    """Most layers and penetrations in any square millimetre, and the areas over the limits of the trade."""
    low = work.points.min(axis=0) - 1.0
    shape = np.ceil((work.points.max(axis=0) + 1.0 - low) / CELL_MM).astype(int) + 1
    spots, weight, _ = cut_fine(work.moves[work.stitched], CELL_MM)
    layers = _windowed(spots, weight / FULL_LAYER_MM, low, shape)
    pierced = _windowed(work.points, np.ones(len(work.points)), low, shape)
    return {
        "layers": float(layers.max()),
        "thick_mm2": float((layers > MOST_LAYERS + 1e-9).sum()) * CELL_MM**2,
        "penetrations": float(pierced.max()),
        "pierced_mm2": float((pierced > MOST_PENETRATIONS + 0.5).sum()) * CELL_MM**2,
    }


def _windowed(spots: Floats, weight: Floats, low: Floats, shape: np.ndarray) -> Floats:
    """Sums over a window of one square millimetre about each cell."""
    x, y = np.rint((spots - low) / CELL_MM).astype(int).T
    cells = np.bincount(x * shape[1] + y, weights=weight, minlength=int(shape.prod())).reshape(shape)
    side = round(1.0 / CELL_MM)
    return np.asarray(ndimage.uniform_filter(cells, side, mode="constant") * side**2)
