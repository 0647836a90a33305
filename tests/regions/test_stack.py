from __future__ import annotations

import pytest
import shapely
from shapely.geometry import MultiPolygon, Point, Polygon, box

from pipeline.errors import ArtworkError
from pipeline.geometry.polygon import multipolygon
from pipeline.model import Drawing, Finding, Region, Shape
from pipeline.regions.settings import RegionSettings
from pipeline.regions.stack import cut_out, stack


def drawing(*shapes: tuple[str, Polygon | MultiPolygon]) -> Drawing:
    made = tuple(Shape(f"s{k}", None, colour, multipolygon(area)) for k, (colour, area) in enumerate(shapes))
    return Drawing("made", "0" * 64, 100.0, 100.0, made)


def layers(*shapes: tuple[str, Polygon | MultiPolygon]) -> tuple[tuple[Region, ...], list[Finding]]:
    findings: list[Finding] = []
    return stack(drawing(*shapes), RegionSettings(), findings.append), findings


def picture(regions: tuple[Region, ...]) -> dict[str, MultiPolygon]:
    """The area that each colour shows once the outlines are painted in order."""
    shown: dict[str, MultiPolygon] = {}
    above = MultiPolygon()
    for region in reversed(regions):
        seen = region.outline.difference(above)
        shown[region.colour] = shown.get(region.colour, MultiPolygon()).union(seen)
        above = above.union(region.outline)
    return shown


SQUARE = box(0, 0, 40, 40)
DISC = Point(20, 20).buffer(8)


def test_lower_region_stays_whole() -> None:
    regions, findings = layers(("#ff0000", SQUARE), ("#0000ff", DISC))
    assert [r.outline.area for r in regions] == pytest.approx([1600.0, DISC.area])
    assert regions[0].visible.area == pytest.approx(1600 - DISC.area)
    assert not findings


def test_hidden_shape_is_left_out_and_named() -> None:
    regions, findings = layers(("#ff0000", DISC), ("#0000ff", SQUARE))
    assert [r.element for r in regions] == ["s1"]
    assert [f.code for f in findings] == ["hidden-shape"]
    assert "s0" in findings[0].message


def test_touching_shapes_of_one_colour_are_one_region() -> None:
    regions, _ = layers(("#ff0000", box(0, 0, 10, 10)), ("#ff0000", box(10, 0, 20, 10)))
    assert len(regions) == 1
    assert regions[0].outline.area == pytest.approx(200.0)


def test_same_colour_stays_apart_where_something_lies_between() -> None:
    regions, _ = layers(("#ff0000", SQUARE), ("#0000ff", DISC), ("#ff0000", Point(20, 20).buffer(4)))
    assert [r.colour for r in regions] == ["#ff0000", "#0000ff", "#ff0000"]


@pytest.mark.parametrize("insert_first", [False, True])
def test_filled_cut_out_is_closed_and_its_piece_lies_on_top(insert_first: bool) -> None:
    ring = ("#ff0000", SQUARE.difference(DISC))
    disc = ("#0000ff", DISC)
    regions, _ = layers(*((disc, ring) if insert_first else (ring, disc)))
    assert [r.colour for r in regions] == ["#ff0000", "#0000ff"]
    assert regions[0].outline.area == pytest.approx(1600.0, rel=1e-6)
    assert regions[0].restored_mm2 == pytest.approx(DISC.area, rel=1e-6)


@pytest.mark.parametrize("slack", [-0.1, 0.1])
@pytest.mark.parametrize("insert_first", [False, True])
def test_exporters_gap_and_overlap_do_not_hinder_restoring(slack: float, insert_first: bool) -> None:
    ring = ("#ff0000", SQUARE.difference(DISC))
    disc = ("#0000ff", DISC.buffer(slack))
    regions, _ = layers(*((disc, ring) if insert_first else (ring, disc)))
    assert regions[0].outline.area == pytest.approx(1600.0, rel=1e-6)


def test_nested_cut_outs_are_all_closed() -> None:
    inner = Point(20, 20).buffer(4)
    regions, _ = layers(
        ("#ff0000", SQUARE.difference(DISC)), ("#0000ff", DISC.difference(inner)), ("#00ff00", inner)
    )
    assert [r.outline.area for r in regions] == pytest.approx([1600.0, DISC.area, inner.area], rel=1e-6)


def test_window_stays_open() -> None:
    regions, _ = layers(("#ff0000", SQUARE.difference(DISC)), ("#0000ff", Point(20, 20).buffer(5)))
    assert len(regions[0].outline.geoms[0].interiors) == 1


