"""Edges of what is left out: against fabric, beside strips in sight, and where edges coincide."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import pytest
from crafts import CRAFT
from shapely import union_all
from shapely.geometry import MultiPolygon, Point, Polygon, box

from pipeline.craft import Craft
from pipeline.geometry.polygon import multipolygon
from pipeline.model import Region, Surface
from pipeline.roles.assign import assign
from pipeline.roles.settings import RoleSettings

CLOTH = box(0, 0, 40, 30)


def surfaces(*areas: Polygon | MultiPolygon, settings: RoleSettings, craft: Craft = CRAFT) -> tuple[Surface, ...]:
    seen = [multipolygon(area.difference(union_all(areas[z + 1 :]))) for z, area in enumerate(areas)]
    regions = tuple(
        Region(f"r{z + 1}", f"s{z}", None, z, f"#0000{z:02x}", multipolygon(area), seen[z])
        for z, area in enumerate(areas)
    )
    return assign(regions, settings, craft, lambda finding: None)


def test_an_inside_is_removed_up_to_an_edge_against_bare_fabric() -> None:
    """A flag's upper half: the lower cloth reaches a rim beneath it, and lies nowhere along its outer edges."""
    lower, upper = surfaces(CLOTH, box(0, 0, 40, 15), settings=RoleSettings())
    rim = RoleSettings().overlap_mm
    assert lower.region.outline.bounds[1] == pytest.approx(15 - rim, abs=0.05)
    assert math.isclose(lower.region.outline.area, 40 * (15 + rim), rel_tol=0.01)
    assert upper.foundation.area > 40 * (15 - rim) * 0.95


@pytest.mark.parametrize("upper", [box(10, 10, 30, 20), box(0, 0, 40, 0.8)], ids=["within", "a run hides nothing"])
def test_elsewhere_nothing_is_given_up(upper: Polygon) -> None:
    lower, _ = surfaces(CLOTH, upper, settings=RoleSettings(least_saving=1e5))
    assert lower.region.outline.area == pytest.approx(CLOTH.area)


def test_no_strip_that_shows_is_left_too_narrow_for_the_rest_of_the_fill() -> None:
    """A disc near the edge of a field: the hole beneath it keeps away from there, and stays elsewhere."""
    field, disc = box(0, 0, 80, 60), Point(40, 15).buffer(12)
    settings = RoleSettings()
    lower, _ = surfaces(field, disc, settings=settings)
    near = box(37, 0, 43, CRAFT.satin_up_to_mm)
    assert field.difference(lower.region.outline).area > 150
    assert lower.region.outline.intersection(near).area == pytest.approx(near.area)
    careless, _ = surfaces(field, disc, settings=settings, craft=replace(CRAFT, satin_up_to_mm=0.1))
    assert careless.region.outline.intersection(near).area < near.area - 10


def test_a_long_strip_is_a_border_and_stays() -> None:
    field, panel = box(0, 0, 80, 60), box(10, 4, 70, 40)
    lower, _ = surfaces(field, panel, settings=RoleSettings())
    careless, _ = surfaces(field, panel, settings=RoleSettings(), craft=replace(CRAFT, satin_up_to_mm=0.1))
    assert lower.region.outline.equals(careless.region.outline)
    assert lower.region.outline.area < field.area - 1000


@pytest.mark.parametrize("seed", range(30))
def test_edges_that_share_lines_and_points_are_cut_all_the_same(seed: int) -> None:
    """Lines, points and areas mixed are what overlays of coinciding edges give, and cannot be overlaid again."""
    draw = random.Random(seed)
    areas: list[MultiPolygon] = []
    for _ in range(5):
        x, y, wide, high = (draw.randrange(5, 31, 5) for _ in range(4))
        disc = Point(x, y).buffer(high)
        area = draw.choice([box(x, y, x + wide, y + high), disc, disc.intersection(box(x, y, x + 40, y + 40))])
        areas = [*(multipolygon(each.difference(area.buffer(-5))) for each in areas), multipolygon(area)]
    areas = [each for z, each in enumerate(areas) if each.difference(union_all(areas[z + 1 :])).area > 1.0]
    found = surfaces(*areas, settings=RoleSettings())
    assert len(found) == len(areas) > 0
    for surface in found:
        assert surface.region.outline.is_valid
        assert surface.region.visible.difference(surface.region.outline.buffer(1e-3)).area < 0.01
