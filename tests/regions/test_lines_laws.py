"""What is a line, and which of two lies on the other: the same for every size, place and order of delivery."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.affinity import translate
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

from pipeline.geometry.polygon import NOTHING, multipolygon
from pipeline.model import Region
from pipeline.regions.lines import lies_over
from pipeline.regions.settings import RegionSettings


def regions(*given: tuple[str, Polygon | MultiPolygon]) -> tuple[Region, ...]:
    return tuple(
        Region(f"r{z + 1}", f"s{z}", None, z, colour, multipolygon(area), NOTHING, 0.0)
        for z, (colour, area) in enumerate(given)
    )


def framed(width_mm: float, fills: int) -> tuple[Region, ...]:
    """Squares of a colour each, in a row, with one outline of a pen between and round them."""
    squares = [box(20 * k, 0, 20 * k + 20, 20) for k in range(fills)]
    pen = multipolygon(box(0, 0, 20 * fills, 20).buffer(width_mm / 2, join_style="mitre"))
    for square in squares:
        pen = multipolygon(pen.difference(square.buffer(-width_mm / 2, join_style="mitre")))
    shown = [multipolygon(square.difference(pen)) for square in squares]
    return regions(("#000000", pen), *[(f"#{k + 1:02x}8080", area) for k, area in enumerate(shown)])


@pytest.mark.parametrize("width_mm", [0.5, 1.5, 3.0, 4.5, 5.5])
def test_the_outline_of_three_fills_lies_on_them_up_to_nearly_satin_width(width_mm: float) -> None:
    over = lies_over(framed(width_mm, 3), RegionSettings())
    assert over[0, 1:].all()
    assert not over[1:].any()


def test_what_is_wider_than_satin_is_no_line() -> None:
    assert not lies_over(framed(9.0, 3), RegionSettings()).any()


@pytest.mark.parametrize("width_mm", [4.0, 6.0])
def test_a_wide_ring_between_two_colours_is_a_disc_behind_a_disc(width_mm: float) -> None:
    inner = Point(0, 0).buffer(15)
    ring = Point(0, 0).buffer(15 + width_mm).difference(inner)
    ground = box(-40, -40, 40, 40).difference(Point(0, 0).buffer(15 + width_mm))
    over = lies_over(regions(("#202020", ground), ("#ff8800", ring), ("#ffffff", inner)), RegionSettings())
    assert not over[1].any()


def test_a_colour_that_fills_shapes_too_is_no_pen() -> None:
    found = framed(5.0, 3)
    blob = regions(("#000000", translate(Point(0, 0).buffer(25), 200, 0)))
    assert not lies_over((*found, *blob), RegionSettings())[0].any()


@pytest.mark.parametrize("high", [5.0, 6.5])
def test_the_finer_of_two_lines_lies_on_the_other(high: float) -> None:
    """Waves cut out of a narrow sea: both are long, and the waves are the finer."""
    x = np.linspace(5, 75, 60)
    wave = LineString(np.column_stack([x, high / 2 + 0.8 * np.sin(x)])).buffer(0.6)
    sea = box(0, 0, 80, high).difference(wave)
    over = lies_over(regions(("#00aaaa", sea), ("#ffffff", wave)), RegionSettings())
    assert over[1, 0]
    assert not over[0, 1]


@pytest.mark.parametrize("side", [3.5, 5.0, 6.9])
def test_a_dot_is_no_outline_however_small_against_satin(side: float) -> None:
    dots = [("#000000", box(10 * k, 0, 10 * k + side, side)) for k in range(4)]
    beside = [(f"#{k:02x}4080", box(10 * k + side, 0, 10 * k + 10, side)) for k in range(4)]
    over = lies_over(regions(*dots, *beside), RegionSettings())
    assert not over[:4].any()
