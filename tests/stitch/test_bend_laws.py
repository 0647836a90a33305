"""Satin round a bend, told from its needle points: no rung over 1.3 × the column, nothing crowded inside."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from crafts import craft
from scipy.spatial import cKDTree
from shapely.geometry import MultiPolygon, Polygon

from pipeline.model import Column, Fabric, Part, Step, points
from pipeline.stitch.satin import lay_satin
from pipeline.stitch.settings import RunSettings, SatinSettings

TWILL = Fabric("twill", 0.15, 0.20, 0.40, "edge and rows", "tear-away", 1.0)


def bend(width: float, inner: float, degrees: float) -> tuple[Polygon, Column]:
    """Two straights of 8 mm with a round bend of that inner radius between them."""
    angle = np.radians(np.linspace(0.0, degrees, max(12, int(degrees))))
    out = np.column_stack([np.sin(angle), -np.cos(angle)])
    way = np.array([np.cos(angle[-1]), np.sin(angle[-1])])
    rails = []
    for radius in (inner, inner + width):
        arc = radius * out + [0.0, inner + width]
        rails.append(np.vstack([arc[:1] - [8.0, 0.0], arc, arc[-1:] + 8.0 * way]))
    area = shapely.union_all(
        [
            Polygon([a, b, c, d]).buffer(1e-6)
            for a, b, c, d in zip(rails[0][:-1], rails[0][1:], rails[1][1:], rails[1][:-1], strict=True)
        ]
    )
    return area, Column(points(rails[0]), points(rails[1]))


def cover(width: float, inner: float, degrees: float) -> tuple[np.ndarray, np.ndarray, Column]:
    area, column = bend(width, inner, degrees)
    bed = MultiPolygon([area])
    part = Part("p", "r1", "satin", area, (width,) * 3, bed, 0.2, "", bare=bed, column=column)
    middle = (column.left + column.right) / 2
    strands = lay_satin(
        Step(part, "#000000", tuple(middle[0]), tuple(middle[-1])), SATIN, RUN, craft(TWILL)
    ).strands
    sewn = np.vstack([strand.points for strand in strands if strand.layer == "cover"])
    return sewn, np.vstack([strand.points for strand in strands]), column


RUN, SATIN = RunSettings(), SatinSettings()
CLOSE = {(5.5, 0.05, 140.0): 3}
"""Recorded allowances: pairs of needle points closer than 0.19 mm, where two are not enough."""
BENDS = [(w, r, d) for w in (1.6, 3.0, 5.5) for r in (0.05, 0.6) for d in (45.0, 90.0, 140.0)]


@pytest.mark.parametrize(("width", "inner", "degrees"), BENDS)
def test_rungs_of_a_bend_are_no_longer_than_the_column_allows(width: float, inner: float, degrees: float) -> None:
    sewn, _, column = cover(width, inner, degrees)
    compensation = max(2 * TWILL.pull_mm, SATIN.pull_share * width)
    rungs = np.hypot(*np.diff(sewn, axis=0).T)
    assert rungs.max() <= 1.3 * width + compensation
    inside, outside = shapely.LineString(column.left), shapely.LineString(column.right)
    far = shapely.distance(outside, shapely.points(sewn))
    near = shapely.distance(inside, shapely.points(sewn))
    assert (np.minimum(far, near) <= 0.55 * width).all()


@pytest.mark.parametrize(("width", "inner", "degrees"), BENDS)
def test_the_outer_side_of_a_bend_keeps_its_pitch_and_the_inner_its_room(
    width: float, inner: float, degrees: float
) -> None:
    sewn, _, column = cover(width, inner, degrees)
    outside = shapely.LineString(column.right)
    away = shapely.distance(outside, shapely.points(sewn))
    along = np.array([outside.project(shapely.Point(spot)) for spot in sewn])
    on = np.sort(along[away <= 0.2 + SATIN.pull_share * width])
    arc = on[(on > 8.0) & (on < outside.length - 8.0)]
    assert np.diff(arc).max() <= 1.35 * TWILL.pitch_mm
    assert np.mean(np.diff(arc)) == pytest.approx(TWILL.pitch_mm, rel=0.14)
    close = cKDTree(sewn).query_pairs(0.19, output_type="ndarray")
    assert len(close) <= CLOSE.get((width, inner, degrees), 2)


@pytest.mark.parametrize(("width", "inner", "degrees"), BENDS)
def test_a_bend_is_covered_and_lies_nowhere_too_thick(width: float, inner: float, degrees: float) -> None:
    sewn, every, column = cover(width, inner, degrees)
    area, _ = bend(width, inner, degrees)
    thread = shapely.LineString(sewn).buffer(0.225)
    assert area.buffer(-0.15).difference(thread).area <= 0.004 * area.area
    about = cKDTree(every).query_ball_point(every, 0.5, return_length=True)
    assert about.max() <= 15
    corner = column.left[len(column.left) // 2]
    length = shapely.LineString(sewn).intersection(shapely.Point(corner).buffer(1.0)).length
    within = area.intersection(shapely.Point(corner).buffer(1.0)).area
    assert length / within / 5.0 <= 3.0


@pytest.mark.parametrize("side", [0.15, 0.30])
def test_straight_rungs_reach_past_the_edge_by_the_fabrics_pull(side: float) -> None:
    fabric = Fabric("cloth", side, 0.20, 0.40, "edge", "", 1.0)
    for width in (1.2, 2.4, 5.0):
        area = shapely.box(0, 0, 12, width)
        column = Column(points([[0, 0], [12, 0]]), points([[0, width], [12, width]]))
        part = Part("p", "r1", "satin", area, (width,) * 3, MultiPolygon(), 0.2, "", column=column)
        strands = lay_satin(
            Step(part, "#0", (0.0, width / 2), (12.0, width / 2)), SATIN, RUN, craft(fabric)
        ).strands
        sewn = np.vstack([strand.points for strand in strands if strand.layer == "cover"])
        reach = max(side, SATIN.pull_share / 2 * width)
        inner = sewn[(sewn[:, 0] > 1) & (sewn[:, 0] < 11)]
        assert np.abs(np.minimum(inner[:, 1], width - inner[:, 1]) + reach).max() < 0.06
        assert sewn[1:-1, 0].min() >= 0.09
        assert sewn[1:-1, 0].max() <= 11.91
