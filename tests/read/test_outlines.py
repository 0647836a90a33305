"""Path data, curves to polylines, fill rules: against exact values and the path library's own reading."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from svgelements import Path

from pipeline.read import area, flatten, outline, pathdata


def _area(data: str, rule: area.Rule = "nonzero", tolerance: float = 0.001) -> float:
    found, fault = pathdata.path(data, 10_000)
    assert fault is None
    assert found is not None
    tracks = flatten.tracks(found, found.curves, tolerance)
    return float(area.filled([t.points for t in tracks], rule).area)


def test_full_circle_of_two_arcs() -> None:
    assert _area("M10 50A40 40 0 0 1 90 50A40 40 0 0 1 10 50z") == pytest.approx(math.pi * 1600, rel=1e-4)


def test_arc_radii_grow_until_they_reach() -> None:
    """W3C SVG 2, 9.5.1: radii too small are scaled up; here to a half circle of radius 30."""
    assert _area("M20 50A5 5 0 0 1 80 50z") == pytest.approx(math.pi * 900 / 2, rel=1e-4)


@pytest.mark.parametrize("tolerance", [0.2, 0.02, 0.002])
def test_flattening_keeps_its_promise(tolerance: float) -> None:
    found = outline.ellipse(3, -4, 50, 20)
    assert found is not None
    (track,) = flatten.tracks(found, found.curves, tolerance)
    middle = (track.points + np.roll(track.points, -1, axis=0)) / 2
    inside = np.hypot((middle[:, 0] - 3) / 50, (middle[:, 1] + 4) / 20)
    # The chord's sagitta, from the ellipse's implicit form times the smallest radius: a lower bound of 1 - f.
    assert float((1 - inside).max()) * 20 <= tolerance
    assert len(track.points) < 60 / math.sqrt(tolerance)


def test_flattening_of_random_cubics() -> None:
    """Dense points of the true curve lie within the tolerance of its polyline (seeded)."""
    rng = np.random.default_rng(5)
    t = np.linspace(0, 1, 2001)[:, None]
    for _ in range(50):
        p = rng.uniform(-50, 50, (4, 2))
        text = "M{} {}C{} {} {} {} {} {}".format(*p.ravel())
        found, _ = pathdata.path(text, 10)
        assert found is not None
        (track,) = flatten.tracks(found, found.curves, 0.02)
        true = (1 - t) ** 3 * p[0] + 3 * (1 - t) ** 2 * t * p[1] + 3 * (1 - t) * t * t * p[2] + t**3 * p[3]
        far = shapely.distance(shapely.LineString(track.points), shapely.points(true))
        assert far.max() <= 0.02


def _same_curves(data: str, found: outline.Outline) -> None:
    """Each of the library's segments, at nine places, lies on our curve for it (arcs: on one of their pieces).

    Left out are S after Q and T after C, where the library reflects a point that SVG 2 (9.3.6) doesn't.
    """
    t = np.linspace(0, 1, 1001)[:, None]
    p = found.curves[:, None]
    true = (1 - t) ** 3 * p[:, :, 0] + 3 * (1 - t) ** 2 * t * p[:, :, 1]
    true = true + 3 * (1 - t) * t * t * p[:, :, 2] + t**3 * p[:, :, 3]
    lines = shapely.multilinestrings(shapely.linestrings(true))
    for segment in Path(data):
        kind = type(segment).__name__
        if kind != "Move" and not (segment.smooth if hasattr(segment, "smooth") else False):
            spots = [segment.point(share) for share in np.linspace(0, 1, 9)]
            far = shapely.distance(lines, shapely.points([(s.x, s.y) for s in spots]))
            assert far.max() < 2e-3, (data, kind)


def test_path_data_as_the_library_reads_it() -> None:
    """Seeded random paths: the same points at the ends of all segments as svgelements has."""
    rng = np.random.default_rng(11)
    for _ in range(60):
        parts = ["M 1 2"]
        for letter in rng.choice(list("LlHhVvCcSsQqTtAaZz"), 12):
            count = {"l": 2, "h": 1, "v": 1, "c": 6, "s": 4, "q": 4, "t": 2, "z": 0}.get(letter.lower(), 7)
            values = [f"{v:.2f}" for v in rng.uniform(-20, 20, count)]
            if count == 7:
                values[:2], values[3:5] = ["30", "25"], ["0", "1"]
            parts.append(letter + " ".join(values))
        found, fault = pathdata.path("".join(parts), 1000)
        assert fault is None
        assert found is not None
        _same_curves(" ".join(parts), found)
        ends = [(float(s.end.x), float(s.end.y)) for s in Path(" ".join(parts))]
        mine = {(round(x, 6), round(y, 6)) for x, y in found.curves[:, 3]} | {(1.0, 2.0)}
        assert {(round(x, 6), round(y, 6)) for x, y in ends} <= mine


@pytest.mark.parametrize(
    ("data", "fault", "curves"),
    [
        ("M0 0 L 5 5 hello", "hello", 1),
        ("M0 0 9 9 0 9 h", "h", 2),
        ("M0 0 L 5", "L 5", None),
        ("L 5 5", "L 5 5", None),
        ("M0 0 A 5 5 0 2 1 9 9", "A 5 5 0 2 1 9 9", None),
        ("M0 0 C 1 2 3 4 5 6 7", "7", 1),
    ],
)
def test_path_data_up_to_the_fault(data: str, fault: str, curves: int | None) -> None:
    """W3C SVG 2, 9.3.9: a path is drawn up to the error."""
    found, words = pathdata.path(data, 100)
    assert words == fault
    assert (None if found is None else len(found.curves)) == curves


def test_numbers_out_of_range_are_refused() -> None:
    for data in ("M0 0L1e300 5", "M0 0L1e999 5 9 9"):
        with pytest.raises(ValueError, match="range"):
            pathdata.path(data, 100)
    with pytest.raises(ValueError, match="too many"):
        pathdata.path("M0 0" + "L1 1" * 50, 10)


STAR = "M50 5L79 95L3 39L97 39L21 95z"


def test_fill_rules_on_a_star() -> None:
    """The pentagon in the middle belongs to nonzero only; both areas from the star's own faces."""
    ring = np.array([(50, 5), (79, 95), (3, 39), (97, 39), (21, 95)], dtype=float)
    faces = shapely.polygonize([shapely.node(shapely.LinearRing(ring))])
    inner = max(shapely.get_parts(faces), key=lambda f: f.area * f.contains(shapely.Point(50, 55)))
    both, odd = _area(STAR), _area(STAR, "evenodd")
    assert both - odd == pytest.approx(inner.area, rel=1e-6)
    assert both == pytest.approx(sum(f.area for f in shapely.get_parts(faces)), rel=1e-6)


