"""Pieces that touch themselves are made whole."""

from __future__ import annotations

import pytest
from shapely.geometry import Point, Polygon

from pipeline.split.drafts import drafts
from pipeline.split.parts import _mended
from pipeline.split.plain import Draft
from pipeline.split.settings import SplitSettings

RING_AT_A_CORNER = Polygon([(0, 0), (10, 0), (10, 10), (5, 10), (2, 5), (8, 5), (5, 10), (0, 10)])
BOW = Polygon([(0, 0), (10, 10), (10, 0), (0, 10)])


def test_a_pinhole_does_not_make_a_dot_a_run() -> None:
    dot = Point(0, 0).buffer(0.7)
    pricked = dot.difference(Point(0.55, 0).buffer(0.03))
    assert len(pricked.interiors) == 1
    assert [draft.kind for draft in drafts(pricked, SplitSettings())] == ["satin"]


@pytest.mark.parametrize(("area", "size"), [(RING_AT_A_CORNER, 85.0), (BOW, 50.0)])
def test_a_piece_that_touches_itself_becomes_one_valid_polygon(area: Polygon, size: float) -> None:
    assert not area.is_valid
    (mended,) = _mended(Draft("tatami", area, (4.0, 5.0, 10.0)))
    assert mended.area.is_valid
    assert mended.area.area == pytest.approx(size, abs=0.01)


def test_a_fill_that_falls_apart_is_sewn_in_pieces() -> None:
    squares = [(0, 0), (4, 0), (4, 2), (8, 2), (8, 0), (12, 0), (12, 4), (8, 4), (8, 2), (4, 2), (4, 4), (0, 4)]
    pieces = _mended(Draft("tatami", Polygon(squares), (4.0, 4.0, 4.0)))
    assert [piece.area.area for piece in pieces] == pytest.approx([16.0, 16.0], abs=0.01)
    assert all(piece.area.is_valid for piece in pieces)
