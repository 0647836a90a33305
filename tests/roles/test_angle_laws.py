"""Row angles: largest region first, neighbours apart by 30° or more, then the fewest turns; reckoned anew here."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import shapely
from crafts import CRAFT
from shapely.affinity import rotate, translate
from shapely.geometry import Point, Polygon, box

from pipeline.geometry.polygon import multipolygon
from pipeline.model import Region
from pipeline.roles.angles import angles
from pipeline.roles.assign import assign
from pipeline.roles.settings import RoleSettings

SETTINGS = RoleSettings()
TRIED = np.arange(0.0, 180.0, 15.0)


def regions(areas: list[Polygon]) -> tuple[Region, ...]:
    found = []
    for z, area in enumerate(areas):
        seen = multipolygon(area.difference(shapely.union_all(areas[z + 1 :])))
        found.append(Region(f"r{z + 1}", f"s{z}", None, z, f"#00{z:02x}00", multipolygon(area), seen))
    return tuple(found)


def apart(one: float, other: float) -> float:
    turn = abs(one - other) % 180.0
    return min(turn, 180.0 - turn)


def row_ends(area: Polygon, angle: float) -> int:
    """Pieces of rows 0.2 mm apart, counted by cutting the area with lines."""
    level = rotate(area, angle, origin=(0, 0))  # y is down: turning clockwise on paper lays the rows level
    left, low, right, high = level.bounds
    heights = np.arange(low + 0.1, high, 0.2)
    lines = shapely.linestrings([[(left - 1, h), (right + 1, h)] for h in heights])
    return int(shapely.get_num_geometries(shapely.intersection(lines, level)).sum())


def scattered(seed: int) -> list[Polygon]:
    """Pieces of several sizes and shapes, many of which touch."""
    random = np.random.default_rng(seed)
    found: list[Polygon] = []
    for _ in range(9):
        width, height = random.uniform(4, 22, 2)
        shape = box(0, 0, width, height) if random.random() < 0.6 else Point(0, 0).buffer(width / 2)
        found.append(translate(rotate(shape, float(random.uniform(0, 90))), *random.uniform(0, 40, 2)))
    return found


@pytest.mark.parametrize("seed", range(6))
def test_the_largest_comes_first_and_neighbours_are_apart_where_that_is_possible(seed: int) -> None:
    areas = scattered(seed)
    given = angles(regions(areas), SETTINGS)
    done: list[int] = []
    for k in sorted(range(len(areas)), key=lambda k: -areas[k].area):
        taken = [given[j] for j in done if areas[j].distance(areas[k]) < 0.2]
        most = max((min((apart(angle, other) for other in taken), default=90.0) for angle in TRIED), default=90.0)
        room = min((apart(given[k], other) for other in taken), default=90.0)
        assert room >= min(30.0, most) - 1e-9
        free = [angle for angle in TRIED if all(apart(angle, other) >= min(30.0, most) - 1e-9 for other in taken)]
        fewest = min(row_ends(areas[k], angle) for angle in free)
        assert row_ends(areas[k], given[k]) <= 1.1 * fewest + 2
        done.append(k)


@pytest.mark.parametrize("turn", [0.0, 30.0, 45.0, 120.0])
def test_a_bar_is_sewn_along_its_length(turn: float) -> None:
    bar = rotate(box(0, 0, 60, 9), -turn, origin=(0, 0))  # y down: clockwise on paper is anticlockwise as seen
    assert apart(angles(regions([bar]), SETTINGS)[0], turn) == pytest.approx(0.0, abs=1e-6)


def test_where_all_cost_alike_the_first_angle_wins_in_every_region() -> None:
    discs = [Point(30 * k, 0).buffer(8, quad_segs=32) for k in range(3)]
    assert angles(regions(discs), SETTINGS) == (45.0, 45.0, 45.0)


@pytest.mark.parametrize("gap", [0.0, 0.15])
def test_panels_that_meet_once_sewn_are_neighbours(gap: float) -> None:
    row = [box(20 * k + gap * k, 0, 20 * (k + 1) + gap * k, 20) for k in range(4)]
    given = angles(regions(row), SETTINGS)
    assert all(apart(a, b) >= 30.0 for a, b in itertools.pairwise(given))


def test_panels_a_millimetre_apart_need_not_differ() -> None:
    row = [box(21 * k, 0, 21 * k + 20, 20) for k in range(3)]
    assert len(set(angles(regions(row), SETTINGS))) == 1


@pytest.mark.parametrize("seed", range(4))
def test_bare_is_told_by_what_is_wide_enough_to_carry(seed: int) -> None:
    """Over strips of 0.5 to 1.8 mm: those of a millimetre carry, narrower ones are runs, which support nothing."""
    random = np.random.default_rng(seed)
    widths = np.round(random.permutation([0.5, 0.8, 0.94, 1.0, 1.3, 1.8]), 2)
    strips = [box(0, 6.0 * k, 40, 6.0 * k + w) for k, w in enumerate(widths)]
    panel = box(5, -2, 35, 36)
    top = assign(
        regions([*strips, panel]), RoleSettings(least_saving=1e5, overlap_mm=0.0), CRAFT, lambda finding: None
    )[-1]
    carried = [strip for strip, w in zip(strips, widths, strict=True) if w >= 1.0]
    assert top.bare.area == pytest.approx(panel.difference(shapely.union_all(carried)).area, abs=0.3)
    assert sorted(top.rests_on) == sorted(f"r{k + 1}" for k, w in enumerate(widths) if w >= 1.0)


@pytest.mark.parametrize("hangs", [0.3, 0.9, 2.0, 6.0])
def test_what_hangs_out_gets_foundation_with_its_margin_from_the_least_size_on(hangs: float) -> None:
    lower, upper = box(0, 0, 40, 40), box(30, 10, 40 + hangs, 20)
    surface = assign(
        regions([lower, upper]), RoleSettings(least_saving=1e5, overlap_mm=0.0), CRAFT, lambda f: None
    )[1]
    assert surface.bare.area == pytest.approx(10 * hangs)
    assert surface.role == ("overlay" if hangs < 0.6 else "mixed")
    assert surface.foundation.area == pytest.approx(0.0 if hangs < 0.6 else 10 * (hangs + 0.5), rel=2e-3)
    small = box(30, 10, 40.9, 11.5)
    assert len(assign(regions([lower, small]), SETTINGS, CRAFT, lambda f: None)[1].foundation.geoms) == 1


def test_a_thick_pile_gives_way_first_where_it_rests_on_others() -> None:
    """Four full sheets, three wanted: the base, on fabric, is the last to lose anything."""
    pile = [box(0, 0, 60, 60), box(2, 2, 58, 58), box(4, 4, 56, 56), box(6, 6, 54, 54)]
    found = assign(regions(pile), RoleSettings(least_saving=1e5, overlap_mm=0.0), CRAFT, lambda f: None)
    areas = [surface.region.outline.area for surface in found]
    assert areas[0] == pytest.approx(3600.0)
    assert areas[3] == pytest.approx(48.0**2)
    assert min(areas[1:3]) < 1500.0
    for surface, whole in zip(found, pile, strict=True):
        gone = whole.difference(surface.region.outline)
        above = pile[pile.index(whole) + 1 :]
        assert not above or gone.difference(above[0].buffer(-1.45)).area < 0.05, "a rim stays beneath what hides it"


def test_exactly_the_allowed_number_of_layers_stays_whole_and_one_more_does_not() -> None:
    for count in (3, 4):
        pile = [box(3 * k, 3 * k, 50 - 3 * k, 50 - 3 * k) for k in range(count)]
        found = assign(regions(pile), RoleSettings(least_saving=1e5, overlap_mm=0.0), CRAFT, lambda f: None)
        lost = sum(p.area for p in pile) - sum(s.region.outline.area for s in found)
        assert (lost > 100.0) == (count > 3)


@pytest.mark.parametrize("shared", [0.5, 2.0, 4.0])
def test_what_little_it_lies_on_is_named(shared: float) -> None:
    lower, upper = box(0, 0, 20, 20), box(20 - shared, 5, 40, 6)
    found = assign(regions([lower, upper]), RoleSettings(least_saving=1e5, overlap_mm=0.0), CRAFT, lambda f: None)
    assert found[1].rests_on == ("r1",)