def test_ring_on_the_layer_seen_through_it_is_no_cut_out() -> None:
    ring = DISC.difference(Point(20, 20).buffer(5))
    regions, _ = layers(("#ff0000", SQUARE), ("#0000ff", ring))
    assert [r.outline.area for r in regions] == pytest.approx([1600.0, ring.area])


def test_abutting_neighbour_reaches_under_along_the_border_only() -> None:
    left, right = box(0, 0, 20, 20), box(20, 5, 40, 15)
    regions, _ = layers(("#ff0000", left), ("#0000ff", right))
    grown = regions[0].outline.difference(left)
    assert grown.area == pytest.approx((10 - 2 * 0.35) * 0.8, rel=0.02)
    assert right.buffer(1e-6).covers(grown)


def test_no_pass_changes_the_picture() -> None:
    shapes = [
        ("#ff0000", SQUARE.difference(DISC)),
        ("#0000ff", DISC),
        ("#00ff00", box(15, 15, 60, 25)),
        ("#ff0000", box(38, 0, 50, 18)),
        ("#ffff00", box(60, 10, 70, 30)),
    ]
    before = picture(
        tuple(Region(str(k), "e", None, k, c, multipolygon(a), multipolygon(a)) for k, (c, a) in enumerate(shapes))
    )
    regions, _ = layers(*shapes)
    after = picture(regions)
    assert len(before) == len(after) == 4
    for colour, area in before.items():
        assert area.symmetric_difference(after[colour]).area < 1e-6


def test_nothing_painted_is_refused() -> None:
    with pytest.raises(ArtworkError, match="nothing is painted"):
        stack(drawing(), RegionSettings(), lambda f: None)


def test_cut_out_is_what_shows() -> None:
    regions, _ = layers(("#ff0000", SQUARE), ("#0000ff", DISC))
    pieces = cut_out(regions)
    assert shapely.area(pieces[0].outline) == pytest.approx(1600 - DISC.area)


def test_cut_out_letter_is_closed_with_its_counter() -> None:
    letter = DISC.difference(Point(20, 20).buffer(4))
    regions, _ = layers(("#ff0000", SQUARE.difference(letter)), ("#0000ff", letter))
    assert [r.outline.area for r in regions] == pytest.approx([1600.0, letter.area], rel=1e-6)


def test_piece_in_the_colour_of_the_ground_stays_the_overlay_that_it_was_delivered_as() -> None:
    letter, dot = DISC.difference(Point(20, 20).buffer(4)), Point(20, 20).buffer(4)
    regions, _ = layers(("#ff0000", SQUARE.difference(DISC)), ("#0000ff", letter), ("#ff0000", dot))
    assert [r.outline.area for r in regions] == pytest.approx([1600.0, DISC.area, dot.area], rel=1e-6)


def test_thin_line_between_the_pieces_of_a_hole_is_not_hidden() -> None:
    """A line narrower than the exporters' gap, delivered lower, must still show once the hole is closed."""
    line = box(12, 19.95, 28, 20.05).intersection(DISC)
    ring, upper = SQUARE.difference(DISC), DISC.difference(line)
    regions, _ = layers(("#000000", line), ("#ff0000", ring), ("#0000ff", upper))
    assert picture(regions)["#000000"].area == pytest.approx(line.area, rel=1e-3)


def test_larger_of_two_abutting_regions_goes_beneath_whatever_the_order() -> None:
    small, large = box(40, 10, 50, 20), SQUARE
    for shapes in ((("#0000ff", small), ("#ff0000", large)), (("#ff0000", large), ("#0000ff", small))):
        regions, _ = layers(*shapes)
        assert [r.colour for r in regions] == ["#ff0000", "#0000ff"]
        assert regions[0].restored_mm2 > 5.0
        assert regions[1].outline.area == pytest.approx(100.0)


def test_even_stripes_keep_the_artworks_order() -> None:
    stripes = [(f"#0000{k}0", box(0, 10 * k, 60, 10 * k + 10)) for k in (2, 0, 1)]
    regions, _ = layers(*stripes)
    assert [r.colour for r in regions] == [colour for colour, _ in stripes]


def test_region_never_sinks_past_one_that_it_covers() -> None:
    lower, beside, upper = box(0, 0, 20, 20), box(50, 0, 55, 5), box(10, 0, 50, 40)
    regions, _ = layers(("#ff0000", lower), ("#00ff00", beside), ("#0000ff", upper))
    assert [r.colour for r in regions] == ["#ff0000", "#0000ff", "#00ff00"]
    assert picture(regions)["#ff0000"].area == pytest.approx(200.0, rel=1e-4)
