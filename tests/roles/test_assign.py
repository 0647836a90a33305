from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
import shapely
from crafts import CRAFT
from shapely.affinity import rotate
from shapely.geometry import MultiPolygon, Point, Polygon, box

from pipeline.geometry.polygon import multipolygon
from pipeline.model import Finding, Region, Surface
from pipeline.roles.angles import turns
from pipeline.roles.assign import assign
from pipeline.roles.settings import RoleSettings


def region(z: int, areas: Sequence[Polygon | MultiPolygon]) -> Region:
    outline = multipolygon(areas[z])
    seen = multipolygon(outline.difference(shapely.union_all(areas[z + 1 :])))
    return Region(f"r{z + 1}", f"s{z}", None, z, f"#0000{z:02x}", outline, seen)


WHOLE = RoleSettings(least_saving=1e5, overlap_mm=0.0)
"""No inside is removed for its stitches."""
RIM_MM = WHOLE.rim_mm


def surfaces(
    *areas: Polygon | MultiPolygon, settings: RoleSettings = WHOLE
) -> tuple[tuple[Surface, ...], list[Finding]]:
    findings: list[Finding] = []
    regions = tuple(region(z, areas) for z in range(len(areas)))
    return assign(regions, settings, CRAFT, findings.append), findings


SQUARE = box(0, 0, 40, 40)


def test_base_lies_on_fabric_and_overlay_on_the_base() -> None:
    (base, overlay), _ = surfaces(SQUARE, Point(20, 20).buffer(8))
    assert (base.role, overlay.role) == ("base", "overlay")
    assert overlay.rests_on == ("r1",)
    assert base.foundation.area == pytest.approx(1600.0)
    assert overlay.foundation.is_empty
    assert overlay.bare.is_empty


def test_hanging_part_is_bare_exactly_and_gets_foundation_with_a_margin() -> None:
    (_, mixed), _ = surfaces(SQUARE, box(30, 10, 60, 20))
    assert mixed.role == "mixed"
    assert mixed.bare.area == pytest.approx(20 * 10)
    assert mixed.foundation.area == pytest.approx(20.5 * 10, rel=1e-3)


def test_overlay_on_two_abutting_bases_is_an_overlay() -> None:
    (_, _, top), _ = surfaces(box(0, 0, 20, 20), box(20, 0, 40, 20), box(10, 5, 30, 15))
    assert top.role == "overlay"
    assert top.rests_on == ("r2", "r1")


def test_run_carries_nothing() -> None:
    (_, top), _ = surfaces(box(0, 9.6, 40, 10.4), box(5, 5, 35, 15))
    assert top.role == "base"
    assert top.bare.area == pytest.approx(300.0)


@pytest.mark.parametrize("angle", [0.0, 17.0, 71.0])
def test_strip_of_just_the_width_carries(angle: float) -> None:
    """It is sewn as satin, and foundation would lie on its cover; rounding must not decide."""
    strip, panel = (rotate(area, angle, origin=(0, 0)) for area in (box(0, 9.5, 40, 10.5), box(5, 5, 35, 15)))
    (_, top), _ = surfaces(strip, panel)
    assert top.bare.area == pytest.approx(300.0 - 30.0, abs=0.5)


@pytest.mark.parametrize("offset", [0.0, 3.3, 17.0])
def test_bare_and_supported_make_up_the_region(offset: float) -> None:
    lower, upper = box(0, 0, 30, 30), Point(30 + offset / 10, 15).buffer(10)
    (_, top), _ = surfaces(lower, upper)
    supported = upper.intersection(lower)
    assert top.bare.union(supported).symmetric_difference(upper).area < 1e-3
    assert top.bare.intersection(supported).area < 1e-3


def test_neighbours_angles_differ() -> None:
    found, _ = surfaces(SQUARE, box(5, 5, 35, 35), box(40, 0, 60, 40))
    angle = [s.angle_deg for s in found]
    for one, other in ((0, 1), (0, 2)):
        turn = abs(angle[one] - angle[other]) % 180
        assert min(turn, 180 - turn) >= 30


def test_five_layers_are_thinned_and_all_still_lies_on_stitches() -> None:
    squares = [box(4 * k, 4 * k, 80 - 4 * k, 80 - 4 * k) for k in range(5)]
    found, findings = surfaces(*squares)
    assert [f.code for f in findings] == ["inside-removed"] * 2
    middle = Point(40, 40)
    assert sum(s.region.outline.covers(middle) for s in found) == 3
    assert found[0].region.outline.area == pytest.approx(6400)
    assert all(s.bare.area < 1e-6 for s in found[1:])
    gone = squares[1].difference(found[1].region.outline)
    assert gone.area > 400
    assert squares[2].buffer(-RIM_MM + 0.01).covers(gone)


