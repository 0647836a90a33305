"""What the grid makes of planned lengths: stitches in every direction, begun anywhere between grid points."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from pipeline.craft import GRID_MM, LengthSettings
from pipeline.settings import Settings


def rounded(length_mm: float) -> np.ndarray:
    """The lengths on the grid of stitches planned that long."""
    random = np.random.default_rng(7)
    turn, start = random.uniform(0, 2 * np.pi, 60_000), random.uniform(0, GRID_MM, (60_000, 2))
    end = start + length_mm * np.column_stack([np.cos(turn), np.sin(turn)])
    return np.hypot(*(np.rint(end / GRID_MM) - np.rint(start / GRID_MM)).T) * GRID_MM


@pytest.mark.parametrize(("shortest", "least"), [(0.3, 0.2), (0.5, 0.3), (0.7, 0.4), (1.0, 0.5)])
def test_planned_lengths_come_out_on_the_grid_as_they_promise(shortest: float, least: float) -> None:
    craft = replace(Settings(), lengths=LengthSettings(shortest_mm=shortest, least_mm=least)).craft
    assert rounded(craft.surely_mm).min() >= shortest - 1e-9
    assert np.quantile(rounded(craft.planned_mm), 0.05) >= shortest - 1.5 * GRID_MM
    assert np.quantile(rounded(craft.kept_mm), 0.05) >= least - 1e-9
    assert max(craft.surely_mm - shortest, craft.kept_mm - least) <= 2 * GRID_MM, "and no longer than that needs"
