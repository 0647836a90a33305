from __future__ import annotations

import itertools
import re

import numpy as np
import pytest
from crafts import CRAFT, craft
from shapely.geometry import Point, Polygon, box

from pipeline.geometry.polygon import NOTHING, multipolygon
from pipeline.model import Column, Finding, Part, Region, Step, Surface, points
from pipeline.recipes import FABRICS
from pipeline.sequence.colours import ColourOrder, colour_order
from pipeline.sequence.precedence import Flags, followed, overlaps
from pipeline.steps.arrange import arrange
from pipeline.steps.settings import StepSettings


def surface(z: int, colour: str, area: Polygon) -> Surface:
    whole = multipolygon(area)
    region = Region(f"r{z + 1}", f"s{z}", None, z, colour, whole, whole)
    return Surface(region, "base", (), whole, whole, 0.2, 45.0, "made")


def part(z: int, k: int, area: Polygon) -> Part:
    return Part(f"r{z + 1}.{k}", f"r{z + 1}", "tatami", area, (1.0, 5.0, 9.0), NOTHING, 0.2, "made", angle_deg=45.0)


def order(*layers: tuple[str, list[Polygon]], settings: StepSettings | None = None) -> tuple[Step, ...]:
    surfaces = tuple(surface(z, colour, areas[0]) for z, (colour, areas) in enumerate(layers))
    parts = tuple(part(z, k + 1, area) for z, (_, areas) in enumerate(layers) for k, area in enumerate(areas))
    return arrange(parts, surfaces, settings or StepSettings(), CRAFT, lambda f: None)


def changes(steps: tuple[Step, ...]) -> int:
    return sum(one.colour != other.colour for one, other in itertools.pairwise(steps))


def test_what_lies_beneath_is_sewn_before() -> None:
    steps = order(("#a", [box(0, 0, 20, 20)]), ("#b", [box(5, 5, 15, 15)]), ("#a", [box(8, 8, 12, 12)]))
    assert [s.part.id for s in steps] == ["r1.1", "r2.1", "r3.1"]


def test_colours_are_gathered_where_nothing_forbids() -> None:
    stripes = [("#a" if k % 2 else "#b", [box(10 * k, 0, 10 * k + 9, 9)]) for k in range(8)]
    assert changes(order(*stripes)) == 1
    assert changes(order(*stripes, settings=StepSettings(keep_artwork_order=True))) == 7


def test_leaves_come_first_and_the_root_covers_their_joints() -> None:
    body = box(0, 0, 20, 20)
    legs = [box(2, 19.5, 4, 30), box(16, 19.5, 18, 30)]
    foot = box(1, 29.5, 6, 31)
    steps = order(("#a", [body, *legs, foot]))
    ids = [s.part.id for s in steps]
    assert ids[-1] == "r1.1"
    assert ids.index("r1.4") < ids.index("r1.2")
    leg = steps[ids.index("r1.2")]
    assert body.distance(Point(leg.end)) < 0.01
    assert legs[0].distance(Point(leg.start)) < 0.01
    assert 19.4 <= leg.end[1] <= 20.1


def test_a_bar_across_a_ring_is_tied_to_it_where_both_are() -> None:
    """The middle of their two meetings lies in the bar alone: the ring would have to come there over fabric."""
    ring, bar = Point(0, 0).buffer(12).difference(Point(0, 0).buffer(9)), box(-10, -1, 10, 1)
    steps = order(("#a", [ring, bar]))
    end = Point(next(step.end for step in steps if step.part.id == "r1.2"))
    assert max(ring.distance(end), bar.distance(end)) < 0.01


def column(k: int, area: Polygon, left: list[tuple[float, float]], right: list[tuple[float, float]]) -> Part:
    rails = Column(points(left), points(right))
    return Part(f"r1.{k}", "r1", "satin", area, (1.0, 1.0, 1.0), NOTHING, 0.2, "made", column=rails)


@pytest.mark.parametrize(("x", "amid"), [(4.5, True), (0.2, False), (8.8, False)])
def test_a_serif_is_left_at_its_stem(x: float, amid: bool) -> None:
    serif = column(1, box(0, 0, 10, 1), [(0, 0), (10, 0)], [(0, 1), (10, 1)])
    stem = column(2, box(x, 0.5, x + 1.2, 20), [(x + 1.2, 0.5), (x + 1.2, 20)], [(x, 0.5), (x, 20)])
    whole = surface(0, "#a", serif.area.union(stem.area))
    steps = arrange((serif, stem), (whole,), StepSettings(), CRAFT, lambda f: None)
    assert [step.part.id for step in steps] == ["r1.1", "r1.2"]
    assert abs(steps[0].end[0] - (x + 0.6)) <= (0.01 if amid else 1.0)
    assert stem.area.buffer(0.51).covers(Point(steps[0].end))


