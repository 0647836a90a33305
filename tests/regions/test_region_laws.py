"""What stacking may and may not do: the picture stays, whatever is merged, closed or sunk."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.affinity import rotate, translate
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

from pipeline.geometry.polygon import multipolygon
from pipeline.model import Drawing, Line, Region, Shape, Stroke, points
from pipeline.regions.settings import RegionSettings
from pipeline.regions.stack import stack

Painted = tuple[str, Polygon | MultiPolygon]


def drawing(shapes: list[Painted], strokes: dict[int, Stroke] | None = None) -> Drawing:
    made = tuple(
        Shape(f"s{k}", None, colour, multipolygon(area), (strokes or {}).get(k))
        for k, (colour, area) in enumerate(shapes)
    )
    return Drawing("made", "0" * 64, 100.0, 100.0, made)


def stacked(shapes: list[Painted], strokes: dict[int, Stroke] | None = None) -> tuple[Region, ...]:
    return stack(drawing(shapes, strokes), RegionSettings(), lambda finding: None)


def shown(layers: list[Painted]) -> dict[str, shapely.Geometry]:
    """What each colour shows once all is painted bottom first."""
    seen: dict[str, list[shapely.Geometry]] = {}
    above = shapely.MultiPolygon()
    for colour, area in reversed(layers):
        seen.setdefault(colour, []).append(area.difference(above))
        above = above.union(area)
    return {colour: shapely.union_all(areas) for colour, areas in seen.items()}


def unchanged(shapes: list[Painted], regions: tuple[Region, ...], least_mm2: float = 0.05) -> None:
    before, after = shown(shapes), shown([(region.colour, region.outline) for region in regions])
    for colour, area in before.items():
        assert area.symmetric_difference(after.get(colour, MultiPolygon())).area < least_mm2, colour


@pytest.mark.parametrize("seed", range(30))
def test_no_pass_changes_the_picture_of_a_strewn_stack(seed: int) -> None:
    """Boxes on a grid of 4 mm, so that many abut; rings, so that there are holes; three colours."""
    random = np.random.default_rng(seed)
    shapes: list[Painted] = []
    for _ in range(8):
        x, y = 4.0 * random.integers(0, 9, 2)
        w, h = 4.0 * random.integers(1, 6, 2)
        area: Polygon = box(x, y, x + w, y + h)
        if min(w, h) > 8 and random.random() < 0.5:
            area = area.difference(box(x + 4, y + 4, x + w - 4, y + h - 4))
        shapes.append(("#abc"[0] + "rgb"[int(random.integers(3))] * 6, area))
    unchanged(shapes, stacked(shapes))


def test_a_shape_sinks_with_its_like_only_past_what_it_does_not_touch() -> None:
    """The third red touches the second, which joined the first beneath the blue; it overlaps the blue itself."""
    shapes: list[Painted] = [
        ("#red000", box(0, 0, 20, 20)),
        ("#00blue", box(26, 0, 40, 20)),
        ("#red000", box(20, 5, 24, 15)),
        ("#red000", box(24, 5, 30, 15)),
    ]
    unchanged(shapes, stacked(shapes))
    assert len(stacked(shapes[:3])) == 2


@pytest.mark.parametrize(("on_fill", "count"), [(0.5, 1), (0.1, 2)])
def test_an_outline_joins_its_fill_and_a_line_that_only_ends_there_does_not(on_fill: float, count: int) -> None:
    fill = box(0, 0, 20, 20)
    line = LineString([(20 - 40 * on_fill / 2, 10), (40 - 40 * on_fill / 2, 10)])
    stroke = Stroke((Line(points(line.coords)),), 1.4)
    area = line.buffer(0.7, cap_style="flat")
    assert area.intersection(fill).area / area.area == pytest.approx(on_fill, abs=0.02)
    regions = stacked([("#224466", fill), ("#224466", area)], {1: stroke})
    assert len(regions) == count
    assert (regions[-1].stroke is None) == (count == 1)


@pytest.mark.parametrize("window", [1.0, 3.0])
def test_a_window_within_a_large_filled_hole_stays_open(window: float) -> None:
    """Far less than a fiftieth of the hole, but a place where the fabric is meant to show."""
    hole = box(10, 10, 50, 50)
    filler = hole.difference(box(20, 20, 20 + window, 20 + window))
    regions = stacked([("#aa0000", box(0, 0, 60, 60).difference(hole)), ("#0000aa", filler)])
    whole = shapely.union_all([region.outline for region in regions])
    assert not whole.contains(Point(20 + window / 2, 20 + window / 2))


def test_a_small_hole_that_is_not_filled_for_a_good_part_stays_open() -> None:
    hole = box(10, 10, 11.5, 11.5)
    filler = box(10, 10, 11.0, 11.5)
    regions = stacked([("#aa0000", box(0, 0, 30, 30).difference(hole)), ("#0000aa", filler)])
    assert not shapely.union_all([region.outline for region in regions]).contains(Point(11.25, 10.7))


def test_a_ring_does_not_sink_past_what_it_lies_on() -> None:
    """Its filler was delivered first; between them lies a band that the ring covers in part."""
    disc = Point(30, 30).buffer(8)
    ring = Point(30, 30).buffer(16).difference(disc)
    shapes: list[Painted] = [("#0000aa", disc), ("#00aa00", box(40, 20, 60, 40)), ("#aa0000", ring)]
    unchanged(shapes, stacked(shapes), 0.2)


@pytest.mark.parametrize("turn", [0.0, 33.0])
@pytest.mark.parametrize("order", [0, 1, 2])
def test_nested_holes_close_from_the_outermost_in(turn: float, order: int) -> None:
    discs = [translate(Point(0, 0).buffer(r, quad_segs=24), 30, 30) for r in (24, 16, 8)]
    rings = [discs[0].difference(discs[1]), discs[1].difference(discs[2]), discs[2]]
    shapes: list[Painted] = [
        (c, rotate(a, turn)) for c, a in zip(("#a00000", "#00a000", "#0000a0"), rings, strict=True)
    ]
    regions = stacked(shapes[order:] + shapes[:order])
    areas = sorted((region.outline.area for region in regions), reverse=True)
    assert areas == pytest.approx([disc.area for disc in discs], rel=2e-3)


@pytest.mark.parametrize("gap", [0.0, 0.1])
def test_the_lower_of_two_neighbours_reaches_beneath_the_upper_by_the_overlap(gap: float) -> None:
    left, right = box(0, 0, 30, 30), box(30 + gap, 0, 52, 30)
    regions = stacked([("#aa0000", left), ("#0000aa", right)])
    assert regions[0].outline.bounds[2] == pytest.approx(30.8, abs=0.03)
    assert regions[1].outline.area == pytest.approx(right.area)
    assert regions[0].restored_mm2 == pytest.approx(0.8 * 29.3, rel=0.05)


def test_the_reach_stays_away_from_the_far_edge_of_a_thin_neighbour() -> None:
    """A strip 0.9 mm wide: what lies beneath it keeps 0.35 mm from its outer edge."""
    regions = stacked([("#aa0000", box(0, 0, 30, 30)), ("#0000aa", box(30, 0, 30.9, 30))])
    assert regions[0].outline.bounds[2] == pytest.approx(30.55, abs=0.03)


@pytest.mark.parametrize(("area", "kept"), [(0.3, True), (0.03, False)])
def test_what_shows_less_than_the_least_is_left_out(area: float, kept: bool) -> None:
    side = float(np.sqrt(area))
    shapes: list[Painted] = [("#aa0000", box(10, 10, 20, 20)), ("#0000aa", box(10 + side, 0, 40, 40))]
    shapes = [("#aa0000", box(10, 10, 20, 10 + side)), ("#0000aa", box(10 + side, 0, 40, 40))]
    assert ("#aa0000" in [region.colour for region in stacked(shapes)]) == kept


@pytest.mark.parametrize(("ratio", "sinks"), [(1.6, True), (1.1, False)])
def test_a_neighbour_sinks_only_if_it_is_clearly_larger(ratio: float, sinks: bool) -> None:
    small, large = box(0, 0, 20, 20), box(20, 0, 20 + 20 * ratio, 20)
    order = [region.colour for region in stacked([("#aa0000", small), ("#0000aa", large)])]
    assert order == (["#0000aa", "#aa0000"] if sinks else ["#aa0000", "#0000aa"])


def test_what_the_third_above_hides_is_hidden_and_what_the_first_above_hides_too() -> None:
    shapes: list[Painted] = [
        ("#100000", box(0, 0, 30, 30)),
        ("#200000", box(0, 0, 10, 30)),
        ("#300000", box(20, 0, 30, 30)),
    ]
    lowest = stacked(shapes)[0]
    assert lowest.visible.area == pytest.approx(300.0)
    assert lowest.visible.bounds == pytest.approx((10, 0, 20, 30))
