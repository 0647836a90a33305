"""The medial axis against shapes whose axis is known exactly.

Source: H. Blum's definition; rectangle, annulus, wedge and ellipse worked out by hand in each test.
"""

from __future__ import annotations

import time

import numpy as np
import pytest
import shapely
from shapely.affinity import rotate, scale
from shapely.geometry import LineString, Point, Polygon, box

from pipeline.geometry.medial import Axis, medial_axis

RING = Point(0, 0).buffer(8, quad_segs=64).difference(Point(0, 0).buffer(6, quad_segs=64))
LETTER_L = Polygon([(0, 0), (3, 0), (3, 12), (12, 12), (12, 15), (0, 15)])
LETTER_T = Polygon([(0, 0), (15, 0), (15, 2.5), (9, 2.5), (9, 14), (6, 14), (6, 2.5), (0, 2.5)])


def axis_of(polygon: Polygon, spacing: float = 0.2) -> Axis:
    return medial_axis(polygon, spacing, least_mm=0.6)


def test_rectangle_is_one_straight_branch_on_the_middle_line() -> None:
    (branch,) = axis_of(box(0, 0, 30, 3)).branches
    assert np.abs(branch.points[:, 1] - 1.5).max() < 1e-9
    assert np.allclose(branch.radii, 1.5, atol=0.01)
    # The spine of a rectangle a × b runs to b / 2 from its ends.
    assert sorted(branch.points[[0, -1], 0]) == pytest.approx([1.5, 28.5], abs=0.25)


def test_annulus_is_one_closed_branch_of_constant_radius() -> None:
    (branch,) = axis_of(RING).branches
    assert branch.closed
    assert np.allclose(np.hypot(*branch.points.T), 7.0, atol=0.01)
    assert np.allclose(branch.radii, 1.0, atol=0.02)


def test_wedge_radius_is_linear() -> None:
    """Trapezoid of length l, widths w0 to w1: radius at x is (w0/2 + x tan α) cos α, tan α = (w1 - w0) / 2l."""
    (branch,) = axis_of(Polygon([(0, -0.5), (50, -3), (50, 3), (0, 0.5)])).branches
    tangent = (6 - 1) / 100
    inner = (branch.points[:, 0] > 2) & (branch.points[:, 0] < 45)
    exact = (0.5 + branch.points[inner, 0] * tangent) / np.hypot(1.0, tangent)
    assert np.abs(branch.radii[inner] - exact).max() < 0.02


def test_ellipse_axis_stays_inside_its_exact_extent() -> None:
    """The axis of an ellipse reaches |x| = (a² - b²) / a; along it the radius is b √(1 - x² / (a² - b²))."""
    a, b = 10.0, 4.0
    (branch,) = axis_of(scale(Point(0, 0).buffer(1, quad_segs=96), a, b), 0.1).branches
    x = branch.points[:, 0]
    assert np.abs(branch.points[:, 1]).max() < 0.02
    assert np.abs(x).max() <= (a * a - b * b) / a + 0.05
    assert np.abs(x).max() > 0.7 * (a * a - b * b) / a
    assert np.abs(branch.radii - b * np.sqrt(1 - x**2 / (a * a - b * b))).max() < 0.03


def test_radii_are_distances_to_the_boundary() -> None:
    axis = axis_of(LETTER_T)
    for branch in axis.branches:
        exact = shapely.distance(shapely.points(branch.points), axis.polygon.boundary)
        assert np.abs(branch.radii - exact).max() < 0.02


def test_contacts_touch_left_and_right_and_their_chord_stays_inside() -> None:
    axis = axis_of(LETTER_L)
    (branch,) = axis.branches
    left, right = axis.samples[branch.left], axis.samples[branch.right]
    step = np.diff(branch.points, axis=0)
    side = step[:, 0] * (left - right)[:, 1] - step[:, 1] * (left - right)[:, 0]
    assert (side <= 1e-9).all()  # y down: left as seen is the negative side
    roomy = axis.polygon.buffer(1e-6)
    assert all(roomy.covers(LineString(pair)) for pair in np.stack([left, right], axis=1))


@pytest.mark.parametrize(("shape", "count"), [(LETTER_L, 1), (LETTER_T, 3), (RING, 1), (box(0, 0, 5, 5), 0)])
def test_number_of_branches(shape: Polygon, count: int) -> None:
    assert len(axis_of(shape).branches) == count


@pytest.mark.parametrize("angle", [17.0, 33.0, 90.0])
@pytest.mark.parametrize("shape", [LETTER_L, LETTER_T, RING])
def test_turning_the_shape_keeps_the_branches(shape: Polygon, angle: float) -> None:
    assert len(axis_of(rotate(shape, angle)).branches) == len(axis_of(shape).branches)


def test_outline_noise_grows_no_branches() -> None:
    rng = np.random.default_rng(7)
    line = shapely.get_coordinates(shapely.segmentize(LETTER_T, 0.3).exterior)[:-1]
    noisy = Polygon(line + rng.uniform(-0.06, 0.06, line.shape))
    assert noisy.is_valid
    assert len(axis_of(noisy).branches) == 3


def test_a_knob_at_the_end_of_a_limb_is_kept() -> None:
    lollipop = Point(0, 0).buffer(3).union(box(-0.5, 0, 0.5, 15))
    (branch,) = axis_of(lollipop).branches
    assert max(branch.radii[0], branch.radii[-1]) > 2.8


def test_a_foot_of_a_letter_is_a_branch_but_a_rounded_corner_is_not() -> None:
    foot = Polygon([(0, 0), (2, 0), (2, 20), (0, 20)]).union(Polygon([(1, 3), (10, 3), (10, 5), (1, 5)]))
    assert len(axis_of(foot).branches) == 3
    rounded = LETTER_L.buffer(-0.8).buffer(0.8)
    assert len(axis_of(rounded).branches) == 1


def test_polygon_that_pinches_to_a_point_stays_one() -> None:
    corners = [(28.88889, 51.11111), (33.33333, 46.66667), (44.44444, 57.77778), (57.77778, 44.44444)]
    pinched = Polygon([*corners, (46.66667, 33.33333), (51.11111, 28.88889)])
    assert medial_axis(pinched, 0.2, 0.6).polygon.geom_type == "Polygon"


def test_a_long_hairline_has_one_axis_from_end_to_end_and_is_soon_found() -> None:
    """A frame of 240 mm drawn 0.04 mm wide had 23,000 samples on two lines, which Qhull bore for a minute."""
    began = time.process_time()
    (branch,) = medial_axis(box(0, 0, 200, 0.04), 0.05, 0.45).branches
    assert time.process_time() - began < 6
    assert np.abs(branch.points[:, 1] - 0.02).max() < 1e-5
    assert sorted(branch.points[[0, -1], 0]) == pytest.approx([0, 200], abs=0.2)
