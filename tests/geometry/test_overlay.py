"""The one door to overlays: plain where that works, on a grid where it does not, an error with a place else."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
import shapely
from shapely.errors import GEOSException
from shapely.geometry import MultiPolygon, Point, Polygon, box

from pipeline.errors import BrokenPromiseError, OverlayError
from pipeline.geometry import overlay

BOWTIE = Polygon([(0, 0), (4, 4), (4, 0), (0, 4)])
NESTED = MultiPolygon([box(0, 0, 10, 10), box(1, 1, 9, 9), BOWTIE])
"""Invalid: GEOS refuses to overlay it, with a place."""
DISC = Point(3, 2).buffer(2.5)
PAIRS: list[tuple[str, Callable[..., Any]]] = [
    (name, getattr(overlay, name)) for name in ("union", "intersection", "difference")
]


def refused(operation: Callable[..., Any], *given: Any) -> bool:
    try:
        operation(*given)
    except GEOSException:
        return True
    return False


@pytest.mark.parametrize(("name", "ours"), PAIRS)
def test_where_geos_works_nothing_changes(name: str, ours: Callable[..., Any]) -> None:
    plain = getattr(shapely, name)
    one, other = np.array([DISC, box(0, 0, 1, 1)]), box(2, 2, 5, 5)
    assert shapely.to_wkb(ours(one, other)).tolist() == shapely.to_wkb(plain(one, other)).tolist()
    assert ours(DISC, other).wkb == plain(DISC, other).wkb


@pytest.mark.parametrize(("name", "ours"), PAIRS)
def test_where_geos_fails_the_shapes_are_mended(name: str, ours: Callable[..., Any]) -> None:
    assert refused(getattr(shapely, name), NESTED, DISC), "the example no longer fails: find another"
    mended = getattr(shapely, name)(box(0, 0, 10, 10), DISC)
    got = ours(NESTED, DISC)
    assert got.is_valid
    assert got.area == pytest.approx(mended.area, abs=1e-3)


def test_of_an_array_only_the_failing_elements_change() -> None:
    one = np.array([[DISC, NESTED], [box(0, 0, 1, 1), DISC]])
    got = overlay.difference(one, box(2, 2, 5, 5))
    assert got.shape == (2, 2)
    for place in ((0, 0), (1, 0), (1, 1)):
        assert got[place].wkb == one[place].difference(box(2, 2, 5, 5)).wkb
    assert got[0, 1].is_valid


def test_union_of_many_is_mended_and_keeps_its_grid() -> None:
    assert refused(shapely.union_all, [NESTED, DISC])
    got = overlay.union_all([NESTED, DISC], grid_size=1e-2)
    corners = shapely.get_coordinates(got) * 100
    assert np.abs(corners - np.rint(corners)).max() < 1e-6
    assert got.area == pytest.approx(box(0, 0, 10, 10).union(DISC).area, abs=0.1)
    assert overlay.union_all([]).is_empty


def test_buffers_have_the_defaults_of_the_geometry_method() -> None:
    assert overlay.buffer(DISC, 0.3).wkb == DISC.buffer(0.3).wkb
    assert overlay.buffer(DISC, -0.3, quad_segs=2).wkb == DISC.buffer(-0.3, quad_segs=2).wkb
    both = overlay.buffer([DISC, box(0, 0, 1, 1)], [0.1, 0.2], join_style="mitre")
    assert both[1].wkb == box(0, 0, 1, 1).buffer(0.2, join_style="mitre").wkb


@pytest.mark.parametrize("by", [0.3, -0.3])
def test_a_buffer_that_loses_the_shape_is_made_again(by: float, monkeypatch: pytest.MonkeyPatch) -> None:
    """As GEOS 3.14.1 shrinks some fine rings to nothing with mitred corners, and says nothing."""
    plain, rounds = shapely.buffer, []

    def forgets(shape: Any, distance: Any, **named: Any) -> Any:
        found = plain(shape, distance, **named)
        rounds.append(np.asarray(found, dtype=object).shape)
        return found if len(rounds) > 2 else np.where(shapely.area(shape) > 10, Polygon(), found)[()]

    monkeypatch.setattr(shapely, "buffer", forgets)
    small, large = overlay.buffer(np.array([box(0, 0, 0.5, 0.5), DISC]), by)
    assert rounds == [(2,), (), ()]
    assert small.wkb == box(0, 0, 0.5, 0.5).buffer(by).wkb if by > 0 else small.is_empty
    assert large.area == pytest.approx(DISC.area + by * DISC.length, rel=0.03)


@pytest.mark.parametrize("join", ["round", "mitre", "bevel"])
def test_no_buffer_is_doubted_that_is_right(join: str) -> None:
    chance = np.random.default_rng(20)
    corners = chance.integers(-90, 90, (150, 8, 2)).astype(float)
    shapes = shapely.make_valid(shapely.polygons(corners))
    for by in (*chance.uniform(0.01, 30.0, 4), *chance.uniform(-30.0, -0.01, 4)):
        plain = shapely.buffer(shapes, by, quad_segs=16, join_style=join)
        assert (
            shapely.to_wkb(overlay.buffer(shapes, by, join_style=join)).tolist() == shapely.to_wkb(plain).tolist()
        )


def test_a_polygonisation_is_joined_to_what_it_came_from() -> None:
    edges = shapely.union_all(shapely.boundary([DISC, box(0, 0, 4, 4), box(2, 1, 3, 9)]))
    faces = shapely.get_parts(shapely.polygonize([edges]))
    assert len(faces) > 5
    assert overlay.joined(faces).symmetric_difference(shapely.union_all(faces)).area < 1e-9
    assert overlay.joined(faces[:0]).is_empty


def test_snapping_moves_nothing_by_more_than_the_coarser_grid(monkeypatch: pytest.MonkeyPatch) -> None:
    grids = []
    plain = shapely.intersection

    def fails_but_on_the_coarser(one: Any, other: Any, grid_size: float | None = None) -> Any:
        grids.append(grid_size)
        if grid_size != overlay.GRIDS_MM[-1]:
            raise GEOSException("TopologyException: side location conflict at 1.5 -2.5e1")
        return plain(one, other, grid_size=grid_size)

    monkeypatch.setattr(shapely, "intersection", fails_but_on_the_coarser)
    got = overlay.intersection(DISC, box(2, 2, 5, 5))
    assert grids[-2:] == list(overlay.GRIDS_MM)
    assert got.hausdorff_distance(plain(DISC, box(2, 2, 5, 5))) <= overlay.GRIDS_MM[-1]


def test_what_cannot_be_mended_says_where(monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*_: Any, **__: Any) -> Any:
        raise GEOSException("TopologyException: side location conflict at 1.5 -2.5e1. Invalid input")

    monkeypatch.setattr(shapely, "difference", fails)
    with pytest.raises(OverlayError, match="side location") as caught:
        overlay.difference(DISC, box(2, 2, 5, 5))
    assert caught.value.where == (1.5, -25.0)
    assert isinstance(caught.value, BrokenPromiseError)


def test_without_a_spot_in_the_message_the_middle_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*_: Any, **__: Any) -> Any:
        raise GEOSException("IllegalArgumentException: no")

    monkeypatch.setattr(shapely, "buffer", fails)
    with pytest.raises(OverlayError) as caught:
        overlay.buffer(box(0, 0, 2, 4), 1.0)
    assert caught.value.where == (1.0, 2.0)


@pytest.mark.parametrize("by", [0.2, 0.6, 1.0])
def test_a_shape_that_geos_shrinks_to_nothing_loses_a_band_along_its_outline(
    by: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As GEOS 3.14 does with some outlines of emoji and mitred corners, on every grid."""
    plain = shapely.buffer
    room = shapely.Polygon([(0, 0), (20, 0), (20, 5), (5, 5), (5, 20), (0, 20)])
    wanted = plain(room, -by)

    def losing(shape: shapely.Geometry, distance: float, **more: object) -> shapely.Geometry:
        return shapely.Polygon() if distance < 0.0 else plain(shape, distance, **more)

    monkeypatch.setattr(shapely, "buffer", losing)
    found = overlay.buffer(room, -by, join_style="mitre")
    assert found.symmetric_difference(wanted).area < 0.05