def test_the_base_gives_way_where_nothing_else_is_hidden_deep_enough() -> None:
    band = box(0, 28, 60, 31)
    found, findings = surfaces(box(0, 0, 60, 60), box(10, 10, 50, 50), band, band.buffer(-0.01))
    assert findings[0].region == "r1"
    assert not found[0].region.outline.covers(Point(30, 29.5))
    assert found[1].region.outline.area > 1500, "the sheet between loses no more than what lies beneath the band"


def test_no_rim_is_kept_where_all_ends_at_bare_fabric() -> None:
    squares = [box(0, 0, 60 - 6 * k, 60) for k in range(5)]
    found, _ = surfaces(*squares)
    at_the_edge = Point(1.0, 30)
    assert sum(s.region.outline.covers(at_the_edge) for s in found) == 3


def test_three_layers_stay_whole() -> None:
    found, findings = surfaces(*[box(4 * k, 4 * k, 80 - 4 * k, 80 - 4 * k) for k in range(3)])
    assert not findings
    assert found[0].region.outline.area == pytest.approx(6400)


def test_turns_are_the_extent_across_the_rows() -> None:
    across = turns(multipolygon(box(0, 0, 30, 10)), np.array([0.0, 90.0]))
    assert across == pytest.approx([10.0, 30.0])


def test_every_surface_says_why() -> None:
    found, _ = surfaces(SQUARE, Point(20, 20).buffer(8), box(30, 10, 60, 20))
    assert "bare fabric" in found[0].why
    assert "r1" in found[1].why
    assert "hangs out" in found[2].why


def inside_of(across: float) -> tuple[float, list[Finding]]:
    """What a 60 mm square loses beneath a disc, with the default settings."""
    square, disc = box(0, 0, 60, 60), Point(30, 30).buffer(across / 2, quad_segs=32)
    (base, _), findings = surfaces(square, disc, settings=RoleSettings())
    lost = square.area - base.region.outline.area
    assert base.left_out_mm2 == pytest.approx(lost, abs=1e-6)
    assert (f"{lost:.1f} mm² left out where hidden" in base.why) == bool(findings)
    return lost, findings


@pytest.mark.parametrize("across", [8.0, 12.0, 18.0])
def test_cutting_beneath_a_small_insert_never_pays(across: float) -> None:
    lost, findings = inside_of(across)
    assert lost == pytest.approx(0.0, abs=1e-6)
    assert not findings


@pytest.mark.parametrize("across", [28.0, 40.0])
def test_deep_inside_of_a_large_insert_goes_and_a_rim_stays(across: float) -> None:
    lost, findings = inside_of(across)
    assert lost == pytest.approx(np.pi * (across / 2 - RIM_MM) ** 2, rel=0.01)
    assert [f.code for f in findings] == ["inside-removed"]
    assert f"rim of {RIM_MM:g} mm" in findings[0].message


def test_no_rim_peeps_out_at_the_border_of_the_design() -> None:
    (base, _), findings = surfaces(box(0, 0, 60, 60), box(30, 0, 60, 60), settings=RoleSettings())
    assert [f.code for f in findings] == ["inside-removed"]
    assert base.region.outline.bounds == pytest.approx((0, 0, 30 + RoleSettings().overlap_mm, 60), abs=0.1)


def test_nothing_goes_beneath_a_slender_star() -> None:
    turn = np.arange(10) * np.pi / 5
    reach = np.where(np.arange(10) % 2 == 0, 15.0, 5.7)
    star = Polygon(np.column_stack([30 + reach * np.sin(turn), 30 - reach * np.cos(turn)]))
    (base, _), _ = surfaces(box(0, 0, 60, 60), star, settings=RoleSettings())
    assert base.region.outline.area == pytest.approx(3600.0)


def test_every_edge_that_it_shows_at_keeps_stitches_beneath_it() -> None:
    left, right = box(5, 5, 35, 55), box(35, 5, 65, 55)
    (base, _, _), _ = surfaces(box(0, 0, 70, 60), left, right, settings=RoleSettings())
    rim = left.union(right).boundary.buffer(RIM_MM - 0.1)
    assert base.region.outline.buffer(0.01).covers(rim.intersection(box(0, 0, 70, 60)))
    assert base.region.outline.area < 0.6 * 4200
