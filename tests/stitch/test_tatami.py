"""Tatami fills: what a digitizer would check on the machine, and what follows from geometry."""

import numpy as np
import pytest
import shapely
from crafts import craft
from judge import fill_estimate
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from pipeline.geometry.scanline import turned
from pipeline.model import Part, Step
from pipeline.stitch.brick import brick_offset
from pipeline.stitch.rows import lay_rows, parted
from pipeline.stitch.settings import TatamiSettings
from pipeline.stitch.spacing import FIELD, TRAVEL
from pipeline.stitch.tatami import fill, lay_tatami

SETTINGS = TatamiSettings()
FLAT = craft(pull_mm=0.0)


def comb() -> Polygon:
    return unary_union([box(0, 0, 30, 8), *[box(4 * i, 7, 4 * i + 1.6, 22) for i in range(8)]])


SHAPES = {
    "square": box(0, 0, 30, 30),
    "disc": Point(15, 15).buffer(15, 64),
    "window": box(0, 0, 30, 30).difference(box(11, 12, 19, 20)),
    "ring": Point(15, 15).buffer(15, 64).difference(Point(14, 16).buffer(7, 64)),
    "sieve": box(0, 0, 40, 40).difference(
        unary_union([Point(6 + 9 * i, 6 + 9 * k).buffer(2.4) for i in range(4) for k in range(4)])
    ),
    "comb": comb(),
    "slit": box(0, 0, 20, 20).difference(box(9.9, -1, 10.05, 14)),
    "neck": unary_union([box(0, 0, 12, 12), box(18, 0, 30, 12), box(11, 6, 19, 6.15)]),
}
COMPACT = ("square", "disc", "window", "ring", "sieve")


