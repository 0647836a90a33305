"""What lies hidden is sewn because it serves; what nobody sees forces no order and thickens nothing."""

from __future__ import annotations

import pytest
import shapely
from crafts import CRAFT
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

from pipeline.geometry.polygon import multipolygon
from pipeline.model import Finding, Region
from pipeline.roles.hidden import freeing, left_out, pieces, saving
from pipeline.roles.settings import RoleSettings


def stack(*areas: Polygon | MultiPolygon) -> tuple[Region, ...]:
    """Regions of a colour each, bottom first, each showing what none above hides."""
    return tuple(
        Region(f"r{z + 1}", f"s{z}", None, z, f"#0000{z:02x}", multipolygon(area), multipolygon(
            area.difference(shapely.union_all(areas[z + 1 :]))
        ))
        for z, area in enumerate(areas)
    )  # fmt: skip


def kept(*areas: Polygon | MultiPolygon) -> tuple[tuple[Region, ...], list[Finding]]:
    findings: list[Finding] = []
    return left_out(stack(*areas), RoleSettings(), CRAFT, findings.append), findings


FILL, IN_FRONT = box(0, 0, 30, 20), box(20, -10, 50, 30)


def outlined(area: Polygon) -> Polygon:
    return area.boundary.buffer(0.6, join_style="mitre")


def test_a_piece_serves_where_the_two_border_in_sight() -> None:
    found = pieces(stack(FILL, outlined(FILL), IN_FRONT, outlined(IN_FRONT)))
    serves = {(int(a), int(b)): bool(c) for a, b, c in zip(found.lower, found.upper, found.serves, strict=True)}
    assert serves[0, 1], "a fill lies beneath its own outline"
    assert serves[1, 3], "and an outline ends beneath that of the object in front"
    assert not serves[0, 2], "but no fill shows beside the fill in front: an outline is between"
    assert not serves[1, 2]


def test_what_runs_on_behind_an_object_in_front_is_not_sewn() -> None:
    (fill, line, front, ring), findings = kept(FILL, outlined(FILL), IN_FRONT, outlined(IN_FRONT))
    inside = IN_FRONT.buffer(-0.7, join_style="mitre")
    assert fill.outline.intersection(inside).area < 0.01
    assert line.outline.intersection(inside).area < 0.01
    assert front.outline.equals(multipolygon(IN_FRONT))
    assert ring.outline.equals(multipolygon(outlined(IN_FRONT)))
    assert {finding.region for finding in findings} == {"r1", "r2"}
    joint = ring.visible.intersection(FILL)
    assert fill.outline.intersection(joint).area > 0.6 * joint.area, (
        "it reaches beneath the outline that hides its end"
    )


def test_what_shows_of_a_region_always_stays() -> None:
    areas = (FILL, outlined(FILL), Point(15, 10).buffer(7), IN_FRONT, LineString([(-5, 5), (60, 15)]).buffer(1))
    for before, after in zip(stack(*areas), kept(*areas)[0], strict=True):
        assert after.visible.difference(after.outline).area < 1e-6
        assert after.outline.difference(before.outline).area < 1e-6


@pytest.mark.parametrize("across", [6.0, 9.0, 12.0])
def test_a_lower_shape_stays_whole_beneath_a_small_insert(across: float) -> None:
    (base, _), _ = kept(box(0, 0, 60, 60), Point(30, 30).buffer(across / 2))
    assert base.outline.area == pytest.approx(3600)


def test_an_order_that_others_imply_frees_nothing() -> None:
    """Star on disc on field: the field borders no star, but comes before it all the same."""
    found = pieces(stack(box(0, 0, 40, 40), Point(20, 20).buffer(12), Point(20, 20).buffer(5)))
    assert not freeing(found, 3).any()
    apart = pieces(stack(FILL, outlined(FILL), IN_FRONT, outlined(IN_FRONT)))
    free = {(int(a), int(b)) for a, b, c in zip(apart.lower, apart.upper, freeing(apart, 4), strict=True) if c}
    assert free == {(0, 2), (1, 2)}


def test_rows_that_end_at_a_hole_cost_turns_and_those_at_an_edge_do_not() -> None:
    region = stack(box(0, 0, 60, 60))[0]
    hole, end = box(20, 20, 32, 32), box(0, 0, 12, 12)
    assert saving(end, region, CRAFT) > saving(hole, region, CRAFT)
