"""Outlines of strokes against exact areas; joins, caps and dashes as W3C SVG 2, 13.5 has them."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from pipeline.read.flatten import Track
from pipeline.read.stroke import Pencil, dashed, outlined, too_fine


def _track(spots: list[tuple[float, float]], closed: bool = False) -> Track:
    return Track(np.array(spots, dtype=float), np.ones(len(spots), dtype=bool), closed)


def _area(track: Track, **how: object) -> float:
    plain = {"width": 2.0, "join": "miter", "cap": "butt", "miter_limit": 4.0, "dashes": (), "offset": 0.0}
    pencil = Pencil(**(plain | how))  # type: ignore[arg-type]
    found = outlined(dashed(track, pencil), pencil, 1e-4)
    assert found.is_valid
    return float(found.area)


LINE = _track([(0, 0), (10, 0)])
CORNER = _track([(0, 0), (10, 0), (10, 10)])


@pytest.mark.parametrize(("cap", "more"), [("butt", 0.0), ("square", 4.0), ("round", math.pi)])
def test_caps(cap: str, more: float) -> None:
    assert _area(LINE, cap=cap) == pytest.approx(20 + more, abs=1e-3)


@pytest.mark.parametrize(("join", "more"), [("miter", 1.0), ("bevel", 0.5), ("round", math.pi / 4)])
def test_joins_at_a_right_angle(join: str, more: float) -> None:
    """Two legs of 20, a square of 1 counted twice, and the outside of the corner."""
    assert _area(CORNER, join=join) == pytest.approx(40 - 1 + more, abs=1e-3)


def test_a_miter_beyond_its_limit_is_a_bevel() -> None:
    """A right angle's miter is √2 widths long."""
    assert _area(CORNER, miter_limit=1.41) == pytest.approx(39.5, abs=1e-3)
    assert _area(CORNER, miter_limit=1.42) == pytest.approx(40.0, abs=1e-3)


def test_closed_square_with_every_join() -> None:
    square = _track([(0, 0), (10, 0), (10, 10), (0, 10)], closed=True)
    assert _area(square, join="miter") == pytest.approx(144 - 64, abs=1e-3)
    assert _area(square, join="bevel") == pytest.approx(144 - 64 - 2, abs=1e-3)
    assert _area(square, join="round") == pytest.approx(144 - 64 - 4 + math.pi, abs=1e-3)


def test_a_turn_back_has_no_miter() -> None:
    back = _track([(0, 0), (10, 0), (5, 0)])
    assert _area(back, miter_limit=1e9) == pytest.approx(20, abs=1e-3)


def test_a_smooth_curve_keeps_its_round_outside_with_bevels() -> None:
    turn = np.linspace(0, np.pi, 400)
    spots = np.column_stack([np.cos(turn), np.sin(turn)]) * 3
    corner = np.zeros(400, dtype=bool)
    found = _area(Track(spots, corner, False), join="bevel", width=4.0)
    assert found == pytest.approx(math.pi / 2 * (25 - 1), rel=1e-3)


def test_dots() -> None:
    dot = _track([(5, 5)], closed=True)
    assert _area(dot) == 0
    assert _area(dot, cap="round") == pytest.approx(math.pi, abs=1e-3)
    assert _area(dot, cap="square") == pytest.approx(4)


def test_dashes_are_cut_by_length() -> None:
    pencil = Pencil(2, "miter", "butt", 4, (3.0, 2.0), 0)
    ends = [(float(t.points[0, 0]), float(t.points[-1, 0])) for t in dashed(LINE, pencil)]
    assert ends == [(0, 3), (5, 8)]
    shifted = Pencil(2, "miter", "butt", 4, (3.0, 2.0), 4)
    ends = [(float(t.points[0, 0]), float(t.points[-1, 0])) for t in dashed(LINE, shifted)]
    assert ends == [(1, 4), (6, 9)]


def test_a_dash_keeps_the_corner_that_it_goes_round() -> None:
    (dash,) = dashed(CORNER, Pencil(2, "miter", "butt", 4, (12.0, 100.0), 0))
    assert dash.points.tolist() == [[0, 0], [10, 0], [10, 2]]
    assert bool(dash.corner[1])


def test_dashes_of_a_closed_line_join_over_its_start() -> None:
    square = _track([(0, 0), (10, 0), (10, 10), (0, 10)], closed=True)
    pieces = dashed(square, Pencil(2, "miter", "butt", 4, (10.0, 6.0), 0))
    over = pieces[0].points
    assert over.tolist()[0] == [0, 8]
    assert [0, 0] in over.tolist()
    assert sum(float(shapely.LineString(p.points).length) for p in pieces) == pytest.approx(8 + 10 + 10)


def test_too_fine_a_pattern_is_noticed() -> None:
    assert too_fine(LINE, Pencil(2, "miter", "butt", 4, (1e-7, 1e-7), 0))
    assert not too_fine(LINE, Pencil(2, "miter", "butt", 4, (0.1, 0.1), 0))
