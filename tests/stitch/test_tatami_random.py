"""Invariants of fills over random polygons; a failing shape is shrunk by hypothesis."""

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon

from pipeline.stitch.tatami import fill
from pipeline.stitch.tatami_settings import TatamiSettings

SETTINGS = TatamiSettings()
PLACES = st.tuples(st.floats(0, 20), st.floats(0, 20))


@st.composite
def polygons(draw: st.DrawFn) -> Polygon:
    """A star-shaped outline with random reach, less some discs and slits."""
    reach = draw(st.lists(st.floats(1.0, 10.0), min_size=3, max_size=24))
    turn = np.linspace(0, 2 * np.pi, len(reach), endpoint=False)
    shape = Polygon(np.column_stack([10 + reach * np.cos(turn), 10 + reach * np.sin(turn)])).buffer(0)
    for place, radius in draw(st.lists(st.tuples(PLACES, st.floats(0.05, 2.5)), max_size=4)):
        shape = shape.difference(Point(place).buffer(radius))
    for a, b in draw(st.lists(st.tuples(PLACES, PLACES), max_size=2)):
        shape = shape.difference(LineString([a, b]).buffer(draw(st.floats(0.001, 0.2))))
    parts = [p for p in getattr(shape, "geoms", [shape]) if p.area > 1e-3]
    return max(parts, key=lambda p: p.area) if parts else Point(10, 10).buffer(1)


@settings(max_examples=80, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(polygons(), st.floats(0, 179.9), st.integers(0, 1000), st.integers(0, 1000), st.floats(0, 0.4))
def test_any_polygon_is_filled_in_one_thread(
    area: Polygon, angle: float, first: int, last: int, pull: float
) -> None:
    ring = area.exterior.coords
    start, end = ring[first % len(ring)], ring[last % len(ring)]
    line, kind = fill(area, angle, 0.2, 4.0, pull, start, end, SETTINGS)
    assert len(line) == len(kind)
    assert np.isfinite(line).all()
    assert tuple(line[0]) == start
    assert tuple(line[-1]) == end
    lengths = np.hypot(*np.diff(np.round(line, 1), axis=0).T)
    assert lengths.max(initial=0.0) <= 7.0
    assert lengths[:-1].min(initial=1.0) >= 0.5 - 1e-6
    open_ = area.difference(LineString(line).buffer(0.225))
    assert open_.buffer(-0.25).area < 0.01
    assert open_.area <= 0.02 * area.area + 0.3
    wide = area.buffer(0.25 + pull)
    assert LineString(line).difference(wide).length <= 0.005 * lengths.sum() + 1.5
