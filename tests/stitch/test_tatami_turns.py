"""The turn rule: where the needle goes in between two rows, and what it leads along."""

import numpy as np
import pytest
from crafts import CRAFT
from shapely.geometry import Polygon, box

from pipeline.stitch.ends import ends
from pipeline.stitch.rows import Rows, lay_rows
from pipeline.stitch.settings import TatamiSettings
from pipeline.stitch.spacing import EDGE, FIELD, TRAVEL
from pipeline.stitch.turns import Turns, pulled, turns
from pipeline.stitch.walk import walked

SETTINGS = TatamiSettings()


def turned_rows(area: Polygon, pull: float = 0.0) -> tuple[Rows, Turns]:
    rows = lay_rows(area, 0.0, 0.2, 0.3)
    spots = np.array(area.exterior.coords)[[0, len(area.exterior.coords) // 2]]
    found = ends(rows, spots[0], spots[1])
    walk = walked(found.rows, found.first, found.last, found.bridge)
    return found.rows, turns(found.rows, walk, pulled(found.rows, pull), SETTINGS, CRAFT.shortest_mm, found.bridge)


def test_an_upright_edge_takes_one_needle_point_a_turn_on_the_upper_row() -> None:
    rows, bends = turned_rows(box(0, 0, 10, 8))
    assert np.diff(bends.starts)[1:-1].max() == 1
    inner = slice(bends.starts[1], bends.starts[-2])
    upper = np.minimum(rows.v[bends.rows[:-1]], rows.v[bends.rows[1:]])
    np.testing.assert_allclose(bends.points[inner, 1][:-1], upper[:-1])
    # beside the fill's own lower end the turn lies midway, to keep the corner full
    assert bends.points[inner, 1][-1] == pytest.approx(upper[-1] + 0.1)
    assert set(np.round(bends.points[inner, 0], 9)) == {0.0, 10.0}
    # of the two rows of a turn the lower one leaves its place
    down = rows.v[bends.rows[1:]] > rows.v[bends.rows[:-1]]
    np.testing.assert_array_equal(bends.fans[1:-1, 1], down)
    np.testing.assert_array_equal(bends.fans[1:-1, 0], ~down)


@pytest.mark.parametrize("slant", [0.3, 0.6, 1.0, 2.0, 3.0])
def test_on_a_slanting_edge_turns_lie_on_it_between_both_rows(slant: float) -> None:
    area = Polygon([(0, 0), (20, 0), (20 + 8 * slant, 8), (8 * slant, 8)])
    rows, bends = turned_rows(area)
    inner = bends.points[bends.starts[1] : bends.starts[-2]]
    off = np.minimum(np.abs(inner[:, 0] - slant * inner[:, 1]), np.abs(inner[:, 0] - 20 - slant * inner[:, 1]))
    assert off.max() < 1e-9
    share = np.mod(inner[:, 1] - rows.heights[0], 0.2) / 0.2
    if slant > 1.0:
        assert np.abs(share - 0.5).max() <= 0.05 + 1e-9


def test_ends_farther_apart_than_a_stitch_get_two_points_along_the_outline() -> None:
    area = Polygon([(0, 0), (20, 0), (60, 8), (40, 8)])
    _, bends = turned_rows(area)
    two = np.flatnonzero(np.diff(bends.starts)[1:-1] == 2) + 1
    assert len(two) > 30
    a, b = bends.points[bends.starts[two]], bends.points[bends.starts[two] + 1]
    np.testing.assert_allclose(np.hypot(*(b - a).T), np.hypot(1.0, 0.2), atol=1e-9)
    assert set(bends.kind[bends.starts[two] + 1].tolist()) == {EDGE}
    assert set(bends.kind[bends.starts[two]].tolist()) == {FIELD}


def test_a_way_of_many_rows_runs_inset_as_travel() -> None:
    area = Polygon([(0, 0), (10, 0), (10, 30), (0, 30)])
    rows = lay_rows(area, 0.0, 0.2, 0.3)
    # both ends at the top: the thread goes down along one side first and sews its way home
    found = ends(rows, np.array([0.0, 0.0]), np.array([10.0, 0.0]))
    walk = walked(rows, found.first, found.last)
    bends = turns(rows, walk, rows.u, SETTINGS, CRAFT.shortest_mm)
    hidden = bends.points[bends.kind == TRAVEL]
    assert len(hidden) >= 30 / SETTINGS.travel_mm
    inside = np.minimum(hidden[:, 0], 10 - hidden[:, 0])
    assert np.median(inside) == pytest.approx(SETTINGS.inset_mm, abs=0.01)


def test_pull_stops_short_of_the_middle_of_a_narrow_bay() -> None:
    area = box(0, 0, 20, 10).difference(box(9.8, -1, 10.4, 6))
    rows = lay_rows(area, 0.0, 0.2, 0.3)
    tips = pulled(rows, 0.4)
    bay = rows.row[1:-1:2] == rows.row[2::2]
    assert bay.sum() == 30
    assert (tips[2::2] - tips[1:-1:2])[bay].min() >= 0.1 - 1e-9
    assert tips.min() == pytest.approx(-0.4)
