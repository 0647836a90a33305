"""Where a fill's walk leads beside its rows: beneath later rows, and not far."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from crafts import CRAFT
from shapely.geometry import Polygon, box

from pipeline.model import Spot
from pipeline.stitch.settings import TatamiSettings
from pipeline.stitch.spacing import FIELD, TRAVEL
from pipeline.stitch.tatami import fill

HIGH, BAY = 20.0, 4.0
"""Height of the fills with bays, and the ground between and beside their bays, in mm."""


def stitched(area: Polygon, angle: float, start: Spot, end: Spot) -> tuple[np.ndarray, np.ndarray]:
    """The stitches ``(n, 2, 2)`` and what each of them is."""
    line, kind = fill(area, angle, 0.2, 4.0, start, end, TatamiSettings(), CRAFT)
    return np.stack([line[:-1], line[1:]], axis=1), kind[1:]


def on_top_mm(stitches: np.ndarray, kind: np.ndarray) -> float:
    """Length of what is no row and has no later row within 0.15 mm, in steps of a quarter of a millimetre."""
    ways = np.flatnonzero(kind != FIELD)
    lengths = np.hypot(*(stitches[ways, 1] - stitches[ways, 0]).T)
    count = np.maximum(1, (lengths / 0.25).astype(int))
    owner, step = np.repeat(ways, count), np.repeat(lengths / count, count)
    share = (np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count) + 0.5) / np.repeat(count, count)
    spots = stitches[owner, 0] + share[:, None] * (stitches[owner, 1] - stitches[owner, 0])
    near = shapely.STRtree(shapely.linestrings(stitches)).query(shapely.points(spots), "dwithin", 0.15)
    later = (near[1] > owner[near[0]] + 1) & (kind[near[1]] == FIELD)
    return float(np.delete(step, np.unique(near[0][later])).sum())


@pytest.mark.parametrize("up", [False, True])
@pytest.mark.parametrize(("bays", "width", "deep"), [(1, 8.0, 12.0), (2, 6.0, 10.0)])
def test_the_bottoms_of_bays_are_mostly_passed_before_the_row_beneath(
    bays: int, width: float, deep: float, up: bool
) -> None:
    """Over six ways to enter and leave no more lies on top than half of what all of them pass."""
    whole = BAY + (width + BAY) * bays
    cuts = [
        box(left, -1.0, left + width, deep) if up else box(left, HIGH - deep, left + width, HIGH + 1.0)
        for left in BAY + (width + BAY) * np.arange(bays)
    ]
    area = box(0, 0, whole, HIGH).difference(shapely.union_all(cuts))
    shut = HIGH if up else 0.0
    ways: list[tuple[Spot, Spot]] = [
        ((0, HIGH), (whole, HIGH)), ((0, 0), (whole, 0)), ((0, 0), (0, HIGH)),
        ((whole / 2, shut), (whole / 2, shut)), ((0, HIGH / 2), (whole, HIGH / 2)),
        ((BAY, HIGH / 2), (BAY, HIGH / 2)),
    ]  # fmt: skip
    shown = sum(on_top_mm(*stitched(area, 0.0, start, end)) for start, end in ways)
    assert shown <= 0.5 * len(ways) * bays * width


@pytest.mark.parametrize("angle", [0.0, 17.0, 45.0, 90.0])
@pytest.mark.parametrize("round_", [True, False])
def test_holes_cost_little_travel(angle: float, round_: bool) -> None:
    """Rows turn beside holes so that few must be reached by a way round one: no more than a way past each."""
    across = 4.0 if round_ else 5.0
    spots = 6.0 + 7.5 * np.array([(i, k) for i in range(4) for k in range(4)], dtype=float)
    holes = [
        shapely.Point(spot).buffer(across / 2) if round_ else box(*(spot - 2.5), *(spot + 2.5)) for spot in spots
    ]
    area = box(0, 0, 36, 36).difference(shapely.union_all(holes))
    stitches, kind = stitched(area, angle, (0, 0), (36, 36))
    travel = stitches[kind == TRAVEL]
    assert np.hypot(*(travel[:, 1] - travel[:, 0]).T).sum() <= len(holes) * across * 1.2