@pytest.mark.parametrize(
    ("data", "nonzero", "evenodd"),
    [
        ("M0 0H30V30H0z M10 10V20H20V10z", 800, 800),
        ("M0 0H30V30H0z M10 10H20V20H10z", 900, 800),
        ("M0 0H30V30H0z M5 5H25V25H5z M10 10H20V20H10z", 900, 600),
        ("M0 0H20V20H0z M10 10H30V30H10z", 700, 600),
        ("M0 0H10V10H0z M10 0H20V10H10z", 200, 200),
        ("M0 0H10V10H0z M0 0H10V10H0z", 100, 0),
        ("M0 0L10 10L10 0L0 10z", 50, 50),
        ("M0 0H10V10H0z M20 0H30V10H20z M40 0L41 1L42 2z", 200, 200),
    ],
)
def test_fill_rules(data: str, nonzero: float, evenodd: float) -> None:
    assert _area(data) == pytest.approx(nonzero, abs=1e-3)
    assert _area(data, "evenodd") == pytest.approx(evenodd, abs=1e-3)


def test_areas_of_random_scribbles_are_valid() -> None:
    """Seeded self-crossing rings, many points twice: always a valid area, evenodd never above nonzero."""
    rng = np.random.default_rng(3)
    for _ in range(60):
        ring = np.round(rng.uniform(0, 6, (int(rng.integers(3, 40)), 2)))
        one, two = area.filled([ring, ring[::-1] + 1], "nonzero"), area.filled([ring, ring[::-1] + 1], "evenodd")
        assert one.is_valid
        assert two.is_valid
        assert two.difference(one.buffer(1e-5)).area < 1e-6


def test_a_tangle_is_refused() -> None:
    n = 3000
    ring = np.array([((i * 7919) % 100, (i * 104729) % 97) for i in range(n)], dtype=float)
    with pytest.raises(ValueError, match="crosses itself too often"):
        area.filled([ring], "evenodd")
    turn = np.linspace(0, 2 * np.pi, 20_000, endpoint=False)
    wave = np.column_stack([np.cos(turn), np.sin(turn)]) * (50 + 5 * np.sin(400 * turn))[:, None]
    area.refuse_tangle([wave])
