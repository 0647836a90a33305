"""Whole tenths of a millimetre from the machine's origin: the grid on which plan and machine file agree."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pipeline.craft import GRID_MM
from pipeline.errors import BrokenPromiseError
from pipeline.model import Pass, Spot

Units = NDArray[np.int64]

UNITS_PER_MM = round(1 / GRID_MM)
OFF_GRID = 1e-3
"""Units that a point may lie beside the grid: rounding noise of mm stays far below, a real error far above."""


def pass_units(step: Pass, centre: Spot) -> Units:
    """A pass's needle points as whole units right and down from ``centre``, ``(n, 2)``.

    Raises BrokenPromiseError if it has none or one is off the grid.
    """
    if len(step.points) == 0:
        raise BrokenPromiseError(f"A {step.layer} pass of part {step.part} has no needle point.")
    exact = (step.points - np.asarray(centre)) * UNITS_PER_MM
    whole = np.rint(exact)
    if not np.all(np.abs(exact - whole) <= OFF_GRID):
        raise BrokenPromiseError("A needle point is not on the machine's 0.1 mm grid about the centre.")
    return np.asarray(whole, dtype=np.int64)