def sewn(area: Polygon, angle: float, pull: float = 0.0) -> tuple[np.ndarray, np.ndarray]:
    ring = area.exterior.coords
    return fill(area, angle, 0.2, 4.0, ring[0], ring[len(ring) // 2], SETTINGS, craft(pull_mm=pull))


def steps(line: np.ndarray) -> np.ndarray:
    return np.hypot(*np.diff(line, axis=0).T)


@pytest.mark.parametrize("angle", [0.0, 37.0, 90.0])
@pytest.mark.parametrize("name", SHAPES)
class TestEveryShape:
    def test_begins_and_ends_exactly_where_told(self, name: str, angle: float) -> None:
        ring = SHAPES[name].exterior.coords
        line, _ = sewn(SHAPES[name], angle)
        assert tuple(line[0]) == ring[0]
        assert tuple(line[-1]) == ring[len(ring) // 2]

    def test_no_stitch_is_too_short_or_too_long_on_the_machines_grid(self, name: str, angle: float) -> None:
        line, _ = sewn(SHAPES[name], angle)
        lengths = steps(np.round(line, 1))
        assert lengths[1:-1].min() >= 0.5 - 1e-9
        assert lengths.min() >= 0.4
        assert lengths.max() <= 7.0

    def test_nothing_is_left_open(self, name: str, angle: float) -> None:
        line, _ = sewn(SHAPES[name], angle)
        open_mm2 = SHAPES[name].difference(LineString(line).buffer(0.225)).area
        assert open_mm2 / SHAPES[name].area < 0.002

    def test_no_stitch_leaves_the_shape_or_crosses_a_hole(self, name: str, angle: float) -> None:
        line, _ = sewn(SHAPES[name], angle)
        wide = shapely.union(SHAPES[name].buffer(0.2), box(9.8, -1, 10.1, 14) if name == "slit" else Polygon())
        assert LineString(line).difference(wide).length < 0.3

    def test_is_repeatable(self, name: str, angle: float) -> None:
        first, second = sewn(SHAPES[name], angle), sewn(SHAPES[name], angle)
        np.testing.assert_array_equal(first[0], second[0])
        np.testing.assert_array_equal(first[1], second[1])


def along_rows(line: np.ndarray, kind: np.ndarray, angle: float) -> float:
    """What the thread of the rows advances in their direction, mm."""
    return float(np.abs(np.diff(turned(line, angle)[:, 0]))[kind[1:] == FIELD].sum())


@pytest.mark.parametrize("angle", [0.0, 37.0])
@pytest.mark.parametrize("name", SHAPES)
def test_thread_times_row_distance_is_the_area(name: str, angle: float) -> None:
    """Conservation of thread [geometry]: rows at distance s over an area A take A / s of thread.

    Apart are travel, thread along the outline from row end to row end, and what rows advance across themselves.
    """
    line, kind = sewn(SHAPES[name], angle)
    area = 400.0 if name == "slit" and angle != 90.0 else SHAPES[name].area
    assert along_rows(line, kind, angle) * 0.2 == pytest.approx(area, rel=0.005)


@pytest.mark.parametrize("angle", [0.0, 37.0])
@pytest.mark.parametrize("name", COMPACT)
def test_stitches_keep_near_the_area_bound_and_the_estimate(name: str, angle: float) -> None:
    """Bound [geometry]: area / (row × stitch); a needle point a turn comes on top."""
    area = SHAPES[name]
    line, _ = sewn(area, angle)
    assert len(line) > area.area / 0.8
    assert len(line) == pytest.approx(fill_estimate(area, angle, 0.2, 4.0), rel=0.06)


def beside(thread: LineString, way: LineString) -> BaseGeometry:
    """What a thread covers, as far as it lies near a way."""
    left, low, right, high = way.bounds
    return shapely.clip_by_rect(thread, left - 0.5, low - 0.5, right + 0.5, high + 0.5).buffer(0.225)


@pytest.mark.parametrize("angle", [0.0, 37.0])
def test_travel_is_covered_by_later_rows(angle: float) -> None:
    line, kind = sewn(SHAPES["sieve"], angle)
    hidden = open_ = 0.0
    for index in np.flatnonzero(kind[1:-1] == TRAVEL):
        way = LineString(line[index : index + 2])
        later = beside(LineString(line[index + 1 :]), way)
        open_ += way.difference(later).length
        hidden += way.length
    assert hidden > 0
    assert open_ < 0.002 * steps(line).sum()


def test_needle_points_of_neighbouring_rows_keep_out_of_line() -> None:
    for row, stitch in [(0.2, 4.0), (0.2, 3.0), (0.4, 4.0), (0.25, 5.0)]:
        offset = brick_offset(row, stitch)
        for away in (1, 2, 3):
            assert abs((away * offset + 0.5) % 1.0 - 0.5) >= 0.125
    away = np.arange(1, 30)
    aside = np.abs(np.mod(away * brick_offset(0.2, 4.0) + 0.5, 1.0) - 0.5) * 4.0
    assert np.hypot(aside, away * 0.2).min() > 0.9


@pytest.mark.parametrize("angle", [0.0, 37.0])
def test_rows_in_the_field_keep_their_distance_on_the_machines_grid(angle: float) -> None:
    line, _ = sewn(SHAPES["square"], angle)
    flat = turned(np.round(line, 1), angle)
    middle = turned(np.array([[15.0, 15.0]]), angle)[0]
    a, b = flat[:-1], flat[1:]
    cut = (np.minimum(a[:, 0], b[:, 0]) <= middle[0]) & (np.maximum(a[:, 0], b[:, 0]) > middle[0])
    v = a[cut, 1] + (middle[0] - a[cut, 0]) / (b[cut, 0] - a[cut, 0]) * (b[cut, 1] - a[cut, 1])
    v = np.sort(v[np.abs(v - middle[1]) < 8])
    assert np.diff(v).mean() == pytest.approx(0.2, abs=0.001)
    assert np.abs(np.diff(v) - 0.2).max() < 0.05


@pytest.mark.parametrize("angle", [0.0, 90.0])
@pytest.mark.parametrize("piece", [box(0, 0, 17, 20), box(0, 5.4, 40, 20), box(0, 7.4, 40, 20)])
def test_the_brick_pattern_is_anchored_to_the_design(piece: Polygon, angle: float) -> None:
    """A piece of an area has its needle points where the whole would, so that no seam shows."""
    far, near = (
        {tuple(p) for p in np.round(sewn(area, angle)[0], 3) if 6 < p[0] < 11 and 9 < p[1] < 18}
        for area in (box(0, 0, 40, 20), piece)
    )
    assert len(near) > 40
    assert len(far & near) > 0.98 * len(near)


@pytest.mark.parametrize("angle", [0.0, 30.0, 90.0])
@pytest.mark.parametrize(("width", "stitch"), [(5.0, 3.0), (7.9, 3.0), (8.1, 4.0), (14.0, 4.0)])
def test_stitches_are_shorter_in_narrow_parts(width: float, stitch: float, angle: float) -> None:
    """A stitch beside a row's end is longer, for the needle point nearest to the end is left out."""
    area, bed = box(0, 0, 40, width), MultiPolygon()
    part = Part("p", "r1", "tatami", area, (width,) * 3, bed, 0.2, "", bare=bed, angle_deg=angle)
    laid = lay_tatami(Step(part, "#204060", (0, 0), (40, 0)), SETTINGS, FLAT)
    cover = np.vstack([strand.points for strand in laid.strands if strand.layer == "cover"])
    assert np.quantile(steps(cover), 0.99) == pytest.approx(stitch + SETTINGS.merge_mm, abs=0.45)


def test_pull_compensation_lengthens_the_rows_only() -> None:
    line, _ = sewn(box(0, 0, 20, 20), 0.0, pull=0.3)
    assert line[:, 0].min() == pytest.approx(-0.3, abs=0.051)
    assert line[:, 0].max() == pytest.approx(20.3, abs=0.051)
    assert line[:, 1].min() >= 0
    assert line[:, 1].max() <= 20


@pytest.mark.parametrize("end", [(8.0, 0.0), (12.0, 12.0), (13.0, 5.0), (20.0, 7.0), (0.0, 0.0), (9.0, 0.3)])
@pytest.mark.parametrize("angle", [0.0, 37.0, 90.0])
def test_the_way_out_does_not_show(angle: float, end: tuple[float, float]) -> None:
    """No row is sewn twice on top: what follows the last row is short, whatever the end's place."""
    area = box(0, 0, 20, 12)
    line, kind = fill(area, angle, 0.2, 4.0, (0, 12), end, SETTINGS, FLAT)
    assert tuple(line[-1]) == end
    rows = np.flatnonzero(kind[1:] == FIELD)
    assert steps(line)[rows[-1] + 1 :].sum() <= 2.0
    assert along_rows(line, kind, angle) * 0.2 == pytest.approx(area.area, rel=0.005)
    for index in np.flatnonzero(kind[1:-1] == TRAVEL):
        way = LineString(line[index : index + 2])
        assert way.difference(beside(LineString(line[index + 1 :]), way)).length < 1.6


def test_a_cut_row_is_two_pieces_that_meet() -> None:
    rows = lay_rows(box(0, 0, 20, 12), 0.0, 0.2, 0.3)
    left = 2 * 30
    cut = parted(rows, left, 7.5)
    assert len(cut.u) == len(rows.u) + 2
    np.testing.assert_array_equal(cut.u[left : left + 4], [0.0, 7.5, 7.5, 20.0])
    nodes = np.arange(len(cut.u))
    np.testing.assert_array_equal(cut.after[cut.before], nodes)
    np.testing.assert_array_equal(np.delete(cut.v, [left + 1, left + 2]), rows.v)
    assert cut.length().sum() == pytest.approx(rows.length().sum())
    assert np.all(cut.ring_size % 2 == 0)
    assert cut.body(0.05).covers(LineString([(7.5, 1), (7.5, 11)]))


def test_start_inside_and_end_on_another_outline() -> None:
    area = SHAPES["ring"]
    start, end = (3.0, 10.0), tuple(area.interiors[0].coords[5])
    line, _ = fill(area, 20.0, 0.2, 4.0, start, end, SETTINGS, FLAT)
    assert tuple(line[0]) == start
    assert tuple(line[-1]) == end
    assert LineString(line).difference(area.buffer(0.2)).length == 0
    assert area.difference(LineString(line).buffer(0.225)).area < 0.002 * area.area


@pytest.mark.parametrize("size", [0.01, 0.1, 0.3, 0.5, 1.0, 2.0])
def test_the_smallest_areas_neither_fail_nor_vanish(size: float) -> None:
    area = box(5, 5, 5 + size, 5 + size)
    line, kind = fill(area, 30.0, 0.2, 4.0, (5, 5), (5 + size, 5), SETTINGS, FLAT)
    assert len(line) == len(kind) >= 2
    if size >= 1.0:
        assert area.difference(LineString(line).buffer(0.225)).area < 0.2 * area.area
    if size >= 2.0:
        assert area.difference(LineString(line).buffer(0.225)).area < 0.03 * area.area