def brute_force(before: Flags, colour: list[str]) -> int:
    """Fewest changes over all orders, by trying them."""
    best = len(colour)
    for order_ in itertools.permutations(range(len(colour))):
        place = {unit: k for k, unit in enumerate(order_)}
        if all(place[low] < place[high] for high, low in np.argwhere(before).tolist()):
            best = min(best, sum(colour[a] != colour[b] for a, b in itertools.pairwise(order_)))
    return best


def strewn(seed: int, count: int, reach: float, colours: int) -> tuple[list[str], Flags]:
    """Boxes strewn over each other: their colours, and all that must come before what."""
    random = np.random.default_rng(seed)
    areas = [box(x, y, x + 8, y + 8) for x, y in random.uniform(0, reach, (count, 2))]
    hues = [f"#{k}" for k in random.integers(0, colours, count)]
    return hues, followed(overlaps(areas, range(count), 0.02))


@pytest.mark.parametrize("seed", range(12))
def test_fewest_colour_changes_against_brute_force(seed: int) -> None:
    hues, before = strewn(seed, 7, 20.0, 3)
    result = colour_order(hues, before, 400)
    assert result.proved
    assert len(result.stops) - 1 == brute_force(before, hues)


def sewable(result: ColourOrder, hues: list[str], before: Flags) -> bool:
    stop_of = {unit: k for k, stop in enumerate(result.stops) for unit in stop}
    whole = sorted(stop_of) == list(range(len(hues))) and sum(map(len, result.stops)) == len(hues)
    plain = all(len({hues[unit] for unit in stop}) == 1 for stop in result.stops)
    kept = all(
        stop_of[low] < stop_of[high] + (hues[low] == hues[high]) for high, low in np.argwhere(before).tolist()
    )
    return whole and plain and kept


@pytest.mark.parametrize("seed", range(4))
def test_narrow_search_proves_nothing_false(seed: int) -> None:
    hues, before = strewn(seed, 60, 30.0, 6)
    wide, narrow = colour_order(hues, before, 400), colour_order(hues, before, 1)
    assert sewable(wide, hues, before)
    assert sewable(narrow, hues, before)
    assert narrow.lowest <= len(wide.stops) <= len(narrow.stops)
    assert wide.lowest <= len(wide.stops)


def test_names_of_colours_decide_nothing() -> None:
    hues, before = strewn(3, 40, 30.0, 5)
    other = [{"#0": "#9", "#1": "#4", "#2": "#7", "#3": "#1", "#4": "#0"}[hue] for hue in hues]
    assert colour_order(hues, before, 50).stops == colour_order(other, before, 50).stops


def test_order_that_is_not_proved_says_so_with_its_bound() -> None:
    random = np.random.default_rng(5)
    layers = [(f"#{k % 9}", [box(x, y, x + 9, y + 9)]) for k, (x, y) in enumerate(random.uniform(0, 40, (150, 2)))]
    notes: list[Finding] = []
    surfaces = tuple(surface(z, colour, areas[0]) for z, (colour, areas) in enumerate(layers))
    parts = tuple(part(z, 1, areas[0]) for z, (_, areas) in enumerate(layers))
    arrange(parts, surfaces, StepSettings(search_width=1), CRAFT, notes.append)
    assert [finding.code for finding in notes] == ["colour-order-unproved"]
    assert len(re.findall(r"\d+", notes[0].message)) == 2


def test_cap_is_sewn_from_the_middle_outwards() -> None:
    areas = [box(x, 0, x + 4, 4) for x in (0, 30, 60)]
    surfaces = tuple(surface(z, "#a", area) for z, area in enumerate(areas))
    parts = tuple(part(z, 1, area) for z, area in enumerate(areas))
    cap = next(fabric for fabric in FABRICS if fabric.centre_out)
    steps = arrange(parts, surfaces, StepSettings(), craft(cap), lambda f: None)
    assert steps[0].part.id == "r2.1"
