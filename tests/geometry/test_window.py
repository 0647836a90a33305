"""A polygon seen through windows is the same as the whole, wherever one looks."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Polygon, box

from pipeline.geometry.window import FEW, Windows


def jagged(seed: int, count: int = 4000) -> Polygon:
    chance = np.random.default_rng(seed)
    angles = np.arange(count) * 2.0 * np.pi / count
    radii = chance.uniform(34.0, 40.0, count)
    shape = Polygon(np.column_stack([np.cos(angles), np.sin(angles)]) * radii[:, None])
    hole = Polygon(np.column_stack([np.cos(angles), np.sin(angles)])[::10] * 20.0)
    found: Polygon = Polygon(shape.exterior, [hole.exterior])
    return shapely.segmentize(found, 0.3)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_what_lies_in_a_box_is_the_same_as_of_the_whole(seed: int) -> None:
    whole = jagged(seed)
    windows = Windows(whole)
    chance = np.random.default_rng(seed)
    small = 0
    for _ in range(60):
        ends = chance.uniform(-42.0, 42.0, 2) + chance.uniform(-3.0, 3.0, (2, 2))
        line = LineString(ends)
        part = windows.around(line.bounds)
        assert shapely.intersection(line, part).equals(shapely.intersection(line, whole))
        about = box(*line.bounds)
        assert part.intersection(about).symmetric_difference(whole.intersection(about)).area < 1e-9
        small += shapely.get_num_coordinates(part) < 0.2 * shapely.get_num_coordinates(whole)
    assert small > 40


def test_a_shape_of_few_corners_is_not_cut() -> None:
    plain = box(0, 0, 80, 80)
    assert shapely.get_num_coordinates(plain) <= FEW
    assert Windows(plain).around((1.0, 1.0, 2.0, 2.0)) is plain


def test_a_box_across_all_of_it_gets_all_of_it() -> None:
    whole = jagged(4)
    assert Windows(whole).around((-40.0, -40.0, 40.0, 40.0)) is whole
