"""Genuine windows stay open: the fabric is meant to show through them."""

from __future__ import annotations

import itertools
from pathlib import Path

import numpy as np
import pytest
import shapely
from crafts import CRAFT
from hypothesis import given, settings, strategies as st
from shapely import affinity
from shapely.geometry import MultiPolygon, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from pipeline.geometry.polygon import multipolygon
from pipeline.model import Drawing, Region, Shape
from pipeline.read.reading import read_drawing
from pipeline.read.settings import ReadSettings
from pipeline.regions.settings import RegionSettings
from pipeline.regions.stack import cut_out, stack
from pipeline.roles.assign import assign
from pipeline.roles.settings import RoleSettings

ARTWORK = Path(__file__).parents[2] / "artwork"


def wheel(spokes: int) -> BaseGeometry:
    """A rim with spokes and a hub."""
    rim = Point(0, 0).buffer(20).difference(Point(0, 0).buffer(16))
    arms = [affinity.rotate(box(-1, 0, 1, 17), 360 / spokes * k, origin=(0, 0)) for k in range(spokes)]
    return shapely.union_all([rim, Point(0, 0).buffer(4), *arms])


def frame(panes: int) -> BaseGeometry:
    """A window frame with panes side by side."""
    return box(0, 0, 12 * panes + 3, 20).difference(
        shapely.union_all([box(12 * k + 3, 3, 12 * k + 12, 17) for k in range(panes)])
    )


LETTERS: dict[str, BaseGeometry] = {
    "O": Point(0, 0).buffer(8).difference(Point(0, 0).buffer(5)),
    "D": box(0, 0, 10, 16).difference(box(3, 3, 7, 13)),
    "A": Polygon([(0, 20), (8, 0), (16, 20)]).difference(Polygon([(6, 13), (8, 7), (10, 13)])),
    "B": box(0, 0, 10, 18).difference(box(3, 3, 7, 7)).difference(box(3, 11, 7, 15)),
    "P": box(0, 0, 10, 10).union(box(0, 0, 3, 20)).difference(box(3, 3, 7, 7)),
    "8": Point(0, 0).buffer(6).union(Point(0, 11).buffer(6)).difference(Point(0, 0).buffer(3)),
}
WINDOWS: dict[str, BaseGeometry] = {
    **{f"ring {k}": Point(0, 0).buffer(20).difference(Point(0, 0).buffer(k)) for k in (4, 10, 15, 18)},
    **{f"wheel {k}": wheel(k) for k in (3, 4, 6, 8)},
    **{f"frame {k}": frame(k) for k in (1, 2, 3)},
    **{f"letter {name}": shape for name, shape in LETTERS.items()},
}


def contents(shape: BaseGeometry) -> dict[str, list[BaseGeometry]]:
    """What may lie in or across a window without filling it."""
    hole = Polygon(max(multipolygon(shape).geoms[0].interiors, key=lambda ring: Polygon(ring).area))
    middle = hole.representative_point()
    return {
        "nothing": [],
        "a small piece": [middle.buffer(np.sqrt(hole.area) / 5)],
        "most of it": [hole.buffer(-0.5)],
        "a bar across": [affinity.translate(box(-40, -0.7, 40, 0.7), middle.x, middle.y)],
    }


CASES = [
    pytest.param(shape, pieces, id=f"{name}, {what}")
    for name, shape in WINDOWS.items()
    for what, pieces in contents(shape).items()
]


def sewn(*areas: BaseGeometry) -> tuple[Region, ...]:
    shapes = tuple(Shape(f"s{k}", None, f"#00000{k}", multipolygon(area)) for k, area in enumerate(areas))
    return stack(Drawing("made", "0" * 64, 100.0, 100.0, shapes), RegionSettings(), lambda f: None)


def test_enough_windows() -> None:
    assert len(CASES) >= 60


@pytest.mark.parametrize(("shape", "pieces"), CASES)
@pytest.mark.parametrize("piece_first", [False, True])
def test_window_stays_open(shape: BaseGeometry, pieces: list[BaseGeometry], piece_first: bool) -> None:
    order = [*pieces, shape] if piece_first else [shape, *pieces]
    regions = sewn(*order)
    owner = next(r for r in regions if r.element == f"s{len(pieces) if piece_first else 0}")
    before = sum(len(p.interiors) for p in multipolygon(shape).geoms)
    assert sum(len(p.interiors) for p in owner.outline.geoms) >= before
    assert owner.outline.difference(multipolygon(shape)).area <= 0.2 * sum((p.area for p in pieces), 0.0) + 1e-6


def test_window_filled_only_by_the_page_stays_open(tmp_path: Path) -> None:
    file = tmp_path / "page.svg"
    file.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="60mm" viewBox="0 0 60 60">'
        '<rect width="60" height="60" fill="#fff"/>'
        '<path fill-rule="evenodd" fill="#123" d="M5 5h50v50h-50zM20 20h20v20h-20z"/></svg>'
    )
    drawing = read_drawing(file, ReadSettings(), lambda f: None)
    (region,) = stack(drawing, RegionSettings(), lambda f: None)
    assert region.outline.area == pytest.approx(2500 - 400, rel=1e-3)


def test_lifebuoys_window_stays_open() -> None:
    drawing = read_drawing(ARTWORK / "lifebuoy-ring.svg", ReadSettings(), lambda f: None)
    regions = stack(drawing, RegionSettings(), lambda f: None)
    assert not shapely.union_all([r.outline for r in regions]).covers(
        Point(drawing.width_mm / 2, drawing.height_mm / 2)
    )


def seen(regions: tuple[Region, ...]) -> dict[str, BaseGeometry]:
    shown: dict[str, BaseGeometry] = {}
    above: BaseGeometry = MultiPolygon()
    for region in reversed(regions):
        shown[region.colour] = shown.get(region.colour, MultiPolygon()).union(region.outline.difference(above))
        above = above.union(region.outline)
    return shown


blobs = st.lists(
    st.tuples(st.integers(5, 55), st.integers(5, 55), st.integers(2, 18), st.integers(0, 3), st.booleans()),
    min_size=1,
    max_size=9,
)


@settings(max_examples=60, deadline=None)
@given(blobs)
def test_picture_roles_and_order_hold_for_any_stack(items: list[tuple[int, int, int, int, bool]]) -> None:
    """Visible picture unchanged; bare and supported make up the region; what rests on what never runs in a ring."""
    shapes = []
    for k, (x, y, r, colour, round_) in enumerate(items):
        area = Point(x, y).buffer(r, quad_segs=6) if round_ else box(x - r, y - r, x + r, y + r)
        shapes.append(Shape(f"s{k}", None, f"#00000{colour}", multipolygon(area)))
    before = tuple(Region(s.element, s.element, None, z, s.colour, s.area, s.area) for z, s in enumerate(shapes))
    regions = stack(Drawing("made", "0" * 64, 60.0, 60.0, tuple(shapes)), RegionSettings(), lambda f: None)
    one, other = seen(before), seen(regions)
    for colour in {*one, *other}:
        nothing = MultiPolygon()
        assert one.get(colour, nothing).symmetric_difference(other.get(colour, nothing)).area < 0.3
    height = {region.id: region.z for region in regions}
    for surface in assign(regions, RoleSettings(), CRAFT, lambda f: None):
        assert surface.bare.difference(surface.region.outline).area < 1e-3
        assert all(height[below] < surface.region.z for below in surface.rests_on)
    pieces = cut_out(regions)
    for a, b in itertools.combinations(pieces, 2):
        assert a.outline.intersection(b.outline).area < 1e-2
