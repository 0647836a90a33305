from __future__ import annotations

import itertools

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from pipeline.geometry.polygon import NOTHING, multipolygon
from pipeline.model import Part, Region, Step, Surface
from pipeline.recipes import FABRICS
from pipeline.steps import arrange
from pipeline.steps.colours import colour_order, precedence
from pipeline.steps.settings import StepSettings
from pipeline.steps.units import units


def surface(z: int, colour: str, area: Polygon) -> Surface:
    whole = multipolygon(area)
    region = Region(f"r{z + 1}", f"s{z}", None, z, colour, whole, whole)
    return Surface(region, "base", (), whole, whole, 0.2, 45.0, "made")


def part(z: int, k: int, area: Polygon) -> Part:
    return Part(f"r{z + 1}.{k}", f"r{z + 1}", "tatami", area, (1.0, 5.0, 9.0), NOTHING, 0.2, "made", angle_deg=45.0)


def order(*layers: tuple[str, list[Polygon]], settings: StepSettings | None = None) -> tuple[Step, ...]:
    surfaces = tuple(surface(z, colour, areas[0]) for z, (colour, areas) in enumerate(layers))
    parts = tuple(part(z, k + 1, area) for z, (_, areas) in enumerate(layers) for k, area in enumerate(areas))
    return arrange(parts, surfaces, settings or StepSettings(), FABRICS[0], lambda f: None)


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
    assert body.buffer(0.1).covers(Polygon(box(0, 0, 1, 1)))
    assert 19.4 <= leg.end[1] <= 20.1


def brute_force(found: int, before: list[int], colour: list[str]) -> int:
    """Fewest changes over all orders, by trying them."""
    best = found
    for order_ in itertools.permutations(range(found)):
        done = 0
        for unit in order_:
            if before[unit] & ~done:
                break
            done |= 1 << unit
        else:
            best = min(best, sum(colour[a] != colour[b] for a, b in itertools.pairwise(order_)))
    return best


@pytest.mark.parametrize("seed", range(12))
def test_fewest_colour_changes_against_brute_force(seed: int) -> None:
    random = np.random.default_rng(seed)
    corners = random.uniform(0, 20, (7, 2))
    layers = [(str(random.choice(["#a", "#b", "#c"])), box(x, y, x + 8, y + 8)) for x, y in corners]
    parts = tuple(part(z, 1, area) for z, (_, area) in enumerate(layers))
    colours = {f"r{z + 1}": colour for z, (colour, _) in enumerate(layers)}
    found = units(parts, colours, {f"r{z + 1}": z for z in range(len(layers))})
    before = precedence(found, 0.02)
    result = colour_order(found, before, 400)
    assert result.proved
    assert len(result.stops) - 1 == brute_force(len(found), before, [unit.colour for unit in found])


def test_narrow_search_says_that_it_proves_nothing() -> None:
    random = np.random.default_rng(5)
    layers = [(f"#{k % 6}", box(x, y, x + 9, y + 9)) for k, (x, y) in enumerate(random.uniform(0, 30, (40, 2)))]
    parts = tuple(part(z, 1, area) for z, (_, area) in enumerate(layers))
    colours = {f"r{z + 1}": colour for z, (colour, _) in enumerate(layers)}
    found = units(parts, colours, {f"r{z + 1}": z for z in range(len(layers))})
    wide = colour_order(found, precedence(found, 0.02), 400)
    narrow = colour_order(found, precedence(found, 0.02), 1)
    assert not narrow.proved
    assert len(wide.stops) <= len(narrow.stops)


def test_cap_is_sewn_from_the_middle_outwards() -> None:
    areas = [box(x, 0, x + 4, 4) for x in (0, 30, 60)]
    surfaces = tuple(surface(z, "#a", area) for z, area in enumerate(areas))
    parts = tuple(part(z, 1, area) for z, area in enumerate(areas))
    cap = next(fabric for fabric in FABRICS if fabric.centre_out)
    steps = arrange(parts, surfaces, StepSettings(), cap, lambda f: None)
    assert steps[0].part.id == "r2.1"
