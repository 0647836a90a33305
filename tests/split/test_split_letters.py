"""Letters, lumps and what nothing shows of: what becomes of shapes where a plain rule by width reads badly."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from crafts import CRAFT
from shapely.affinity import rotate, scale, translate
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from pipeline.geometry.polygon import multipolygon
from pipeline.model import Column, Finding, Part, Region, Surface
from pipeline.split import column
from pipeline.split.column import lump_column
from pipeline.split.parts import split
from pipeline.split.settings import SplitSettings

STEM = box(2, 0, 2.8, 7)
SERIFS = shapely.union_all([box(0.6, 0, 4.2, 0.32), box(0.6, 6.68, 4.2, 7)])
LETTER_I = STEM.union(SERIFS)
LETTER_E = shapely.union_all([box(0, 0, 0.6, 4), *(box(0, y, 2.6, y + 0.6) for y in (0, 1.7, 3.4))])


def surface(shape: BaseGeometry, visible: BaseGeometry | None = None) -> Surface:
    outline = multipolygon(shape)
    seen = outline if visible is None else multipolygon(visible)
    region = Region("r3", "sign", None, 2, "#224466", outline, seen, outline.area - seen.area)
    return Surface(region, "base", (), outline, outline, 0.21, 45.0, "on bare fabric")


def parted(place: Surface, settings: SplitSettings | None = None) -> tuple[tuple[Part, ...], list[str]]:
    found: list[Finding] = []
    parts = split((place,), settings or SplitSettings(), CRAFT, found.append)
    return parts, [finding.code for finding in found]


def painted(column: Column) -> BaseGeometry:
    left, right = column.left, column.right
    quads = np.stack([left[:-1], left[1:], right[1:], right[:-1]], axis=1)
    return shapely.union_all(shapely.make_valid(shapely.polygons(quads)))


def test_a_letter_is_satin_throughout_hairline_serifs_included() -> None:
    parts, _ = parted(surface(LETTER_I))
    assert {part.kind for part in parts} == {"satin"}
    assert min(part.width_mm[1] for part in parts) < 0.5


@pytest.mark.parametrize("size", [1.0, 1.4, 2.0])
def test_a_letter_of_one_width_is_of_one_kind(size: float) -> None:
    parts, _ = parted(surface(scale(LETTER_E, size, size, origin=(0, 0))))
    assert {part.kind for part in parts} == {"satin"}


def test_a_long_even_line_of_the_same_width_stays_a_bold_line() -> None:
    parts, _ = parted(surface(box(0, 0, 30, 0.8)))
    assert [part.kind for part in parts] == ["triple run"]


def test_the_letter_rule_is_a_setting() -> None:
    plain = SplitSettings(small_shape_mm=0.0, letter_from_mm=2.0)
    parts, _ = parted(surface(LETTER_E), plain)
    assert {part.kind for part in parts} == {"triple run"}


@pytest.mark.parametrize("angle", [0.0, 25.0, 90.0])
def test_a_serif_with_a_stump_of_its_stem_is_swept_along_the_serif(angle: float) -> None:
    face = rotate(box(0, 0, 4, 0.5).union(box(1.5, 0.5, 2.5, 1.1)), angle)
    column = lump_column(face, SplitSettings())
    assert column is not None
    assert painted(column).intersection(face).area > 0.97 * face.area
    assert painted(column).difference(face).area < 0.03 * face.area


def test_what_no_sweep_covers_is_no_lump() -> None:
    ring = Point(0, 0).buffer(3).difference(Point(0, 0).buffer(2))
    hook = ring.difference(box(-0.4, -4, 0.4, 0))
    assert lump_column(ring, SplitSettings()) is None
    assert lump_column(hook, SplitSettings()) is None


def test_a_blob_on_a_hairline_is_covered() -> None:
    tadpole = LineString([(0, 0), (12, 0)]).buffer(0.18).union(scale(Point(6, 0.5).buffer(1.0), 1.2, 0.8))
    parts, _ = parted(surface(tadpole))
    reach = [
        shapely.union_all([LineString(line.points).buffer(0.5 * part.width_mm[1] + 0.1) for line in part.lines])
        if part.lines
        else part.area
        for part in parts
    ]
    assert shapely.union_all(reach).intersection(tadpole).area > 0.95 * tadpole.area


@pytest.mark.parametrize("radius", [0.36, 0.42, 0.7])
def test_a_dot_is_satin(radius: float) -> None:
    parts, _ = parted(surface(scale(Point(0, 0).buffer(radius, quad_segs=24), 1.0, 0.95)))
    assert [part.kind for part in parts] == ["satin"]


def test_a_rings_stations_do_not_coincide() -> None:
    for segments in (16, 31, 64, 90):
        ring = Point(0, 0).buffer(8, quad_segs=segments).difference(Point(0, 0).buffer(6, quad_segs=segments))
        ((part,), _) = parted(surface(ring))
        assert part.column is not None
        assert part.column.closed
        left, right = (np.vstack([side, side[:1]]) for side in (part.column.left, part.column.right))
        moved = np.hypot(*np.diff(left, axis=0).T) + np.hypot(*np.diff(right, axis=0).T)
        assert moved[-1] > 0.05


def test_a_hidden_thorn_is_cut_off_and_a_visible_one_stays() -> None:
    bar, thorn = box(0, 0, 30, 4), Polygon([(20, 4), (20.7, 4), (22, 7)])
    whole = bar.union(thorn)
    (hidden,), codes = parted(surface(whole, bar))
    assert hidden.area.difference(bar).area < 0.08  # its root is wide enough to be kept
    assert not codes
    shown, _ = parted(surface(whole))
    assert shapely.union_all([part.area for part in shown]).area == pytest.approx(whole.area, rel=1e-3)


def test_corners_stay_where_thorns_are_cut() -> None:
    bar, thorn = box(0, 0, 30, 4), Polygon([(20, 4), (20.7, 4), (22, 7)])
    (part,), _ = parted(surface(bar.union(thorn), box(2, 1, 28, 4)))
    assert part.area.covers(box(0, 0, 2, 2).buffer(-1e-3))


def test_a_limb_is_sewn_if_anything_of_it_shows() -> None:
    """What the artist drew in sight is never dropped as if restoring had made it."""
    body, limb = box(0, 0, 20, 12), box(9, 12, 10.4, 15)
    parts, codes = parted(surface(body.union(limb), body.union(box(9, 14.6, 10.4, 15))))
    assert [part.kind for part in parts] == ["tatami", "satin"]
    assert not codes
    parts, codes = parted(surface(body.union(limb), body))
    assert [part.kind for part in parts] == ["tatami"]
    assert not codes


@pytest.mark.parametrize(
    ("shape", "expected"),
    [
        (LETTER_E, ["lettering-too-small"]),
        (scale(LETTER_E, 1.5, 1.5), []),
        (box(0, 0, 2, 2), []),
        (Point(0, 0).buffer(0.6), []),
    ],
)
def test_small_lettering_is_reported(shape: Polygon, expected: list[str]) -> None:
    _, codes = parted(surface(MultiPolygon([shape, translate(shape, 8, 0)])))
    assert codes == expected


def test_bare_and_foundation_of_a_part_are_within_it() -> None:
    place = surface(LETTER_I)
    half = multipolygon(place.region.outline.intersection(box(0, 0, 10, 3)))
    for bare in (place.region.outline, half, MultiPolygon()):
        parts = parted(replace(place, bare=bare, foundation=bare))[0]
        assert parts
        for part in parts:
            assert part.bare.area == pytest.approx(bare.intersection(part.area).area, abs=1e-4)
            assert part.foundation.equals(part.bare)


def test_the_quick_refusals_of_lumps_change_no_lump(monkeypatch: pytest.MonkeyPatch) -> None:
    chance = np.random.default_rng(20261128)
    faces = []
    for _ in range(60):
        angles = np.sort(chance.uniform(0.0, 2.0 * np.pi, int(chance.integers(5, 14))))
        radii = chance.uniform(0.2, 1.0, len(angles)) * chance.uniform(0.5, 2.5)
        face = Polygon(np.column_stack([np.cos(angles), np.sin(angles)]) * radii[:, None])
        faces.append(scale(face, chance.uniform(1.0, 3.0), 1.0))
    quick = [lump_column(face, SplitSettings()) for face in faces]
    monkeypatch.setattr(column, "_may_cover", lambda *_: True)
    monkeypatch.setattr(column, "swept_mm2", lambda *_: 0.0)
    for one, face in zip(quick, faces, strict=True):
        two = lump_column(face, SplitSettings())
        assert (one is None) == (two is None)
        assert one is None or two is None or np.array_equal(one.left, two.left)
    assert 5 < sum(one is not None for one in quick) < len(faces)
